"""One order as its page tells it to the crew: the steps of the loop, what was ordered, what is asked of whom."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.utils.text import capfirst

from consult import access, clock, problems, queries, zone
from consult.access import Actor
from consult.actions import checks
from consult.case.order_words import BEGINS
from consult.models import Case
from consult.render.order_story import (
    by_itself,
    changed,
    held,
    known_since,
    last_step,
    placed,
    stage,
    steps,
    talk,
    told,
)
from consult.render.orders import misread, weight_range
from consult.render.words import DIFFERENCES
from consult.resources.orders import order_dict
from consult.screens.crew_order_row import order_row
from dosing.ground.language import gettext as _

OPEN = ("requested", "approved", "read_back")
HEADINGS = {
    "requested": _("Order requested"),
    "approved": _("Ordered: read it back before it is given"),
    "cosign": _("Waits for a second physician: do not give"),
    "read_back": _("Read back and matched: prepare and give"),
    "given": _("Given as ordered"),
    "declined": _("Declined"),
    "withdrawn": _("Withdrawn"),
    "not_given": _("Not given"),
    "expired": _("Expired: request it again if it is still needed"),
    "voided": _("Voided: the weight changed. Request it again"),
}

CHANGES = {  # of what runs
    "approved": _("Ordered: read it back before you change it"),
    "cosign": _("Waits for a second physician: do not carry it out"),
    "read_back": _("Read back and matched: make the change"),
    "given": _("Carried out as ordered"),
    "not_given": _("Not carried out"),
}


def order_page(order: Mapping[str, Any], needs: str = "") -> dict[str, Any]:
    """The order with its heading, steps, findings and facts in words, and what holds a page that `needs` a state."""
    state = order["state"]
    return {
        **order_row(order),
        "heading": heading(order),
        "what": _("{decided_by} ordered", decided_by=order["decided_by"])
        if order.get("approved_at")
        else _("You asked"),
        "weight_range": weight_range(order),
        "begins": order["action"] in BEGINS,
        "steps": steps(order),
        "talk": talk(order),
        "became": "" if state in OPEN else capfirst(told(order)),
        "findings": (order.get("check") or {}).get("findings") or [],
        "facts": facts(order),
        "gate": gate(order, needs or (state if state in OPEN else "read_back")),
        "mismatch": bool(order.get("mismatch")) and state == "approved",
        "mismatch_text": mismatch_text(order),
        "misread": misread(order),
    }


def order_of(actor: Actor, case: Case, order_id: UUID) -> dict[str, Any]:
    """An order of this case; raises NotFound for another's."""
    row = access.order_for(actor, order_id)
    if row.case_id != case.pk:
        raise problems.NotFound(_("There is no such order in this case."))
    return order_dict(row)


def with_news(actor: Actor, case: Case, order: dict[str, Any]) -> dict[str, Any]:
    """An order's page with what speaks against it by now and was not seen when it was decided, above all else."""
    news = checks.known_since(actor, case, order["id"], clock.now()) if order["state"] == "read_back" else ()
    found = [{"level": each.level, "text": zone.here(each.text, clock.now())} for each in news]
    return (
        order | {"news": found} | ({"heading": _("New since it was ordered: ask before you give it")} if found else {})
    )


def named_order(actor: Actor, case: Case, text: str | None) -> dict[str, Any] | None:
    """The order that an address names, however it stands; what is none of this case's is no order to give by."""
    try:
        return with_news(actor, case, order_page(order_of(actor, case, UUID(text or "")), needs="read_back"))
    except (ValueError, problems.NotFound):
        return None


def ended(case: Case) -> list[dict[str, Any]]:
    """The orders of a case that have ended, the newest end first, each with what became of it."""
    found = sorted(queries.ended_orders(case), key=lambda order: str(last_step(order)["at"]), reverse=True)
    return [{**order_row(order), "became": capfirst(told(order)), "held": held(order)} for order in found]


def heading(order: Mapping[str, Any]) -> str:
    """Where the order stands and what it asks for next."""
    if order_row(order)["question"]:
        return _("Query about the request: {title}", title=order["title"])
    if known_since(order):
        return held(order)
    if order_row(order)["stepped"]:
        return _("You may step it up as ordered")
    if stage(order) == "approved" and (what := changed(order)):
        return _("CHANGED: {changed}", changed=what)
    if order["state"] == "withdrawn" and by_itself(order):
        return _("Ended automatically")
    stands = stage(order)
    return HEADINGS[stands] if order["action"] in BEGINS else CHANGES.get(stands, HEADINGS[stands])


def gate(order: Mapping[str, Any], needs: str) -> dict[str, Any]:
    """What a page that uses an order is told of it: why it is held, or until when it holds.

    `needs` is the state in which the page may go on: ``read_back`` to give it, ``approved`` to read it back. ``done``:
    it stands where the page brings it.
    """
    state = order["state"]
    holds = stage(order) == needs
    read = state == "read_back" and needs == "approved"
    return {
        "uses": needs == "read_back",
        "hold": "" if holds else _("ALREADY READ BACK") if read else held(order),
        "done": read or (state == "given" and needs == "read_back"),
        "why": "" if holds else capfirst(told(order)),
        "changed": changed(order) if state == "approved" and needs != "approved" else "",
        "expires_at": None if not holds or _begun(order) else order.get("expires_at"),
        "expired": held({**order, "state": "expired"}),
    }


def _begun(order: Mapping[str, Any]) -> bool:
    """Whether a rate that is stepped up was started: no time to start it runs any more."""
    return bool(order.get("titrate") and order.get("given"))


def mismatch_text(order: Mapping[str, Any]) -> str:
    """Which fields of the last read-back differed, never what would have been right."""
    differences = (order.get("read_back") or {}).get("differences") or ()
    return _(" and ").join(DIFFERENCES.get(name, name) for name in differences)


def facts(order: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Who asked and decided, with which reasons."""
    known = [
        (_("State"), order_row(order)["state_word"]),
        (_("Set back for"), known_since(order)),
        (_("Reason"), "" if placed(order) else order.get("reason")),
        (_("Requested by"), order.get("requested_by")),
        (_("Decided by"), order.get("decided_by")),
        (_("You requested"), order.get("asked_for")),
        (_("Over a hard limit because"), order.get("hard_limit_reason")),
        (_("Co-signed by"), order.get("cosigned_by")),
        (
            _("Given so far"),
            _("{given} of {times}", given=order["given"], times=order["times"]) if order.get("times", 1) > 1 else "",
        ),
        (_("Ended because"), "" if order["state"] in OPEN else last_step(order).get("reason")),
    ]
    return [(name, _name(value)) for name, value in known if value]


def _name(value: Any) -> str:
    return str(value["name"]) if isinstance(value, Mapping) else str(value)
