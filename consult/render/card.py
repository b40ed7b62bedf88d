"""A card as the board shows it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string

from consult.chart.summary import legend
from consult.chart.trend import small_trend, trend
from consult.clock import when
from consult.render import alarms, lost_lines, needs, orders, questions, treatments, vitals
from consult.render.arrest import arrest, in_arrest
from consult.render.words import allergic, allergies_text, person, plain, whom
from dosing.ground.language import gettext as _

LAST = "9999"


def card_html(card: Mapping[str, Any]) -> str:
    """The card as one ``<article>``: no viewer and no time of day goes into it, so one drawing serves every board."""
    return render_to_string("board/_card.html", {"card": card_view(card)})


def card_view(card: Mapping[str, Any]) -> dict[str, Any]:
    """The texts and drawings that the card's template places; keys as the template names them."""
    pressure = vitals.pressure(card)
    asked = orders.orders(card)
    put, told = questions.questions(card), card.get("instructions") or ()
    given, earlier = treatments.newest_doses(card)
    waiting = len(put) + sum(map(_waits, asked))
    return {
        **who(card),
        "pressure": pressure,
        "cells": vitals.cells(card),
        "now": json.dumps(vitals.now_text(card), ensure_ascii=False),
        "below": vitals.below_goal(card),
        "signs": vitals.signs(card),
        "trend": trend(card),
        "small_trend": small_trend(card),
        "legend": legend(card),
        "given": given,
        "earlier": earlier,
        "due": treatments.due(card),
        "off": lost_lines.off(card),
        "doubtful": [f"{held['what']}: {held['note']}" for held in card.get("in_hand") or () if held["note"]],
        "orders": asked,
        "questions": put,
        "instructions": [{**each, "decided": questions.decided(each)} for each in told],
        "still_open": [
            *(order["what"] for order in asked),
            *(_("question: {text}", text=each["text"]) for each in put),
            *(_("instruction: {text}", text=each["text"]) for each in told),
        ],
        "new_destination": questions.destination(card, "physician"),
        **_warned(card),
        "waiting": waiting,
        "needs": bool(needs.why(card)),
        "decide": bool(put) or any(order["asked"] or order["stage"] == "cosign" for order in asked),
        "countersigns": card.get("countersigns") or (),
        "sort": sort_key(card),
    }


def _warned(card: Mapping[str, Any]) -> dict[str, Any]:
    known = alarms.alarms(card)
    raised = len(alarms.raised(card)) + in_arrest(card)
    return {
        "alarms": known,
        "behind": alarms.behind(known),
        "alarm": "high" if in_arrest(card) else known[0]["priority"] if raised else "",
        "raised": raised,
    }


def _waits(order: Mapping[str, Any]) -> bool:
    """Whether an order needs a physician: to decide on it, or to co-sign it."""
    return bool(order["asked"] and not order["clock_stopped"]) or order["stage"] == "cosign"


def who(card: Mapping[str, Any]) -> dict[str, Any]:
    """Who and where: call sign, person, impression, complaint, destination, arrival, medical control."""
    physician = card.get("physician") or {}
    return {
        "id": card["case"],
        "seq": card["seq"],
        "state": card["state"],
        "call_sign": card["unit"]["call_sign"],
        "call": (call := card["unit"].get("call") or ""),
        "call_tel": questions.dialed(call),
        "person": person(card["patient"]),
        "whom": whom(card),
        "arrest": arrest(card),
        "impression": plain(card.get("impression") or "undifferentiated").capitalize(),
        "complaint": card.get("complaint") or "",
        "destination": card.get("destination") or "",
        "eta": card.get("eta"),
        "no_coverage_until": None if _heard_again(card) else card.get("no_coverage_until"),
        "physician": physician.get("name") or "",
        "physician_id": physician.get("id") or "",
        "offered_to": ((card.get("offered") or {}).get("to") or {}).get("name") or "",
        "moved": (card.get("former_units") or [None])[-1],
        "moved_not_seen": bool(card.get("moved_not_seen_since")),
        "allergies": allergies_text(card["patient"]) if allergic(card["patient"]) else "",
    }


def _heard_again(card: Mapping[str, Any]) -> bool:
    """Whether the unit was heard of after the gap in coverage that its crew has announced had begun."""
    back_from, heard = card.get("coverage_back_from"), card.get("last_contact_at")
    return bool(back_from and heard) and when(str(heard)) >= when(str(back_from))


def sort_key(card: Mapping[str, Any]) -> str:
    """A text that sorts cards by need.

    Cardiac arrest, high alarm, medium alarm, waiting order or question, overdue, pressure or vital signs beyond their
    limits; among the first the patients in danger; then what is due soonest; then the call sign.
    """
    danger = "0" if _in_danger(card) else "1"
    return "|".join((str(_rank(card)), danger, _soonest(card), str(card["unit"]["call_sign"])))


def _rank(card: Mapping[str, Any]) -> int:
    if in_arrest(card):
        return -1
    priorities = {entry["priority"] for entry in alarms.raised(card)}
    states = {order["state"] for order in card.get("orders") or ()}
    overdue = any(entry["state"] == "overdue" for entry in card.get("reassessments") or ())
    pressure = vitals.judged_now(card)
    waits = bool(states & {"requested", "approved"} or card.get("questions"))
    ranks = ("high" in priorities, "medium" in priorities, waits, overdue,
             pressure in ("critical", "below_goal") or bool(vitals.alarming(card)))  # fmt: skip
    return ranks.index(True) if True in ranks else len(ranks)


def _in_danger(card: Mapping[str, Any]) -> bool:
    """Whether the pressure is critical or a vital sign dangerous: not only an order late or a dose too big."""
    return vitals.judged_now(card) == "critical" or "danger" in vitals.alarming(card).values()


def _soonest(card: Mapping[str, Any]) -> str:
    """When the next reassessment is due, for cards that nothing else puts forward; the same text for all others."""
    due = [entry["due_at"] for entry in card.get("reassessments") or ()]
    return min(due) if due and _rank(card) >= 4 else LAST
