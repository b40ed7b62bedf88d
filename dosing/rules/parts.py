"""What a treatment of a rule set consists of: bands of limits, strengths, recipe, signs, window, reassessment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from dosing.ground.facts import Amount
from dosing.ground.units import Quantity


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
    pressure_low: bool | None = None
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
    """A strength that is stocked or mixed, such as 0.1 ``mg/mL``; ``avoid`` says for whom it is not."""

    amount: Amount
    source: Source
    exact: Quantity = field(repr=False, compare=False)
    name: str = ""
    avoid: Caution | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a recipe.

    ``add`` puts a volume of a fluid of some strength into the vessel, ``expel`` takes one out and away, ``draw`` takes
    one into a new syringe; ``label`` names what is held now, and ``do`` is what the text says. ``vessel`` is
    ``syringe`` or ``bag``, said by the step that begins with it.
    """

    action: str
    text: str
    volume: Amount | None = None
    strength: Amount | None = None
    vessel: str = "syringe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How a syringe or a bag is prepared: each way is a list of steps that ends at the strength ``makes``.

    ``nominal`` says that the label rounds the exact strength by at most 1 %. ``prefilled`` is what needs
    no mixing; ``warning`` is what else stands on a bag; ``notes`` say what follows each dose, such as the
    flush.
    """

    stock: Strength
    makes: Strength
    ways: Mapping[str, tuple[Step, ...]]
    source: Source
    prefilled: Strength | None = None
    nominal: bool = False
    warning: Caution | None = None
    notes: tuple[Caution, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """A sign that should be there before the treatment: a measurement in a range, a history, another impression.

    ``opens``: with it the treatment is relevant. ``ungated``: with it neither pressure nor weight holds it back.
    """

    text: str
    source: Source
    measurement: str = ""
    below: float | None = None
    at_least: float | None = None
    below_by_who: Mapping[str, float] = field(default_factory=dict)
    history: str = ""
    not_impressions: frozenset[str] = frozenset()
    opens: bool = False
    ungated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A treatment that is useful only for ``minutes`` after the onset, for bleeding of some causes."""

    minutes: float
    causes: frozenset[str]
    source: Source


@dataclass(frozen=True, slots=True)
class Lasts:
    """For how many minutes a push acts, at least and at most."""

    least: float
    most: float
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

    ``drug_class`` is one of ``CLASSES``, ``other`` none: intervals count over it. ``form`` is ``push``, ``bolus``,
    ``infusion`` or ``im``; ``units`` are the kinds of unit in which it is stated, by ``adult`` and ``child``;
    ``mixes`` are the recipes of an infusion's bags; ``first``: for whom it stands before all others that fit.
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
    lasts: Lasts | None = None
    stocks: tuple[Strength, ...] = ()
    concentrations: tuple[Strength, ...] = ()
    recipe: Recipe | None = None
    mixes: tuple[Recipe, ...] = ()
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
    first: Where | None = None
    cautions: tuple[Caution, ...] = ()

    @property
    def recipes(self) -> tuple[Recipe, ...]:
        """Every recipe: that of the push dose, and the mixes of an infusion's bags."""
        return self.mixes if self.recipe is None else (self.recipe, *self.mixes)
