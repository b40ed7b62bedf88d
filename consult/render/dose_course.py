"""What became of a dose, in the same words on every page: each rate with its time, its end, why, how much went in."""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec

from consult.chart.course import GAP, judging_measure, moment
from consult.render.lines import Card, Line, at_time, clock, filled, joined
from consult.render.words import plain
from dosing.check.infusion import restated
from dosing.ground import units
from dosing.ground.exact import exact, shown
from dosing.ground.facts import Amount, Dose, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, number_text
from dosing.ground.units import WrongUnit
from dosing.held.draws import bolus_run, volume_run
from dosing.tell import set_for

ENDS = ("held", "stopped")  # each is told; what is finished is only where it ran at a rate, or not all went in


def told(card: Card, dose: Card, *, dated: bool = True) -> Line:
    """A dose with its times and what became of it; without a rate its own time is left out where it stands beside."""
    start = f"{_without_rate(dose)}{before(dose)}"
    rates = dose.get("rates") or ()
    given: Line = [", ", {"clock": dose["given_at"]}] if dated and not rates else []
    end: Line = [", ", *_end(card, dose), *_volume(dose)] if dose["ended_at"] else []
    return [start, *given, *_rates(dose, rates), *end]


def ended(card: Card, dose: Card) -> Line:
    """How what ran stands still, in short: ``stopped 10:40, 5 of 250 mL: Swelling where it runs in``."""
    part = _went_in(dose) or _counted_whole(dose)
    if dose["status"] not in ENDS and not (dose["status"] == "finished" and (part or dose.get("rates"))):
        return []
    return [*_end(card, dose), *([f", {part}"] if part else [])]


def before(dose: Card) -> str:
    """Who gave it before the crew, or how an order by voice stands."""
    if not dose["prior"]:
        return voice(dose)
    by = plain(dose.get("prior_by") or "")
    return (_(", before this crew by {by}", by=by) if by else _(", before this crew")) + voice(dose)


def voice(dose: Card) -> str:
    """How an order by voice stands that nobody stands for."""
    stands = _voice(dose)
    return f", {stands}" if stands else ""


def denied(dose: Card) -> Card | None:
    """What the physician said who is named for a dose ordered by voice, where that is that they did not order it."""
    said: Card | None = (dose.get("voice_order") or {}).get("countersigned")
    return said if said and not said["agreed"] else None


def _voice(dose: Card) -> str:
    if said := denied(dose):
        return _("order denied by {by}", by=said["by"])
    ordered = dose.get("voice_order")
    waits = ordered and not ordered.get("countersigned")
    return _("waits for {name} to countersign", name=ordered["physician"]["name"]) if ordered and waits else ""


def changes(dose: Card, rates: Sequence[Card]) -> Line:
    """Each of these rates with the time from which it ran."""
    from_ = _("{rate} from {time}")
    return joined(", ", [filled(from_, rate=_rate_text(dose, rate), time=clock(rate["at"])) for rate in rates])


def _rates(dose: Card, rates: Sequence[Card]) -> Line:
    return [", ", *changes(dose, rates)] if rates else []


def _end(card: Card, dose: Card) -> Line:
    """How it ended or is held, when, at which pressure where that was below its goal, and why."""
    at = dose["changed_at"] if dose["status"] == "held" else dose["ended_at"]
    low = _low(card, at) if dose.get("rates") and at else ""
    why = f" ({dose['reason']})" if dose.get("reason") else ""
    how = _("HELD since") if dose["status"] == "held" else plain(dose["status"])
    return [how, *at_time(" {time}", at), *filter(None, [low, why])]


