"""What a treatment of a rule set is made of: bands of limits, strengths, recipe, signs, window, reassessment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from dosing.ground.facts import Amount
from dosing.ground.units import Quantity
from dosing.rules import words
from dosing.rules.shape import DrugText, Made, Mark, OfDose, OneOf, PerMl, Sign, Unit, Volume

Who = OneOf(words.WHO)
Impressions = Annotated[frozenset[str], OneOf(words.IMPRESSIONS)]
Causes = Annotated[frozenset[str], OneOf(words.BLEEDING_CAUSES)]
Units = Annotated[frozenset[str], OfDose]
History = Annotated[frozenset[str], OneOf(words.HISTORY | words.DISEASES)]
Phases = Annotated[frozenset[str], OneOf(words.PHASES)]
Routes = Annotated[frozenset[str], OneOf(words.ROUTES)]
Rhythms = Annotated[frozenset[str], OneOf(words.RHYTHMS)]
Lungs = Annotated[frozenset[str], OneOf(words.LUNGS)]
Injuries = Annotated[frozenset[str], OneOf(words.INJURIES)]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number comes from, by the name under which the others say it."""

    id: Made[str]
    text: Annotated[str, "title, edition, place; what was read there"]
    mark: Annotated[str, OneOf(words.MARKS), "how well it is known"]


