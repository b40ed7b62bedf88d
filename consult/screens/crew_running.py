"""When a bolus that runs will be in, at the flow that the crew sees: how much of it has run in so far."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from consult import problems, queries
from consult.clock import stamp, when
from consult.models import Case
from consult.render.order_story import stepped
from consult.screens.crew_choices import BAG_CHANGED
from dosing.check import fluids
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, minutes_text, number_text

_MINUTE = timedelta(minutes=1)


HELD = "held"  # in an address in place of a rate: it was never run again
AGAIN = "running"  # the same: it runs again
ENDED = {"finished": _("Finished"), "stopped": _("Stopped early")}


def run_out(card: Mapping[str, Any], dose_id: UUID) -> dict[str, Any]:
    """What ran once and runs no more, as its page tells it; raises ``NotFound`` for what never ran here."""
    dose = next((each for each in card.get("doses") or () if each["id"] == str(dose_id)), None)
    if dose is None or dose["status"] not in ENDED:
        raise problems.NotFound(_("This is not running in this case."))
    became = _("Entered in error") if dose.get("in_error") else ENDED[dose["status"]]
    return {"what": dose["title"], "became": became, "at": dose["ended_at"], "because": ""}


def bags(card: Mapping[str, Any], dose: Mapping[str, Any]) -> list[dict[str, str]]:
    """The strengths from which what runs may run on, that of now first; nothing where no other one is in hand."""
    in_hand = [each for each in card.get("in_hand") or () if each["treatment"] == dose["treatment"]]
    left = [each["strength"] for each in in_hand if each["strength"] and each["left"]["value"]]
    found = dict[str, dict[str, str]]()
    for number, strength in enumerate(filter(None, [dose.get("concentration"), *left])):
        amount = Amount(strength["value"], strength["unit"])
        name = _("runs now") if not number and dose.get("concentration") else _("in hand")
        found.setdefault(amount_text(amount), {"key": f"{amount.value:g} {amount.unit}", "name": name})
    return [{**each, "text": told} for told, each in found.items()] if len(found) > 1 else []


def about(order: Mapping[str, Any], running: Iterable[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """What an order changes, holds or stops, of all that runs."""
    return next((dose for dose in running if dose["id"] == order.get("intervention")), None)


def rate_ordered(orders: Iterable[Mapping[str, Any]], dose: Mapping[str, Any]) -> str:
    """The rate that the first of these orders names, in JSON, also as the pump's (mL/h) for the strength that runs."""
    order = next((each for each in orders if each["action"] in ("start", "change") and each.get("amount")), None)
    if order and order.get("titrate"):
        return ""  # which rates it allows, its check says
    if order is None:
        return ""
    rate = ((order.get("check") or {}).get("give") or {}).get("rate")
    alike = rate and order.get("concentration") in (None, dose.get("concentration"))
    text = amount_text(Amount(**order["amount"]))
    return json.dumps({"amount": order["amount"], "text": text, "pump": rate if alike else None})


def held_by(orders: Iterable[Mapping[str, Any]], dose: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The order by which it was held, while it is; None where none held it."""
    if dose["status"] != "held":
        return None
    about = (each for each in orders if each["action"] == "hold" and each.get("intervention") == dose["id"])
    return next((each for each in about if dose["changed_at"] in each["given_at"]), None)


def is_bag_changed(dose: Mapping[str, Any]) -> bool:
    """Whether it is held for another bag or pump."""
    return dose["status"] == "held" and str(dose.get("reason") or "").startswith(BAG_CHANGED)


def holder(case: Case, dose: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The same, of all orders of its case."""
    return held_by(queries.orders_read_back(case, dose["treatment"]), dose)


def as_read_back(order: Mapping[str, Any]) -> dict[str, Any]:
    """What the order does with what runs, by the form's own names, to be chosen already; nothing once it is held."""
    status = {"change": "rate", "hold": "held", "stop": "stopped"}.get(order["action"])
    if status is None or order["gate"]["hold"]:
        return {}
    said = (order.get("read_back") or {}).get("said") or {}
    rate = said.get("rate") or order.get("amount") if status == "rate" else None
    return {"status": status, "value": f"{rate['value']:g}" if rate else "", "unit": rate["unit"] if rate else ""}


def set_again(wanted: str, units: Collection[str]) -> dict[str, Any]:
    """The rate ``0.1 mcg/kg/min`` of the address as the form's new rate, that it is held or that it runs again."""
    if wanted in (HELD, AGAIN):
        return {"status": wanted, "value": "", "unit": ""}
    number, _space, unit = wanted.partition(" ")
    known = number.replace(".", "", 1).isdecimal() and unit in units
    return {"status": "rate", "value": number, "unit": unit} if known else {}


def time_left(dose: Mapping[str, Any], infused: str, now: datetime) -> dict[str, str] | None:
    """Flow, time left and end of a bolus of which so many mL are in; None where that says nothing.

    ``infused`` is what was typed. Of a bolus in bags or per kg nobody knows the whole in mL.
    """
    try:
        so_far = units.quantity(Amount(float(infused.replace(",", ".")), "mL"))
        whole = units.quantity(Amount(**(dose.get("amount") or {})))
        seen = fluids.observed(whole, so_far, (now - when(dose["given_at"])) / _MINUTE)
    except (TypeError, ValueError):
        return None
    if seen is None or units.kind(dose["amount"]["unit"]) != "volume":
        return None
    return {
        "flow": _("{flow} mL/min", flow=number_text(seen.flow)),
        "left": minutes_text(seen.left_min),
        "ends_at": stamp(now + timedelta(minutes=float(seen.left_min))),
    }


def ends_with(card: Mapping[str, Any], dose: Mapping[str, Any]) -> str:
    """The order by which the crew steps this up, which its end ends, too; "" where there is none."""
    found = (each["shown"] for each in card.get("orders") or () if each["intervention"] == dose["id"] and stepped(each))
    return next(found, "")
