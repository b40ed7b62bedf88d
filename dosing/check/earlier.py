"""What of a long case is only added up: how many of its older doses there were, and their exact sums."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from msgspec.structs import replace

from dosing.check import products
from dosing.ground import units
from dosing.ground.facts import Amount, Dose
from dosing.ground.given_before import Earlier, GivenBefore, GivenFor
from dosing.ground.units import Quantity, in_volume
from dosing.rules.rule_set import RuleSet, Treatment


def line_of(treatment: str, name: str | None) -> str:
    """What is added up together: a treatment, and of what the rule set lacks each drug by its name."""
    return f"{treatment} {name}" if name else treatment


def with_given(earlier: dict[str, GivenBefore], doses: Iterable[Dose], rules: RuleSet) -> dict[str, GivenBefore]:
    """What was given, with these doses added, oldest first."""
    given = dict(earlier)
    for dose in doses:
        line = line_of(dose.treatment, dose.name)
        given[line] = _with(given.get(line), dose, rules)
    return given


def _with(before: GivenBefore | None, dose: Dose, rules: RuleSet) -> GivenBefore:
    treatment = rules.treatments.get(dose.treatment)
    first = GivenBefore(treatment=dose.treatment, name=dose.name, first_at=dose.given_at, last_at=dose.given_at)
    given, stated = before or first, dose.amount.unit if dose.amount else None
    counted, what = _counted(dose, treatment), for_what(dose.indication, treatment)
    mine = given.by_indication.get(what, GivenFor())
    of_it = GivenFor(count=mine.count + 1, sums=_added(mine.sums, counted))
    return replace(
        given,
        first_at=min(given.first_at, dose.given_at),
        last_at=max(given.last_at, dose.given_at),
        count=given.count + 1,
        sums=_added(given.sums, counted),
        by_indication={**given.by_indication, what: of_it} if what else given.by_indication,
        units=given.units if stated is None or stated in given.units else (*given.units, stated),
        infused=given.infused or dose.infused is not None,
        bags=given.bags if treatment is None else str(Fraction(given.bags) + products.bags(dose, treatment, rules)),
    )


def for_what(indication: str | None, treatment: Treatment | None) -> str:
    """For which indication a dose was: the one that was told, else the usual one; empty where there is none."""
    return indication or next(iter(treatment.indications if treatment else ()), "")


def _added(sums: dict[str, str], counted: Iterable[tuple[str, Fraction]]) -> dict[str, str]:
    added = dict(sums)
    for unit, number in counted:
        added[unit] = str(Fraction(added.get(unit, "0")) + number)
    return added


def _counted(dose: Dose, treatment: Treatment | None) -> list[tuple[str, Fraction]]:
    """What a dose adds to a sum, with its unit: as the limits add it up, else as it was stated; nothing for a rate."""
    if treatment is None or treatment.form == "infusion":
        amount = amount_in(dose)
        return [(amount.unit, Fraction(str(amount.value)))] if amount else []
    bag = treatment.bag.value if treatment.bag else None
    unit = "mL" if bag else treatment.unit.replace("/kg", "")
    if dose.none_went_in:
        return [(unit, Fraction(0))]
    told = [_absolute(in_volume(each, bag), dose) for each in (dose.infused, dose.amount) if each is not None]
    named = [(exact, f"{unit}/kg" if units.is_per_kg(exact) else unit) for exact in told]
    return [(name, units.number(exact, name)) for exact, name in named if _fits(exact, name)][:1]


def _absolute(exact: Quantity, dose: Dose) -> Quantity:
    """A dose per kg by the weight that was known then; while nobody knew it, it stays per kg."""
    weight = units.body_weight(dose.weight)
    return exact * weight if weight is not None and units.is_per_kg(exact) else exact


def _fits(exact: Quantity, unit: str) -> bool:
    return bool(exact.units == units.exactly(Fraction(1), unit).units)


def amount_in(dose: Dose) -> Amount | None:
    """How much of a dose went in: what was infused of an ended one, else its amount; None for a rate, or for none."""
    if dose.infused:
        return None if dose.none_went_in else dose.infused
    return dose.amount if dose.amount and "/" not in dose.amount.unit else None


def sums(given: Iterable[GivenBefore | GivenFor]) -> list[Quantity]:
    """The exact sums of these lines, by unit; what was stated per kg while nobody knew the weight still per kg."""
    return [units.exactly(Fraction(number), unit) for each in given for unit, number in each.sums.items()]


def weighed(earlier: Earlier, weight: Quantity) -> Earlier:
    """With what was stated per kg as what it comes to at this weight."""
    given = {line: replace(each, **_all_weighed(each, weight)) for line, each in earlier.given.items()}
    return replace(earlier, given=given)


def _all_weighed(given: GivenBefore, weight: Quantity) -> dict[str, object]:
    parts = {what: replace(each, sums=_weighed(each, weight)) for what, each in given.by_indication.items()}
    return {"sums": _weighed(given, weight), "by_indication": parts}


def _weighed(given: GivenBefore | GivenFor, weight: Quantity) -> dict[str, str]:
    found: dict[str, Fraction] = {}
    for unit, number in given.sums.items():
        whole, kilograms = unit.replace("/kg", ""), Fraction(weight.magnitude) if units.per_kg(unit) else 1
        found[whole] = found.get(whole, Fraction(0)) + Fraction(number) * kilograms
    return {unit: str(number) for unit, number in found.items()}