@dataclass(frozen=True, slots=True)
class Figure:
    """One plain number with its unit (may be empty) and its source."""

    value: float
    unit: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One bound of a dose: an amount, perhaps per kg, held between two others."""

    amount: Annotated[Amount, "such as `30 mL/kg`"]
    source: Source
    at_most: Annotated[Amount | None, "what an amount per kg never exceeds"] = None
    at_least: Annotated[Amount | None, "what an amount per kg never falls below"] = None
    # The same as exact quantities, made once when the rule set is read.
    exact: Made[Quantity] = field(repr=False, compare=False)
    exact_most: Made[Quantity | None] = field(default=None, repr=False, compare=False)
    exact_least: Made[Quantity | None] = field(default=None, repr=False, compare=False)
    per_kg: Made[bool] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """For whom something is: what is left out does not restrict."""

    who: Annotated[str | None, Who] = None
    impressions: Annotated[Impressions, "one of these working impressions"] = frozenset()
    weight: Annotated[str | None, OneOf(words.WEIGHT), "whether anybody knows the weight"] = None
    from_kg: Annotated[float | None, Mark.SOURCED, "this weight and more"] = None
    under_kg: Annotated[float | None, Mark.SOURCED, "less than this weight"] = None
    from_days: Annotated[float | None, Mark.SOURCED, "this age in days and more"] = None
    under_days: Annotated[float | None, Mark.SOURCED, "under this age in days"] = None
    pressure_low: Annotated[bool | None, "whether the pressure is below the limits of sedation"] = None
    again: Annotated[bool | None, "whether some of it was given before, for the same indication"] = None
    bleeding_causes: Annotated[Causes, "one of these causes of bleeding"] = frozenset()
    not_bleeding_causes: Annotated[Causes, "any cause of bleeding but these, or none"] = frozenset()
    history: Annotated[History, "with one of these in the history"] = frozenset()
    from_weeks: Annotated[float | None, Mark.SOURCED, "of pregnancy, these weeks and more"] = None
    under_weeks: Annotated[float | None, Mark.SOURCED, "of pregnancy, under these weeks"] = None
    injuries: Annotated[Injuries, "with one of these injuries"] = frozenset()
    from_onset_h: Annotated[float | None, Mark.SOURCED, "h: the onset is so long ago and more"] = None
    from_glucose: Annotated[float | None, Mark.SOURCED, "mg/dL: the newest glucose is this and more"] = None
    phases: Annotated[Phases, "in one of these phases of a case"] = frozenset()
    routes: Annotated[Routes, "by one of these routes"] = frozenset()
    indications: Annotated[frozenset[str], "for one of these indications of the treatment"] = frozenset()
    source: Annotated[Source | None, "needed beside an edge of weight, age, pregnancy, onset or glucose"] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class First(Where):
    """For whom a treatment stands before all others that fit: as `Where`, always with its source."""

    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Limits for some patients; of the bands that fit a patient the last one that states a limit decides it.

    So the general stands first and the special after it. Two bands that restrict by the same entries (both by age, or
    both by impression) must share no patient, or one must lie within the other; where they state one limit with another
    number for patients whom they share, that is a fault, unless a band after both states it for all of those.
    """

    where: Annotated[Where, Mark.FLAT]
    least: Annotated[Limit | None, "less is flagged"] = None
    guide: Annotated[Limit | None, "the usual amount: more is flagged"] = None
    start: Annotated[Limit | None, "an infusion starts with up to this, left out: the least; more is a step"] = None
    most: Annotated[Limit | None, "the standing limit: more needs an order"] = None
    hard: Annotated[Limit | None, "the hard limit: more is over it, whoever orders"] = None
    total: Annotated[Limit | None, "in all, before an order is needed"] = None
    total_guide: Annotated[Limit | None, "in all, usually: more is flagged"] = None
    total_hard: Annotated[Limit | None, "the hard limit of all together"] = None
    count: Annotated[Figure | None, Unit(), Sign.FROM_ZERO, "how many doses before an order is needed"] = None
    by_order: Annotated[Caution | None, "why these patients need an order for any dose at all"] = None
    not_covered: Annotated[Caution | None, "why the standing limits do not reach their age"] = None
    contraindicated: Annotated[Caution | None, "why these patients must not get it, whoever orders"] = None
    interval: Annotated[Figure | None, Unit("min"), "from one dose to the next, where it is another for them"] = None
    shortest: Annotated[
        Figure | None, Unit("min"), Sign.FROM_ZERO, "how fast it may be given, where it is another for them; 0: a push"
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A sentence to show beside a treatment."""

    text: DrugText
    source: Source
    where: Annotated[Where | None, "for these patients only"] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """A strength of a solution."""

    amount: Annotated[Amount, PerMl, "such as `0.1 mg/mL`"]
    source: Source
    exact: Made[Quantity] = field(repr=False, compare=False)
    name: Annotated[str, "what the crew calls it, such as `vial`"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stocked(Strength):
    """A strength that is stocked or mixed."""

    avoid: Annotated[Caution | None, "for whom it is not"] = None
    by_order: Annotated[Caution | None, "for whom it needs an order"] = None
    routes: Annotated[Routes, "the only routes for it, as for a nasal spray; left out: all"] = frozenset()
    barred: Annotated[Caution | None, "for whom it is over a hard limit, whatever the dose"] = None
    whole: Annotated[Amount | None, OfDose, "what one of it gives, which is not divided, as a nasal spray"] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a recipe.

    ``add`` puts a volume of a fluid of some strength into the vessel, ``expel`` takes one out and away, ``draw`` takes
    one into a new syringe; ``label`` names what is held now, and ``do`` is what the text says.
    """

    action: Annotated[str, OneOf(words.ACTIONS)]
    text: DrugText
    volume: Annotated[Amount | None, Volume, "how much is added, expelled or drawn"] = None
    drug: Annotated[bool, "what is added is the stock; else it is diluent"] = field(default=False, compare=False)
    strength: Made[Amount | None] = None
    vessel: Annotated[str, OneOf(words.VESSELS), "said by the step that begins with it; else a syringe"] = "syringe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How a syringe or a bag is prepared: each way must end at the strength that the recipe makes, with its label."""

    stock: Annotated[Strength, "what it is made of"]
    makes: Annotated[Strength, "what stands on the label"]
    ways: Annotated[Mapping[str, tuple[Step, ...]], "ways to prepare it by their names, each a list of steps"]
    source: Source
    prefilled: Annotated[Strength | None, "what needs no mixing"] = None
    nominal: Annotated[bool, "the label rounds the exact strength, by at most 1 %"] = False
    warning: Annotated[Caution | None, "what else stands on a bag"] = None
    notes: Annotated[tuple[Caution, ...], "what follows each dose, such as the flush"] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What should be there before the treatment: a measurement in a range, a history, a tube, …; or what should not.

    Of who is recorded as male or younger than pregnancies are, and bears no pregnancy, the treatment is over a hard
    limit.
    """

    text: Annotated[str, "what is said if it is missing"]
    source: Source
    measurement: Annotated[str, OneOf(words.MEASUREMENTS), "of what the numbers below are"] = ""
    below: float | None = None
    at_least: float | None = None
    or_dbp_at_least: Annotated[float | None, "mmHg: a diastolic pressure of so much will do too"] = None
    below_by_who: Annotated[Mapping[str, float], Who, "`below`, where it differs by who"] = field(default_factory=dict)
    history: Annotated[str, OneOf(words.HISTORY), "beside another entry it will do too"] = ""
    mother_from_years: Annotated[float | None, "a pregnancy or birth on record, possible from this age in years on"] = (
        None
    )
    not_impressions: Annotated[Impressions, "any impression but these"] = frozenset()
    shock_index_below: Annotated[float | None, "heart rate over systolic, where both are known"] = None
    etco2_below: Annotated[float | None, "mmHg, where it was measured and no airway is in place"] = None
    bleeding: Annotated[bool, "a bleeding on record: as the impression, or by its cause"] = False
    given: Annotated[frozenset[str], OneOf(words.CLASSES), "a dose on record of one of these classes"] = frozenset()
    airway: Annotated[
        bool, "a tube or a supraglottic airway in place; left out at `level`: over a hard limit; by order if unclear"
    ] = False
    not_rhythms: Annotated[Rhythms, "any rhythm but these, as crews write them, or none on record"] = frozenset()
    not_lungs: Annotated[Lungs, "none of these heard in the lungs"] = frozenset()
    where: Annotated[Where | None, "for these patients; of those of one measurement and level the last that fits"] = (
        None
    )
    opens: Annotated[bool, "with it the treatment is relevant"] = False
    ungated: Annotated[bool, "with it neither pressure nor weight holds it back"] = False
    level: Annotated[str, OneOf(words.WANTS_LEVELS), "how serious it is if missing; left out: a caution"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """Other drugs that must lie some time before this one: given since, they speak against it."""

    drugs: Annotated[frozenset[str], "as their treatments say it, or the class of drugs that no treatment is"]
    routes: Annotated[Routes, "by one of these routes; left out: into a vein or bone"] = frozenset()
    minutes: Annotated[float, "min for which they act"]
    text: Annotated[DrugText, "what the two do together"]
    source: Source
    after_minutes: Annotated[float | None, "told only later than so many min: up to then another rule tells it"] = None
    indications: Annotated[frozenset[str], "where they were given for one of these; left out: for anything"] = (
        frozenset()
    )
    where: Annotated[Where | None, "for these patients only"] = None
    level: Annotated[str, OneOf(words.WANTS_LEVELS), "how serious it is; left out: a caution"] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fluid:
    """What a fluid may be, or be taken for, by its names; of those that a text names the gravest decides."""

    name: str
    names: Annotated[tuple[str, ...], "what else it is called: found as whole words, in any case"] = ()
    source: Source
    by_order: Annotated[Caution | None, "why it needs an order"] = None
    barred: Annotated[Caution | None, "why it is over a hard limit"] = None
    apart: Annotated[tuple[Apart, ...], "what must not have been given shortly before it"] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A treatment that helps only for some time after the onset."""

    minutes: Annotated[float, "min after the onset"]
    causes: Annotated[Causes, "for bleeding of these causes"] = frozenset()
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Fastest:
    """How fast a larger dose may go into a vein or bone."""

    amount: Annotated[Amount, OfDose, "a minute, such as `4 mg`"]
    above: Annotated[Amount, OfDose, "for a dose of more than this"]
    source: Source


@dataclass(frozen=True, slots=True)
class Lasts:
    """For how long a push acts."""

    least: Annotated[float, "min"]
    most: Annotated[float, "min"]
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class ReassessmentRule:
    """The reading that a treatment asks for: when it is due, and which reading counts."""

    due_min: Annotated[float, "min after it was given"]
    grace_s: Annotated[float, "s after which it is overdue"]
    needs: Annotated[tuple[str, ...], OneOf(words.READINGS), "what must be read"]
    also: Annotated[tuple[str, ...], OneOf(words.READINGS), "what else to look at: a prompt, never an alarm"] = ()
    counts_from_min: Annotated[float, "min after it was given from which a reading counts"] = 0
    counts_from_end: Annotated[bool, "both count from its end instead"] = False
    max_min: Annotated[float | None, "with that: min after its start at which it is due at the latest"] = None
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """A count that another treatment uses up too."""

    treatments: Annotated[frozenset[str], "the treatments that use it up"] = frozenset()
    per_bags: Annotated[float | None, Sign.ABOVE_ZERO, "how many bags of blood open the next one"] = None
    source: Source
