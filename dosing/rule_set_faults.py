"""What is wrong with a rule set: the faults of its file, and the checks that a set must pass before it is used."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product

from dosing import dilution, units
from dosing.facts import Amount
from dosing.limits_bands import LIMITS, Limits, Person
from dosing.rule_set import GoalRule, Recipe, RuleSet, Step, Treatment, Where
from dosing.rule_set_words import MEASURES

NOMINAL = Fraction(1, 100)
TEN_FOLD = 10
_KILOGRAMS = frozenset({0.5, 1.5, 2.5, 5, 12, 30, 49.9, 80, 150})
_JUST_UNDER = 0.01  # kg: the last weight before a band's edge
_NEVER_MORE = ("most", "hard", "total", "total_hard")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: in which file, at which entry and line (0: not found), and what."""

    file: str
    entry: str
    line: int
    text: str

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}, {self.entry}: {self.text}"


class RuleSetFaults(ValueError):
    """A rule set that may not be used, with all its ``faults``."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


def found_in(rules: RuleSet, unread: Collection[str] = ()) -> Iterator[tuple[str, str]]:
    """What the checks find, as (entry, text): mass, children above adults, missing hard limits, least above most.

    The treatments of ``unread`` are left out: they could not be read whole.
    """
    yield from _goal_faults(rules)
    for name, written in rules.tall_man.items():
        if written.lower() != name.lower():
            yield f"tall_man.{name}", f"is {written!r}: only the size of the letters may differ"
    for treatment in rules.treatments.values():
        if treatment.slug in unread:
            continue
        for other in sorted(treatment.shared.treatments - rules.treatments.keys()) if treatment.shared else ():
            yield f"treatments.{treatment.slug}.shared.treatments", f"holds {other!r}, which is no treatment here"
        entry = f"treatments.{treatment.slug}"
        for text in _treatment_faults(treatment):
            yield entry, text
        if treatment.recipe is not None:
            for text in recipe_faults(treatment.recipe):
                yield f"{entry}.recipe", text
        for number, mix in enumerate(treatment.mixes):
            for text in (*recipe_faults(mix), *_mix_faults(treatment, mix)):
                yield f"{entry}.mixes.{number}", text


def _goal_faults(rules: RuleSet) -> Iterator[tuple[str, str]]:
    for number, goal in enumerate(rules.goals):
        if goal.ceiling is not None and goal.ceiling <= goal.floor:
            yield f"goals.{number}.ceiling", "is not above the floor"
    for measure in sorted(MEASURES):
        if not any(goal.measure == measure and _is_for_every_adult(goal) for goal in rules.goals):
            yield "goals", f"none of {measure} is for every adult"


def _is_for_every_adult(goal: GoalRule) -> bool:
    restrictions = (goal.impressions, goal.injuries, goal.without_injuries, goal.bleeding_causes)
    return goal.adult is not False and not any(restrictions) and goal.from_years is None and goal.under_years is None


def recipe_faults(recipe: Recipe) -> Iterator[str]:
    """Each way must end with the drug that went in, at the strength on the label (within 1 % where it is nominal)."""
    wanted = recipe.makes.exact
    allowed = NOMINAL if recipe.nominal else Fraction(0)
    if recipe.prefilled is not None and recipe.prefilled.exact != wanted:
        yield f"the prefilled syringe holds {dilution.strength_text(recipe.prefilled.exact)}, not what the recipe makes"
    for name, steps in recipe.ways.items():
        try:
            held = dilution.contents(steps)
            made = held[-1].strength
        except ValueError as error:
            yield f"way {name!r}: {error}"
            continue
        if made is None:
            yield f"way {name!r} puts no drug into the syringe"
        elif made.units != wanted.units or abs(made.magnitude / wanted.magnitude - 1) > allowed:
            yield f"way {name!r} makes {dilution.strength_text(made)}, not {dilution.strength_text(wanted)}"
        for text in _label_faults(steps, held):
            yield f"way {name!r} {text}"


def _label_faults(steps: tuple[Step, ...], held: list[dilution.Held]) -> Iterator[str]:
    """What is prepared must get its label, in each vessel that it ends in, once the drug is there."""
    at = {now.vessel: now for step, now in zip(steps, held, strict=True) if step.action == "label"}
    for vessel in dict.fromkeys(now.vessel for now in held):
        if vessel not in at:
            yield f"does not label the {vessel}"
        elif at[vessel].drug is None:
            yield f"labels the {vessel} before the drug is in it"


def _mix_faults(treatment: Treatment, mix: Recipe) -> Iterator[str]:
    if all(mix.makes.exact != listed.exact for listed in treatment.concentrations):
        yield f"makes {dilution.strength_text(mix.makes.exact)}, which is not among the concentrations"


def _treatment_faults(treatment: Treatment) -> Iterator[str]:
    of_units = list(dict.fromkeys(_unit_faults(treatment)))
    yield from of_units
    if of_units:
        return  # what is stated in another kind cannot be compared
    people = list(_people(treatment))
    yield from dict.fromkeys(text for child, adult in people for text in _child_faults(treatment, child, adult))
    everyone = [person for pair in people for person in pair]
    yield from dict.fromkeys(text for person in everyone for text in _order_faults(treatment, person))


def _unit_faults(treatment: Treatment) -> Iterator[str]:
    allowed = {_measured(kind) for kinds in treatment.units.values() for kind in kinds}
    for name, stated in ((name, getattr(band, name)) for band in treatment.bands for name in LIMITS):
        if stated is not None and _measured(units.kind(stated.amount.unit)) not in allowed:
            yield f"{name} is stated in {stated.amount.unit}, the treatment in {treatment.unit}"
    if _measured(units.kind(treatment.unit)) not in allowed:
        yield f"its unit is {treatment.unit}, which is not among its units"
    of_recipes = [strength for recipe in treatment.recipes for strength in (recipe.stock, recipe.makes)]
    for strength in (*treatment.stocks, *treatment.concentrations, *of_recipes):
        if units.kind(strength.amount.unit).removesuffix("/volume") not in allowed:
            yield f"a strength is stated in {strength.amount.unit}, the treatment in {treatment.unit}"


def _measured(kind: str) -> str:
    """What a kind of unit measures in the end, per kg and per minute or not."""
    return kind.removesuffix("/min").removesuffix("/kg")


def _people(treatment: Treatment) -> Iterator[tuple[Person, Person]]:
    """Children of many weights and ages, each beside the adult of that weight, as far as the bands tell them apart."""
    bands = [band.where for band in treatment.bands]
    impressions = {"undifferentiated"}.union(*(where.impressions for where in bands))
    pressures = (None, True) if any(where.below_goal is not None for where in bands) else (None,)
    edges = {edge for where in bands for edge in (where.from_days, where.under_days) if edge is not None}
    ages = sorted({6000.0} | edges | {edge - 1 for edge in edges})
    causes = [None, *sorted(frozenset[str]().union(*(where.bleeding_causes for where in bands)))]
    for weight, impression, below, cause in product(_weights(bands), sorted(impressions), pressures, causes):
        known = {"weight": weight, "impression": impression, "below_goal": below, "bleeding_cause": cause}
        adult = Person(adult=True, days=None, **known)
        for days in ages:
            yield Person(adult=False, days=days, **known), adult


def _weights(bands: list[Where]) -> list[units.Quantity | None]:
    """Weights across the range and on both sides of each band's edge, and a weight that nobody knows."""
    edges = {edge for where in bands for edge in (where.from_kg, where.under_kg) if edge is not None}
    under = {edge - _JUST_UNDER for edge in edges if edge > _JUST_UNDER}
    kilograms = sorted(_KILOGRAMS | {edge for edge in edges if edge > 0} | under)
    return [*(units.quantity(Amount(kg, "kg")) for kg in kilograms), None]


