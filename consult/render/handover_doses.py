"""What a crew says at the handover of what was given, with its response, and of what runs, with every rate."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import msgspec

from consult.render import treatments
from consult.render.case import facts
from consult.render.in_hand import discard_first
from consult.render.lines import Card, Line, at_time, clock, filled, joined, said, times
from consult.render.words import plain
from dosing.check.infusion import restated
from dosing.ground.facts import Amount, Dose, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, number_text
from dosing.ground.units import WrongUnit
from dosing.held.draws import volume_run
from dosing.tell import set_for


def given(card: Card) -> list[Line]:
    """What was given and does not run, alike doses on one line with their times; the fluid in all."""
    over = [dose for dose in card.get("doses") or () if not dose["in_error"] and not treatments.goes_on(dose)]
    answers = {each["intervention"]: each for each in card.get("responses") or ()}
    alike: dict[str, list[Card]] = {}
    for dose in over:
        if not dose["ended_at"]:
            alike.setdefault(_what(dose), []).append(dose)
    lines: list[Line] = [
        [what, *times([dose["given_at"] for dose in doses]), *_response(answers, doses)]
        for what, doses in alike.items()
    ]
    lines += [[*_course(dose), *_response(answers, [dose])] for dose in over if dose["ended_at"]]
    fluid = treatments.fluids(card)
    running = any(map(_is_volume, card.get("running") or ()))
    words = _("Fluid in all {fluid}, running boluses counted in full") if running else _("Fluid in all {fluid}")
    return [*lines, *said(words.format(fluid=fluid) if fluid else "")] or [[_("nothing recorded")]]


def _response(answers: Mapping[str, Card], doses: Sequence[Card]) -> Line:
    """The MAP before and after the newest of these doses, where both were measured."""
    answer = answers.get(doses[-1]["id"])
    if not answer or answer["map_before"] is None or answer["map_after"] is None:
        return []
    before, after = round(answer["map_before"]), round(answer["map_after"])
    shared = _(", overlapping treatments") if answer["shared"] and before != after else ""
    words = _("; MAP {before} to {after} after the last") if len(doses) > 1 else _("; MAP {before} to {after}")
    return [words.format(before=before, after=after) + shared]


def _is_volume(dose: Card) -> bool:
    """Whether a dose is stated as a volume, and not as a rate of one."""
    return (dose.get("amount") or {}).get("unit") in ("mL", "L", "mL/kg", "bag")


def _what(dose: Card) -> str:
    return f"{dose['shown']}{_(', stopped') if dose['status'] == 'stopped' else ''}{_before(dose)}"


def _before(dose: Card) -> str:
    """Who gave it before the crew, or how an order by voice stands."""
    if not dose["prior"]:
        return _voice(dose)
    by = plain(dose.get("prior_by") or "")
    return (_(", before this crew by {by}", by=by) if by else _(", before this crew")) + _voice(dose)


def _voice(dose: Card) -> str:
    """How an order by voice stands that nobody stands for."""
    stands = treatments.voice_text(dose)
    return f", {stands}" if stands else ""


def _course(dose: Card) -> Line:
    """What ran: its rates with their times, its end, and how much went in where that was told."""
    first, *later = dose.get("rates") or [None]
    shown = _without_rate(dose) if first else dose["shown"]
    end: Line = [f", {plain(dose['status'])} ", {"clock": dose["ended_at"]}]
    given = clock(dose["given_at"])
    rate = _rate_text(dose, first) if first else ""
    start = [f"{shown}{_before(dose)}, ", *(filled(_("{rate} from {time}"), rate=rate, time=given) if first else given)]
    return [*start, *_changes(dose, later), *end, *_volume(dose)]


def _without_rate(dose: Card) -> str:
    """What ran without its last rate, which may be told twice over: ``0.2 mcg/kg/min = 12 mL/h``."""
    rate = re.escape(amount_text(Amount(**dose["amount"])))
    return re.sub(rf" (\S+ \S+ = )?{rate}(?= |$)( = \S+ \S+)?", "", dose["shown"], count=1)


def _from(dose: Card, rate: Card) -> Line:
    """A rate with the time from which it ran."""
    return filled(_("{rate} from {time}"), rate=_rate_text(dose, rate), time=clock(rate["at"]))


def _changes(dose: Card, rates: Sequence[Card]) -> Line:
    """Each of these rates with its time."""
    return joined("", [[", ", *_from(dose, rate)] for rate in rates])


def _volume(dose: Card) -> Line:
    """How much went in: as it was told, else what its rates come to."""
    if dose.get("infused"):
        return [_(", {amount} went in", amount=amount_text(Amount(**dose["infused"])))]
    volume = volume_run(msgspec.convert(dose, Dose))
    return (
        []
        if volume is None
        else [_(", {volume} mL by its rates", volume=number_text(round(float(volume), 1 if volume >= 10 else 2)))]
    )


def _rate_text(dose: Card, told: Card) -> str:
    """A rate, or that there was none: all of one line in one unit, with the pump's beside it where that is known."""
    rate, strength = msgspec.convert((told, dose["concentration"]), tuple[Rate, Amount | None])
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


def running(card: Card) -> list[Line]:
    """Infusions and fluids with their rates, and the ways in."""
    held = {line["id"]: line for line in card.get("in_hand") or () if line["rate"]}
    lines: list[Line] = [
        [
            f"{dose['shown']}{_voice(dose)}",
            *at_time(
                _(", HELD since {time}") if dose["status"] == "held" else _(", since {time}"),
                dose["changed_at"] or dose["given_at"],
            ),
            *_rates_before(dose),
            *_rate(held.pop(_bag_of(dose, held), None)),
        ]
        for dose in card.get("running") or ()
    ]
    lines += [[line["what"], *_rate(line)] for line in held.values()]
    ways_in = next(fact["value"] for fact in facts(card) if fact["name"] == _("Access"))
    return [*(lines or [[_("nothing recorded as running")]]), [_("Access: {ways_in}", ways_in=ways_in)]]


def _rates_before(dose: Card) -> Line:
    """The rates at which an infusion ran before, each with its time."""
    first, *later = (dose.get("rates") or [])[:-1] or [None]
    return (
        []
        if first is None
        else [" ", *filled(_("(before: {rates})"), rates=[*_from(dose, first), *_changes(dose, later)])]
    )


def _bag_of(dose: Card, held: Mapping[str, Card]) -> str:
    """The bag or syringe that a dose runs from: the one it names or hung itself, else one of the same treatment."""
    named: str = dose["container"] or dose["id"]
    alike = (key for key, line in held.items() if line["treatment"] == dose["treatment"])
    return named if named in held else next(alike, named)


def _rate(line: Card | None) -> Line:
    """The pump's rate or the flow, and to when what is in it lasts."""
    if line is None:
        return []
    first = discard_first(line)
    words, until = (_(", discard by {time}"), "discard_at") if first else (_(", lasts to {time}"), "lasts_to")
    return [f", {amount_text(Amount(**line['rate']))}", *at_time(words, line[until])]