def _low(card: Card, at: str) -> str:
    """At which pressure that was, where it was below the goal of then: what held it up has an end."""
    measure, then = judging_measure(card), moment(at)
    taken = [each for each in card.get("trend") or () if each[measure] is not None and moment(each["t"]) <= then]
    goals = [each for each in card.get("goals") or () if each["since"] is None or moment(each["since"]) <= then]
    floor = goals[-1][f"{measure}_floor"] if goals else None
    if not taken or floor is None or then - moment(taken[-1]["t"]) > GAP or taken[-1][measure] >= floor:
        return ""
    value, goal = exact(taken[-1][measure]), exact(floor)
    return _(
        " at {name} {value}, goal {goal}",
        name=measure.upper(),
        value=shown(value, below=(goal,)),
        goal=number_text(floor),
    )


def _without_rate(dose: Card) -> str:
    """What ran without its last rate, which may be told twice over: ``0.2 mcg/kg/min = 12 mL/h``."""
    if not dose.get("rates"):
        return str(dose["shown"])
    rate = re.escape(amount_text(Amount(**dose["amount"])))
    return re.sub(rf" (\S+ \S+ = )?{rate}(?= |$)( = \S+ \S+)?", "", dose["shown"], count=1)


def _volume(dose: Card) -> Line:
    """How much went in: as it was told, else what its rates come to."""
    if part := _went_in(dose):
        return [_(", {part} went in", part=part)]
    if counted := _counted_whole(dose):
        return [f", {counted}"]
    volume = volume_run(msgspec.convert(dose, Dose))
    return (
        []
        if volume is None
        else [_(", {volume} mL by its rates", volume=number_text(round(float(volume), 1 if volume >= 10 else 2)))]
    )


def _went_in(dose: Card) -> str:
    """How much of it is said to have gone in, of how much: ``5 of 250 mL``."""
    if not dose.get("infused"):
        return ""
    infused, whole = msgspec.convert((dose["infused"], dose["amount"]), tuple[Amount, Amount])
    if whole.unit == infused.unit:
        return _("{part} of {whole}", part=number_text(infused.value), whole=amount_text(whole))
    return amount_text(infused)


def is_volume(dose: Card) -> bool:
    """Whether a dose is stated as a volume, and not as a rate of one."""
    amount = dose.get("amount") or {}
    return bool(amount) and units.kind(amount["unit"]) in ("volume", "volume/kg", "bag")


def amount_unsaid(dose: Card) -> bool:
    """Whether a bolus was broken off and nobody said how much of it went in."""
    return dose["status"] == "stopped" and is_volume(dose) and not dose.get("infused") and not dose.get("in_error")


def _counted_whole(dose: Card) -> str:
    """That totals count it whole, beside what its time says, where it had one."""
    if not amount_unsaid(dose):
        return ""
    volume = bolus_run(msgspec.convert(dose, Dose))
    if volume is None:
        return _("amount not stated, counted whole")
    return _("about {volume} mL by its rate, counted whole", volume=number_text(round(float(volume))))


def _rate_text(dose: Card, rate_told: Card) -> str:
    """A rate, or that there was none: all of one line in one unit, with the pump's beside it where that is known."""
    rate, strength = msgspec.convert((rate_told, dose["concentration"]), tuple[Rate, Amount | None])
    strength = rate.concentration or strength
    if rate.amount is None:
        return _("held")
    stated, pump = _restated(rate.amount, _unit(dose), rate.weight, strength), set_for.pump(rate, strength)
    beside = f" = {amount_text(pump)}" if pump and pump.unit != stated.unit else ""
    return f"{amount_text(stated)}{beside}"


def _unit(dose: Card) -> str:
    """The unit in which the rates of an infusion are told: that of the dose, never the pump's where one is known."""
    stated = (rate["amount"]["unit"] for rate in dose["rates"] if rate["amount"])
    return next((unit for unit in stated if unit != set_for.PUMP), dose.get("rate_unit") or set_for.PUMP)


def _restated(rate: Amount, unit: str, weight: Weight | None, strength: Amount | None) -> Amount:
    """A rate in this unit, by the weight for which it was set; as it was set where that cannot be reckoned."""
    try:
        return rate if rate.unit == unit else restated(rate, unit, weight, strength)
    except WrongUnit:
        return rate