def _child_faults(treatment: Treatment, child: Person, adult: Person) -> Iterator[str]:
    of_child, of_adult = Limits(treatment, child), Limits(treatment, adult)
    hard = of_child.limit("hard")
    if hard is None or (child.weight is not None and not hard.per_kg):
        yield "a child has no hard limit per kg"
    most, limit = of_child.exact("most"), of_child.ceiling("hard")
    if most is not None and limit is not None and most.units == limit.units and TEN_FOLD * most <= limit:
        yield "ten times a child's standing most is within its hard limit"
    for name in _NEVER_MORE:
        small, large = (_reach(limits, name) for limits in (of_child, of_adult))
        if small is not None and large is not None and small.units == large.units and small > large:
            yield f"{name} of a child exceeds the adult's"


def _reach(limits: Limits, name: str) -> units.Quantity | None:
    """What a limit comes to; a hard one of an unknown weight, its cap."""
    return limits.ceiling(name) if name in ("hard", "total_hard") else limits.exact(name)


def _order_faults(treatment: Treatment, person: Person) -> Iterator[str]:
    limits = Limits(treatment, person)
    if limits.ceiling("hard") is None:
        yield f"{person.who} of {'unknown' if person.weight is None else 'known'} weight: no hard limit"
    values = [("least", limits.exact("least")), ("most", limits.exact("most")), ("hard", limits.ceiling("hard"))]
    stated = [(name, value) for name, value in values if value is not None]
    if person.weight is not None and person.weight.magnitude < 3:
        stated = [pair for pair in stated if pair[0] != "least"]  # a fixed least gives way to the most per kg
    for (lower, low), (upper, high) in pairwise(stated):
        if low.units == high.units and low > high:
            yield f"{lower} exceeds {upper}"
