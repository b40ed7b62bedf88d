"""A rule set: treatments with their limits, pressure goals and waiting times, every number with its source.

The numbers are data (``rule_sets/*.toml``); this file says what kinds of rule there are and reads none of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dosing.facts import Amount

if TYPE_CHECKING:
    from dosing.units import Quantity

SHIPPED = Path(__file__).parent / "rule_sets"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number comes from; ``mark`` is ``read``, ``second-hand``, ``memory`` or ``our choice``."""

    id: str
    text: str
    mark: str


@dataclass(frozen=True, slots=True)
class Figure:
    """One plain number with its unit (may be empty) and its source."""

    value: float
    unit: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One bound of a dose: an amount, perhaps per kg, held between ``at_least`` and ``at_most``.

    The ``exact_`` fields are the same amounts as exact quantities, made once when the rule set is read.
    """

    amount: Amount
    source: Source
    at_most: Amount | None = None
    at_least: Amount | None = None
    exact: Quantity = field(repr=False, compare=False)
    exact_most: Quantity | None = field(default=None, repr=False, compare=False)
    exact_least: Quantity | None = field(default=None, repr=False, compare=False)
    per_kg: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Whom a band of limits is for; what is left out does not restrict. ``weight`` is ``known`` or ``unknown``."""

    who: str | None = None
    impressions: frozenset[str] = frozenset()
    weight: str | None = None
    from_kg: float | None = None
    under_kg: float | None = None
    from_days: float | None = None
    under_days: float | None = None
    below_goal: bool | None = None
    bleeding_causes: frozenset[str] = frozenset()
    source: Source | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Limits for some patients; of the bands that fit a patient the last one that states a limit decides it.

    ``by_order`` is the reason why these patients need an order for any dose at all, ``not_covered`` why the
    standing limits do not reach their age.
    """

    where: Where
    least: Limit | None = None
    guide: Limit | None = None
    most: Limit | None = None
    hard: Limit | None = None
    total: Limit | None = None
    total_guide: Limit | None = None
    total_hard: Limit | None = None
    count: Figure | None = None
    by_order: Caution | None = None
    not_covered: Caution | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A sentence to show beside a treatment; where ``where`` is given, for those patients only."""

    text: str
    source: Source
    where: Where | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """A strength that is stocked or mixed, such as 0.1 ``mg/mL``."""

    amount: Amount
    source: Source
    exact: Quantity = field(repr=False, compare=False)
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a recipe: ``add`` or ``expel`` a volume of a fluid of some strength, or ``do`` what the text says."""

    action: str
    text: str
    volume: Amount | None = None
    strength: Amount | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How a syringe is prepared: each way is a list of steps that ends at the strength ``makes``.

    ``nominal`` says that the label rounds the exact strength by at most 1 %.
    """

    stock: Strength
    makes: Strength
    ways: Mapping[str, tuple[Step, ...]]
    source: Source
    nominal: bool = False
    notes: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """A sign that should be there before the treatment: a measurement ``below`` or ``from_`` a value, or a history."""

    text: str
    source: Source
    measurement: str = ""
    below: float | None = None
    at_least: float | None = None
    below_by_who: Mapping[str, float] = field(default_factory=dict)
    history: str = ""
    not_impressions: frozenset[str] = frozenset()
    opens: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A treatment that is useful only for ``minutes`` after the onset, for bleeding of some causes."""

    minutes: float
    causes: frozenset[str]
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class ReassessmentRule:
    """The reading that a treatment asks for.

    Due ``due_min`` after it was given (``counts_from_end``: after its end, ``max_min`` after its start at the latest),
    overdue ``grace_s`` later; a reading counts from ``counts_from_min`` on, or from the end.
    """

    due_min: float
    grace_s: float
    needs: tuple[str, ...]
    counts_from_min: float = 0
    counts_from_end: bool = False
    max_min: float | None = None
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """A count that another treatment uses up too, and how many bags of blood open the next one."""

    treatments: frozenset[str] = frozenset()
    per_bags: float | None = None
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """One treatment: what it is, who may give how much of it, how it is prepared and what follows.

    ``drug_class`` is ``pressor``, ``sedative``, ``fluid``, ``blood`` or ``other``; ``form`` is ``push``, ``bolus``,
    ``infusion`` or ``im``; ``units`` are the kinds of unit in which it is stated, by ``adult`` and ``child``.
    """

    slug: str
    title: str
    drug: str
    drug_class: str
    form: str
    routes: frozenset[str]
    unit: str
    units: Mapping[str, frozenset[str]]
    bands: tuple[Band, ...]
    source: Source
    interval: Figure | None = None
    shortest: Figure | None = None
    within: Figure | None = None
    stocks: tuple[Strength, ...] = ()
    concentrations: tuple[Strength, ...] = ()
    recipe: Recipe | None = None
    reassessment: ReassessmentRule | None = None
    starts_by_order: Source | None = None
    bag: Figure | None = None
    elemental: Figure | None = None
    count_by_volume: bool = False
    shared: Shared | None = None
    window: Window | None = None
    wants: tuple[Wants, ...] = ()
    flags: frozenset[str] = frozenset()
    never_gated_in: frozenset[str] = frozenset()
    allergens: frozenset[str] = frozenset()
    relevant: frozenset[str] = frozenset()
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalRule:
    """A pressure goal and for whom: of the rules of one measure the first that fits decides.

    ``adult`` None fits all ages; ``injuries`` fits where one of them is there, ``without_injuries`` where none is.
    """

    name: str
    measure: str
    floor: float
    because: str
    source: Source
    adult: bool | None = None
    ceiling: float | None = None
    impressions: frozenset[str] = frozenset()
    injuries: frozenset[str] = frozenset()
    without_injuries: frozenset[str] = frozenset()
    bleeding_causes: frozenset[str] = frozenset()
    from_years: float | None = None
    under_years: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRule:
    """Limits of pressure in mmHg and how long a reading stays fresh, in minutes; ``grace_s`` on dose intervals."""

    critical_map: float
    critical_sbp: float
    critical_under_goal: float
    usual_map_floor: float
    usual_map_ceiling: float
    well_above: float
    stale_pressor_min: float
    stale_min: float
    grace_s: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRule:
    """When a case needs a person: waiting times and what counts as a falling pressure."""

    no_contact_min: float
    waiting_s: float
    low_in_a_row: float
    clear_above_goal: float
    falling_readings: float
    falling_span_min: float
    falling_window_min: float
    falling_slope: float
    falling_share: float
    falling_crossing_min: float
    falling_after_push_min: float
    order_single_min: float
    order_repeat_min: float
    response_window_min: float
    response_map: float
    response_pulse_pressure_percent: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, kw_only=True)
class RuleSet:
    """All rules of one edition; ``digest`` is the SHA-256 of their canonical content."""

    name: str
    version: str
    title: str
    digest: str
    goals: tuple[GoalRule, ...]
    treatments: Mapping[str, Treatment]
    pressure: PressureRule
    watch: WatchRule
    findings: Mapping[str, Source]
    sources: Mapping[str, Source]
    tall_man: Mapping[str, str]
    flow: Mapping[str, Figure]
    syringes: tuple[tuple[Figure, Figure], ...]
    content: Mapping[str, Any] = field(repr=False)

    @cached_property
    def label(self) -> dict[str, str]:
        """Name, version and digest, as every check answer carries them."""
        return {"name": self.name, "version": self.version, "digest": self.digest}

    def as_dict(self) -> dict[str, object]:
        """The whole set as plain values for ``GET /rule-set/``: each number beside its source and mark."""
        from dosing.rule_set_plain import plain

        return plain(self)


def load(path: Path | str) -> RuleSet:
    """Read a rule set file; raises ``rule_set_faults.RuleSetFaults`` naming every fault at once by entry and line."""
    from dosing.rule_set_reader import read

    return read(Path(path))


def loads(text: str, name: str = "rule set") -> RuleSet:
    """Read a rule set from its file's text; raises as ``load`` does."""
    from dosing.rule_set_reader import read_text

    return read_text(text, name)


@cache
def load_shipped(name: str) -> RuleSet:
    """One of the rule sets that ship with the project: ``demonstration`` or ``conservative``; read once."""
    return load(SHIPPED / f"{name}.toml")
