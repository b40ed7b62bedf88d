"""Whether a case needs a physician now, and why: one answer for board, case pages and the count of both."""

from __future__ import annotations

from consult.render.alarms import raised
from consult.render.arrest import in_arrest
from consult.render.lines import Card
from consult.render.order_story import stage
from dosing.ground.language import gettext as _


def why(card: Card) -> str:
    """Why it does, the gravest first; empty where it does not: an order that waits for its crew asks nobody."""
    alarms = raised(card)
    if in_arrest(card):
        return _("cardiac arrest")
    if alarms:
        return str(alarms[0]["text"])
    orders = card.get("orders") or ()
    if any(order["state"] == "requested" and order.get("waiting_since") for order in orders):
        return _("order requested")
    if any(stage(order) == "cosign" for order in orders):
        return _("second physician needed")
    return _("question asked") if card.get("questions") else ""
