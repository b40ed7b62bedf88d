"""An order as a line of a crew's page: what, its state in a word, and what the crew is asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.text import capfirst

from consult.case.order_words import BEGINS
from consult.render.order_story import (
    action,
    apart,
    awaited,
    by_itself,
    changed,
    held,
    known_since,
    open_question,
    placed,
    says,
    stage,
    stepped,
)
from consult.render.orders import how
from dosing.ground.language import gettext as _

Card = Mapping[str, Any]

ORDER_WORDS = {
    "requested": _("Requested"),
    "approved": _("Read back now"),
    "cosign": _("Waits for a second physician: do not give"),
    "read_back": _("Prepare and give"),
    "given": _("Given"),
    "declined": _("Declined"),
    "withdrawn": _("Withdrawn"),
    "not_given": _("Not given"),
    "expired": _("Expired"),
    "voided": _("Voided"),
}
CHANGE_WORDS = {  # of what runs
    "cosign": _("Waits for a second physician: do not carry it out"),
    "given": _("Carried out"),
    "not_given": _("Not carried out"),
}


def order_row(order: Card, stands: Card | None = None) -> dict[str, Any]:
    """An order as a line: what, its state in a word, and what the crew is asked; `stands`: where its steps do."""
    asked = open_question(order)
    by_step = stepped(order)
    lead, by_steps = apart(order)
    return {
        **order,
        "lead": lead,
        "by_steps": by_steps,
        "changed": changed(order) if stage(order) == "approved" else "",
        "how": how(order),
        "says": says(order),
        "expired": held({**order, "state": "expired"}),
        "asked_because": "" if placed(order) else order.get("reason"),
        "question": asked,
        "known_since": known_since(order),
        "stepped": by_step,
        "state_word": _("Query: answer it") if asked else _step_word(stands) if by_step else state_word(order),
    }


def state_word(order: Card) -> str:
    """An order's state in a word; nobody has withdrawn what ended by itself."""
    if known_since(order):
        return held(order)
    if by_itself(order) and order["state"] == "withdrawn":
        return _("Ended automatically")
    stands = stage(order)
    if action(order) in BEGINS:
        return ORDER_WORDS[stands]
    return capfirst(awaited(order)) if stands == "read_back" else CHANGE_WORDS.get(stands, ORDER_WORDS[stands])


def _step_word(stands: Card | None) -> str:
    """What the crew does by an order with steps: nothing while held or replaced, at the goal or at the most ordered."""
    at_goal = _("At this order’s goal") if (stands or {}).get("other_goal") else _("At the goal")
    stops = {
        "newer": _("Replaced: read back the new order"),
        "held": _("Held: run it again first"),
        "at_most": _("At the ordered maximum"),
        "at_goal": at_goal,
    }
    return next((text for name, text in stops.items() if (stands or {}).get(name)), _("Step it up"))
