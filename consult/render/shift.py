"""A case in the words of a shift handover: its state, the last order, what its physician waits for."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from consult import zone
from consult.clock import when
from consult.render import alarms, handover, handover_doses, lost_lines, treatments, vitals
from consult.render.arrest import arrest
from consult.render.case import facts
from consult.render.order_story import apart, awaited, stepped, told
from consult.render.running import with_rate
from consult.render.words import allergies_text, person, plain, who_text, whom
from dosing.ground.language import gettext as _

Card = Mapping[str, Any]


def line(card: Card, last_order: Mapping[str, Any] | None, now: datetime) -> dict[str, Any]:
    """What is said of a case when its physician changes; `last_order` is the newest one, also where it has ended."""
    pressure = vitals.pressure(card)
    number = ".".join(filter(None, [pressure["whole"], pressure["part"]]))
    return {
        "id": card["case"],
        "whom": whom(card),
        "who": who_text(person(card["patient"])),
        "allergies": allergies_text(card["patient"]),
        "impression": plain(card["impression"]).capitalize(),
        "complaint": card["complaint"],
        "arrest": arrest(card),
        "pressure": f"{pressure['name']} {number}" if pressure["taken_at"] else _("no pressure yet"),
        "state": _state(pressure),
        "taken_at": pressure["taken_at"],
        "measured": handover.sets(card),
        "given": handover_doses.given(card),
        "access": next((fact["value"] for fact in facts(card) if fact["name"] == _("Access")), ""),
        "done": handover.done(card),
        "running": [f"{_as_set(dose)}{_held(dose)}{_by_steps(dose, card)}" for dose in with_rate(card)],
        "stopped": _stopped(card),
        "last_order": f"{last_order['shown'] or last_order['title']}, {told(last_order)}" if last_order else "",
        "waits": waits_for(card, now),
        "eta": card["eta"],
        "destination": card["destination"],
        "physician": (card["physician"] or {}).get("name") or "",
        "offered": card["offered"],
    }


def _state(pressure: Card) -> str:
    if pressure["apart"]:
        return f"{pressure['last_word']} {pressure['apart']}"
    return str(pressure["word"]) if pressure["taken_at"] else ""


def _as_set(dose: Card) -> str:
    """What runs with the pump's rate, for which other weight it was set, and what became known since."""
    return ", ".join(filter(None, [dose["shown"], dose["pump_beside"], dose["set_for"], *dose["known_since"]]))


def _held(dose: Card) -> str:
    at = zone.clock(when(dose["changed_at"] or dose["given_at"]))
    return _(", HELD since {at}", at=at) if dose["status"] == "held" else ""


def _by_steps(dose: Card, card: Card) -> str:
    """By which order the crew steps it up, that nobody orders the same once more."""
    found = (order for order in card["orders"] if stepped(order) and order["intervention"] == dose["id"])
    return "".join(f", {awaited(order)}, {apart(order)[1]}" for order in found)


def _stopped(card: Card) -> list[str]:
    """The infusions that have ended, with how and when."""
    ended = [dose for dose in card["doses"] if dose.get("rates") and dose["ended_at"] and not dose["in_error"]]
    return [f"{dose['shown']}, {plain(dose['status'])} {zone.clock(when(dose['ended_at']))}" for dose in ended]


def waits_for(card: Card, now: datetime) -> list[str]:
    """What is open: what is off for want of a line, orders that wait, readings due, alerts nobody took notice of."""
    open_ones = [order for order in card["orders"] if not stepped(order)]
    orders = [f"{order['shown'] or order['title']}: {awaited(order)}" for order in open_ones]
    due = [
        _("{needs} after {doses}, {due}", needs=each["needs_text"], doses=each["because"], due=_due(each, now))
        for each in treatments.due(card, most=5)
    ]
    asked = [f"{plain(each.get('topic', 'question'))}: {each['text']}" for each in card.get("questions") or ()]
    told_to = [_("understood or done: {text}", text=each["text"]) for each in card.get("instructions") or ()]
    alerts = [_("{word} alert: {text}", word=each["word"], text=each["text"]) for each in alarms.raised(card)]
    return [*lost_lines.words(card), *orders, *asked, *told_to, *due, *treatments.overdue_besides(card), *alerts]


def _due(each: Mapping[str, Any], now: datetime) -> str:
    if each["state"] == "unknown":
        return _("unknown: no contact")
    words = _("overdue since") if each["state"] == "overdue" else _("due")
    return f"{_('due by') if treatments.before_its_time(each, now) else words} {zone.clock(when(each['due_at']))}"
