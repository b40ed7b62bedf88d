"""What a crew says at the handover of what was given, with its response, and of what runs, with every rate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from consult.render import lost_lines, treatments
from consult.render.case import facts
from consult.render.dose_course import before, changes, told, voice
from consult.render.in_hand import discard_first
from consult.render.lines import Card, Line, at_time, filled, said, times
from consult.render.running import with_rate
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text


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
    lines += [[*told(card, dose), *_response(answers, [dose])] for dose in over if dose["ended_at"]]
    fluid = treatments.fluids(card)
    return [*lines, *said(_("Fluid in all {fluid}", fluid=fluid) if fluid else "")] or [[_("nothing recorded")]]


def _response(answers: Mapping[str, Card], doses: Sequence[Card]) -> Line:
    """The MAP before and after the newest of these doses, where both were measured."""
    answer = answers.get(doses[-1]["id"])
    if not answer or answer["map_before"] is None or answer["map_after"] is None:
        return []
    before, after = round(answer["map_before"]), round(answer["map_after"])
    shared = _(", overlapping treatments") if answer["shared"] and before != after else ""
    words = _("; MAP {before} to {after} after the last") if len(doses) > 1 else _("; MAP {before} to {after}")
    return [words.format(before=before, after=after) + shared]


def _what(dose: Card) -> str:
    return f"{dose['shown']}{_(', stopped') if dose['status'] == 'stopped' else ''}{before(dose)}"


def running(card: Card) -> list[Line]:
    """Infusions and fluids with their rates, and the ways in."""
    held = {line["id"]: line for line in card.get("in_hand") or () if line["rate"]}
    lines: list[Line] = [
        [
            ", ".join(filter(None, [f"{dose['shown']}{voice(dose)}", dose["set_for"], *dose["known_since"]])),
            *at_time(
                _(", HELD since {time}") if dose["status"] == "held" else _(", since {time}"),
                dose["changed_at"] or dose["given_at"],
            ),
            *([f" ({dose['reason']})"] if dose.get("reason") else []),
            *_rates_before(dose),
            *_rate(held.pop(_bag_of(dose, held), None), dose["pump_beside"]),
        ]
        for dose in with_rate(card)
    ]
    lines += [[line["what"], *_rate(line)] for line in held.values()]
    ways_in = next(fact["value"] for fact in facts(card) if fact["name"] == _("Access"))
    off = [each["line"] for each in lost_lines.off(card)]
    return [*(lines or [[_("nothing recorded as running")]]), *off, [_("Access: {ways_in}", ways_in=ways_in)]]


def _rates_before(dose: Card) -> Line:
    """The rates at which an infusion ran before, each with its time."""
    earlier = (dose.get("rates") or [])[:-1]
    return [" ", *filled(_("(before: {rates})"), rates=changes(dose, earlier))] if earlier else []


def _bag_of(dose: Card, held: Mapping[str, Card]) -> str:
    """The bag or syringe that a dose runs from: the one it names or hung itself, else one of the same treatment."""
    named: str = dose["container"] or dose["id"]
    alike = (key for key, line in held.items() if line["treatment"] == dose["treatment"])
    return named if named in held else next(alike, named)


def _rate(line: Card | None, pump: str = "") -> Line:
    """The pump's rate or the flow, and to when what is in it lasts; of what names no bag the pump's rate alone."""
    if line is None:
        return [f", {pump}"] if pump else []
    first = discard_first(line)
    words, until = (_(", discard by {time}"), "discard_at") if first else (_(", lasts to {time}"), "lasts_to")
    return [f", {amount_text(Amount(**line['rate']))}", *at_time(words, line[until])]
