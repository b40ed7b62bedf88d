"""What is left before an order: a number of doses, an amount in all, and the findings once nothing is."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import inf, nextafter
from typing import Any

from dosing.check.case import Question
from dosing.check.counts import allowed_count, count_text
from dosing.check.findings import Finding, amount_dict
from dosing.ground import text, units
from dosing.ground.facts import Amount, Dose
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity

Plain = dict[str, Any]
VOLUMES = ("volume", "volume/kg", "bag")


def counted_whole(doses: Iterable[Dose]) -> str:
    """What of these doses is counted in full though perhaps not all went in, the safe side; "" where that is none."""
    volumes = [dose for dose in doses if dose.amount and units.kind(dose.amount.unit) in VOLUMES]
    runs = any(dose.goes_on for dose in volumes)
    unsaid = any(dose.status == "stopped" and dose.infused is None for dose in volumes)
    if runs and unsaid:
        return _("counting in full what runs or was stopped without an amount")
    if unsaid:
        return _("counting in full what was stopped without an amount")
    return _("counting in full what runs") if runs else ""


def shown(exact: Quantity | None, question: Question, unit: str, *, up: bool = False) -> Plain | None:
    """A limit in its unit, as the float that passes its own check; ``up``: a least one."""
    if exact is None:
        return None
    weight, bag = question.bedside.person.weight, question.treatment.bag
    if unit == "bag" and bag is not None:
        return amount_dict(Amount(float(units.number(exact, "mL") / Fraction(str(bag.value))), "bag"))
    if units.per_kg(unit) and weight is not None:
        exact = exact / weight
    told = units.amount(exact, unit)
    if up:
        short = units.quantity(told).magnitude < exact.magnitude
        return amount_dict(Amount(nextafter(told.value, inf), unit) if short else told)
    if units.quantity(told).magnitude > exact.magnitude:  # what is shown must pass its own check
        told = Amount(nextafter(told.value, 0), unit)
    return amount_dict(told)


def left(question: Question, unit: str, still: Quantity | None) -> Plain:
    """What is left before an order: ``count`` of ``of`` doses, and ``total``, the ``rest``; None without a limit.

    ``counted_whole`` says what of the total may have gone in only in part.

    Doses that count by their volume are told in ``total`` alone: small ones are more than the count says.
    """
    count = question.limits.count
    by_number = count is not None and not question.treatment.count_by_volume
    of = int(allowed_count(question, count)) if count is not None and by_number else None
    return {
        "count": None if of is None else max(0, of - question.count),
        "of": of,
        "total": _total_left(question, unit, still),
        "counted_whole": counted_whole(question.given),
    }


def _by_volume(question: Question) -> Quantity | None:
    """All that the count allows where doses count by their volume: so many of the single most."""
    count, most = question.limits.count, question.limits.exact("most")
    if count is None or most is None or not question.treatment.count_by_volume:
        return None
    return most * int(count.value)


def rest(question: Question) -> Quantity | None:
    """What may still be given in all, by the total or the count of whole doses, whichever is less; from 0 down nothing.

    None where there is no such limit, or what was given is told in another unit.
    """
    used = question.used
    bounds = [bound for bound in (question.limits.exact("total"), _by_volume(question)) if bound is not None]
    if not bounds or any(each.units != bounds[0].units for each in (*bounds, *([used] if used is not None else ()))):
        return None
    return min(bounds) if used is None else min(bounds) - used


def _total_left(question: Question, unit: str, still: Quantity | None) -> Plain | None:
    return {"value": 0, "unit": unit} if still is not None and still.magnitude <= 0 else shown(still, question, unit)


def _none_of_count(question: Question, rest: Plain) -> bool:
    """Whether the count allows no further dose; of what counts by volume none at all is left then."""
    bound, used = _by_volume(question), question.used
    by_volume = bound is not None and used is not None and used.units == bound.units and bool(used >= bound)
    return by_volume or rest["count"] == 0


def _none_of_total(question: Question) -> bool:
    """Whether the total is used up."""
    total, used = question.limits.exact("total"), question.used
    return total is not None and used is not None and used.units == total.units and bool(used >= total)


def used_up(question: Question, unit: str, rest: Plain) -> list[Finding]:
    """Nothing left: any further dose passes the count or the total."""
    count, total, found = question.limits.count, question.limits.limit("total"), []
    if count is not None and _none_of_count(question, rest):
        limit = Amount(allowed_count(question, count), count.unit)
        words = _("{count} before an order, all given", count=count_text(count, limit))
        found.append(question.find("count_reached", words, count.source, limit))
    if total is not None and _none_of_total(question):
        most = Amount(**(shown(question.limits.exact("total"), question, unit) or {}))
        words = _("{most} in all before an order, all given", most=text.amount_text(most))
        found.append(question.find("total_reached", words, total.source, most))
    return found
