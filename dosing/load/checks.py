"""The checks that a rule set must pass before it is used."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from dosing.check.allergies import CLASSES_ELSEWHERE
from dosing.load.limit_faults import limit_faults
from dosing.load.overlaps import overlap_faults
from dosing.mix import dilution
from dosing.rules.names import words_of
from dosing.rules.rule_set import GoalRule, Recipe, RuleSet, Step, Treatment
from dosing.rules.vital_signs import HighPressureRule, VitalSignRule
from dosing.rules.words import MEASURES

NOMINAL = Fraction(1, 100)
SHORTEST_NAME = 2
NEEDED = ("hr", "spo2", "rr", "glucose_mg_dl", "gcs", "avpu")


@dataclass(frozen=True)
class _Told:
    """A treatment by all that it says, of which alone the faults of its limits come."""

    said: str
    treatment: Treatment = field(compare=False)


@lru_cache(maxsize=256)
def _limit_faults(told: _Told) -> tuple[tuple[str, str], ...]:
    """Kept, for a set that is read is mostly one of before with a few treatments changed."""
    return tuple(limit_faults(told.treatment))


def found_in(rules: RuleSet, unread: Collection[str] = ()) -> Iterator[tuple[str, str]]:
    """What the checks find, as (entry, text): mass, children above adults, missing hard limits, least above most.

    The treatments of ``unread`` are left out: they could not be read whole.
    """
    yield from _goal_faults(rules)
    yield from _vital_sign_faults(rules.watch.vital_signs)
    yield from _high_pressure_faults(rules.watch.high_pressure)
    yield from _name_faults(rules, unread)
    for name, written in rules.tall_man.items():
        if written.lower() != name.lower():
            yield f"tall_man.{name}", f"is {written!r}: only the size of the letters may differ"
    drugs = {each.drug for each in rules.treatments.values()} | CLASSES_ELSEWHERE
    for treatment in rules.treatments.values():
        if treatment.slug in unread:
            continue
        for other in sorted(treatment.shared.treatments - rules.treatments.keys()) if treatment.shared else ():
            yield f"treatments.{treatment.slug}.shared.treatments", f"holds {other!r}, which is not a treatment here"
        aparts = [*treatment.apart, *(apart for fluid in treatment.fluids for apart in fluid.apart)]
        for other in sorted(frozenset().union(*(each.drugs for each in aparts)) - drugs):
            yield (
                f"treatments.{treatment.slug}.apart",
                f"holds {other!r}, which is neither a drug nor a class of drugs here",
            )
        entry = f"treatments.{treatment.slug}"
        limits = _limit_faults(_Told(repr(treatment), treatment))
        for within, text in (*_given_faults(treatment), *limits, *overlap_faults(treatment)):
            yield f"{entry}{within}", text
        if treatment.recipe is not None:
            for text in recipe_faults(treatment.recipe):
                yield f"{entry}.recipe", text
        for number, mix in enumerate(treatment.mixes):
            for text in (*recipe_faults(mix), *_mix_faults(treatment, mix)):
                yield f"{entry}.mixes.{number}", text


def _given_faults(treatment: Treatment) -> Iterator[tuple[str, str]]:
    """What is for an indication or a route that the treatment has not, is for nobody."""
    known = {
        "indications": treatment.indications.keys(),
        "routes": treatment.routes.union(*(each.routes for each in treatment.indications.values())),
    }
    places = [(f".bands.{number}", band.where) for number, band in enumerate(treatment.bands)]
    places += [
        (f".cautions.{number}.where", each.where) for number, each in enumerate(treatment.cautions) if each.where
    ]
    for place, where in places:
        for name, words in known.items():
            for word in sorted(getattr(where, name) - words):
                yield f"{place}.{name}", f"holds {word!r}, which is none of the treatment's {name}"
    for number, stock in enumerate(treatment.stocks):
        for route in sorted(stock.routes - known["routes"]):
            yield f".stocks.{number}.routes", f"holds {route!r}, which is none of the treatment's routes"


def _name_faults(rules: RuleSet, unread: Collection[str]) -> Iterator[tuple[str, str]]:
    """Another name is of a drug that is there; one without words, or of one letter, would be found everywhere."""
    drugs = {treatment.drug for treatment in rules.treatments.values()}
    for number, each in enumerate(rules.names):
        if each.drug not in drugs and not unread:
            yield f"names.{number}.drug", f"is {each.drug!r}, which is the drug of no treatment here"
        for name in each.names:
            if len(words_of(name).strip()) < SHORTEST_NAME:
                yield f"names.{number}.names", f"holds {name!r}: too short to tell a drug by"


def _goal_faults(rules: RuleSet) -> Iterator[tuple[str, str]]:
    for number, goal in enumerate(rules.goals):
        if goal.ceiling is not None and goal.ceiling <= goal.floor:
            yield f"goals.{number}.ceiling", "is not above the floor"
    for measure in sorted(MEASURES):
        if not any(goal.measure == measure and _is_for_every_adult(goal) for goal in rules.goals):
            yield "goals", f"none of {measure} is for every adult"


def _vital_sign_faults(rules: Sequence[VitalSignRule]) -> Iterator[tuple[str, str]]:
    """What no patient may be without: danger of each of these measurements, for adults and an age nobody knows."""
    for name in NEEDED:
        fitting = [rule for rule in rules if rule.measurement == name and rule.fits(None)]
        if not fitting or not (fitting[-1].danger_low or fitting[-1].danger):
            yield "watch.vital_signs", f"none of {name} says what is a danger for every adult"


def _high_pressure_faults(rules: Sequence[HighPressureRule]) -> Iterator[tuple[str, str]]:
    """What no patient may be without: a systolic that is a danger for every adult, and for an age nobody knows."""
    if not any(rule.danger_sbp and rule.fits(None, None, ()) for rule in rules):
        yield "watch.high_pressure", "none of them says which systolic is a danger for every adult"


def _is_for_every_adult(goal: GoalRule) -> bool:
    restrictions = (goal.impressions, goal.injuries, goal.phases, goal.without_injuries, goal.bleeding_causes)
    edges = (goal.from_years, goal.under_years, goal.from_weeks, goal.under_weeks, goal.bleeding_controlled)
    return goal.adult is not False and not any(restrictions) and all(edge is None for edge in edges)


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


def _label_faults(steps: tuple[Step, ...], held: list[dilution.VesselContents]) -> Iterator[str]:
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
