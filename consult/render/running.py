"""What runs, as pages show it: its rate and the pump's, whether it is held, where a titration by order stands."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import msgspec
from django.utils.text import capfirst

from consult import zone
from consult.case.order_words import NEWER
from consult.clock import when
from consult.render.in_hand import discard_first, empty_text
from consult.render.order_story import says
from consult.render.treatments import goes_on, ordered, outside
from dosing.check import infusion
from dosing.ground.facts import Amount, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, number_text
from dosing.ground.titration import Titration
from dosing.tell import set_for, titration

Card = Mapping[str, Any]


def running(card: Card) -> list[dict[str, Any]]:
    """What runs at a rate or is held, and each bolus, with the pump's rate and to when what is in hand lasts."""
    held = {line["id"]: line for line in card.get("in_hand") or ()}
    found = [dose for dose in with_rate(card) if dose.get("amount")]
    return [_line(dose, held.get(dose.get("container") or dose["id"])) for dose in found]


def with_rate(card: Card) -> list[dict[str, Any]]:
    """All that runs or is held; of what has a rate the pump's, and what it is for the weight on record by now."""
    weight = msgspec.convert(card["patient"]["weight"], Weight | None)
    return [{**dose, **_rate(dose, weight), "known_since": _known(dose)} for dose in card.get("running") or ()]


def _known(dose: Card) -> list[str]:
    """What became known of the patient while it runs, and lies beyond what a crew may give without an order."""
    return [
        _("Known since {time}: {text}", time=zone.clock(when(each["at"])), text=each["text"])
        for each in dose.get("known_since") or ()
    ]


def _rate(dose: Card, weight: Weight | None) -> dict[str, str]:
    rates = [each for each in dose.get("rates") or () if each["amount"]]
    if not rates:
        return {"rate": "", "pump": "", "pump_beside": "", "set_for": ""}
    rate, strength = msgspec.convert((rates[-1], dose["concentration"]), tuple[Rate, Amount | None])
    runs = dose["status"] == "running" and set_for.pump(rate, strength)
    pump = amount_text(runs) if runs else ""
    beside = pump if runs != rate.amount else ""
    now = infusion.set_for(rate, weight)
    told = {"rate": amount_text(now) if now else "", "set_for": set_for.told(rate, strength, weight)}
    return {**told, "pump": pump, "pump_beside": beside}


def _line(dose: Card, bag: Card | None) -> dict[str, Any]:
    rate = bag["rate"] if bag else None
    return {
        **dose,
        "held": dose["status"] == "held",
        "bolus": not dose.get("rates"),
        "ordered": ordered(dose),
        "lasts_to": bag["lasts_to"] if bag and rate else None,
        "empty": empty_text(bag) if bag else "",
        "discard_at": bag["discard_at"] if bag and rate and discard_first(bag) else None,
        "was": json.dumps(dose["amount"]),
    }


def restarted(dose: Card) -> bool:
    """Whether what runs was held until its newest rate was set: what is held has a rate of None."""
    rates = dose.get("rates") or []
    return dose["status"] == "running" and len(rates) > 1 and rates[-2]["amount"] is None


def runs_now(card: Card) -> dict[str, list[tuple[str | None, str]]]:
    """By treatment what of it runs, what for, and whether by order: ``runs at 0.1 mcg/kg/min, as ordered``."""
    found: dict[str, list[tuple[str | None, str]]] = {}
    for dose in with_rate(card):
        rate = _(" at {amount}", amount=dose["rate"]) if dose["rate"] else ""
        how = _("HELD") if dose["status"] == "held" else _("runs{rate}", rate=rate)
        by = ordered(dose) or outside(dose) or (_("started before this crew") if dose.get("prior") else "")
        found.setdefault(dose["treatment"], []).append((dose.get("indication"), ", ".join(filter(None, [how, by]))))
    return found


def stepping(card: Card, order: Card) -> dict[str, Any] | None:
    """Where an order stands by which the crew steps a rate up, in words; None where nothing is stepped up by it."""
    stands = next((each for each in card.get("titrations") or () if each["order"] == order["id"]), None)
    return stands and {
        **stands,
        **words(stands),
        "other_goal": _other_goal(card, order["titrate"]),
        "newer_text": _newer(card, stands),
    }


def ends_steps_of(card: Card, order: Card) -> str | None:
    """When the steps were ordered that this newer order ends once it is read back; None where it ends none."""
    if order["state"] != "approved" or order.get("action") not in NEWER:
        return None
    ended = {each["order"] for each in card.get("titrations") or () if each["intervention"] == order["intervention"]}
    return next((each["decided_at"] for each in card["orders"] if each["id"] in ended), None)


def steps(card: Card) -> list[dict[str, Any]]:
    """The same for each order of the case, with what runs by it; for the page that sets the next rate by one press."""
    doses = {dose["id"]: dose for dose in card.get("running") or () if goes_on(dose)}
    orders = {order["id"]: order for order in card.get("orders") or ()}
    titrates = {key: order.get("titrate") for key, order in orders.items()}
    return [
        {
            **each,
            **words(each),
            "dose": doses[each["intervention"]],
            "told": _told(titrates[each["order"]]),
            "says": says(orders[each["order"]]),
            "goal": titrates[each["order"]]["goal"],
            "other_goal": _other_goal(card, titrates[each["order"]]),
            "newer_text": _newer(card, each),
        }
        for each in card.get("titrations") or ()
    ]


def words(stands: Card) -> dict[str, str]:
    """The rate now and the next one, each with the pump's: ``0.1 mcg/kg/min = 30 mL/h``; what stops the steps."""
    return {
        "now_text": _both(stands["now"], stands["now_pump"]),
        "next_text": _both(stands["next"], stands["next_pump"]),
        "next_key": json.dumps(stands["next"]) if stands["next"] else "",
        "above_text": _above(stands),
    }


def _above(stands: Card) -> str:
    by = stands.get("well_above_by")
    return "" if by is None else _("Well above the goal, by {by} mmHg.", by=number_text(int(by)))


def _other_goal(card: Card, titrate: Card) -> str:
    """That the goal in force is not the one to which these steps go: setting a goal changes no order."""
    now, ordered_to = card.get("goal"), titrate["goal"]
    if not now or goal_words(now) == goal_words(ordered_to):
        return ""
    if now["measure"] != ordered_to["measure"] and not now["since"]:
        return ""  # nobody set another: the rules have a floor for either measure
    return _(
        "The goal is {now} now. These steps still go to {to}, until a physician orders others.",
        now=goal_words(now),
        to=goal_words(ordered_to),
    )


def goal_words(goal: Card) -> str:
    """A goal with what it is measured by: ``MAP 65``."""
    return f"{titration.MEASURES[goal['measure']]} {number_text(goal['floor'])}"


def _newer(card: Card, stands: Card) -> str:
    newer = next((each for each in card.get("orders") or () if each["id"] == stands.get("newer")), None)
    return _("New order {newer}: read it back first.", newer=NEWER[newer["action"]]) if newer else ""


def _told(titrate: Card) -> str:
    return capfirst(titration.told(msgspec.convert(titrate, Titration)))


def _both(rate: Card | None, pump: Card | None) -> str:
    beside = f" = {_text(pump)}" if pump and rate and pump["unit"] != rate["unit"] else ""
    return f"{_text(rate)}{beside}"


def _text(amount: Card | None) -> str:
    return amount_text(Amount(amount["value"], amount["unit"])) if amount else ""
