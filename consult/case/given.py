"""What was given so far: a line per treatment, and the fluid."""

from __future__ import annotations

from functools import reduce
from operator import add

from msgspec import Struct
from msgspec.structs import replace

from dosing.check.case import Bedside, Question, bedside
from dosing.check.earlier import amount_in, line_of, sums
from dosing.ground import units
from dosing.ground.facts import Amount, Dose, Facts
from dosing.ground.given_before import GivenBefore
from dosing.ground.kinds import Time
from dosing.rules.rule_set import RuleSet, Treatment
from dosing.tell.left import counted_whole


class GivenLine(Struct, frozen=True, kw_only=True):
    """One treatment: how often, how much in all, when last."""

    treatment: str
    title: str
    count: int
    total: Amount | None
    last_at: Time


class FluidsLine(Struct, frozen=True, kw_only=True):
    """How much fluid the patient has had, and how many boluses are left before an order.

    ``counted_whole`` says what of it may have gone in only in part.
    """

    total_ml: float
    ml_per_kg: float | None
    boluses: int
    boluses_left: int | None
    counted_whole: str = ""


def totals(facts: Facts, rules: RuleSet) -> tuple[GivenLine, ...]:
    """Per treatment, in the order of the first dose: how often, how much in all, when last.

    What the rule set knows adds up as its limits count it. A running infusion adds no total: its amount is a rate.
    """
    given: dict[str, list[Dose]] = {line: [] for line in facts.earlier.given}
    for dose in facts.doses:
        given.setdefault(line_of(dose.treatment, dose.name), []).append(dose)
    at_bedside = _bedside(_without_names(facts), rules)
    lines = [_line(facts.earlier.given.get(line), doses, at_bedside) for line, doses in given.items()]
    return tuple(line for _, line in sorted(lines, key=lambda each: each[0]))


def _without_names(facts: Facts) -> Facts:
    """The facts without what was told by a name: it has a line of its own."""
    earlier = {line: each for line, each in facts.earlier.given.items() if not each.name}
    doses = tuple(dose for dose in facts.doses if not dose.name)
    return replace(facts, doses=doses, earlier=replace(facts.earlier, given=earlier))


def _bedside(facts: Facts, rules: RuleSet) -> Bedside:
    return bedside(facts, rules, max((dose.given_at for dose in facts.doses), default=facts.opened_at))


def _line(before: GivenBefore | None, given: list[Dose], at_bedside: Bedside) -> tuple[Time, GivenLine]:
    """A treatment with when it was first given; `before` is what of it is only added up."""
    if before is None:
        first = given[0]
        at = first.given_at
        before = GivenBefore(treatment=first.treatment, name=first.name, first_at=at, last_at=at)
    treatment = at_bedside.rules.treatments.get(before.treatment)
    asked = treatment and treatment.form != "infusion" and Question(bedside=at_bedside, treatment=treatment)
    times = [before.first_at, before.last_at, *(dose.given_at for dose in given)]
    return min(times), GivenLine(
        treatment=before.treatment,
        title=treatment.title if treatment else before.name or before.treatment,
        count=before.count + len(given),
        total=_used(asked, before, given) if asked else _total(before, given),
        last_at=max(times),
    )


def _used(asked: Question, before: GivenBefore, given: list[Dose]) -> Amount | None:
    """The sum by which the limits go, in the unit of the first dose; bags beside a volume as the volume they hold."""
    if asked.used is None:
        return None
    stated = [*before.units, *(dose.amount.unit for dose in given if dose.amount)]
    stated = [each.removesuffix("/kg") for each in stated]
    bag, unit = asked.treatment.bag, asked.treatment.unit
    if bag is not None:
        volume = units.amount(asked.used, "mL")
        whole = set(stated) == {"bag"} and not before.infused and not any(each.infused for each in given)
        return Amount(volume.value / bag.value, "bag") if whole else volume
    alike = (each for each in stated if units.kind(each) == units.kind(unit))
    return units.amount(asked.used, next(alike, unit))


def _total(before: GivenBefore, given: list[Dose]) -> Amount | None:
    """All of them together in the unit of the first; what is of another kind cannot be added."""
    amounts = [amount for dose in given if (amount := amount_in(dose))]
    stated = [*before.sums, *(amount.unit for amount in amounts)]
    if not stated:
        return None
    parts = zip(stated, [*sums([before]), *map(units.quantity, amounts)], strict=True)
    alike = [exact for unit, exact in parts if units.kind(unit) == units.kind(stated[0])]
    return units.amount(reduce(add, alike), stated[0])


def fluids(facts: Facts, rules: RuleSet) -> FluidsLine:
    """Total in mL, per kg where the weight is known, boluses given and left; small steps do not use up the count."""
    patient = _bedside(facts, rules)
    asked = [Question(bedside=patient, treatment=each) for each in _fluids(rules)]
    total = sum((float(units.number(each.used, "mL")) for each in asked if each.used is not None), 0.0)
    weight = facts.patient.weight
    return FluidsLine(
        total_ml=total,
        ml_per_kg=round(total / weight.value, 2) if weight else None,
        boluses=sum(each.count for each in asked),
        boluses_left=_left(asked[0]) if asked else None,
        counted_whole=counted_whole(dose for each in asked for dose in each.given),
    )


def _fluids(rules: RuleSet) -> list[Treatment]:
    return [each for each in rules.treatments.values() if each.drug_class == "fluid"]


def _left(asked: Question) -> int | None:
    """Whole boluses of the single most that are left, by the count and by the total."""
    count, most, total = asked.limits.count, asked.limits.exact("most"), asked.limits.exact("total")
    if count is None or most is None:
        return None
    one = float(units.number(most, "mL"))
    whole = min(count.value, float(units.number(total, "mL")) / one if total is not None else count.value)
    used = float(units.number(asked.used, "mL")) / one if asked.used is not None else 0
    return max(0, int(whole - used))
