"""What became of a crew's orders, told on whatever page is open until it is pressed: the banner of the crew's pages.

It is read from the orders as they stand, so that nothing is missed while there was no link; which of it was pressed
already, the phone remembers.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.urls import reverse
from django.utils.text import capfirst

from consult.access import Actor, cases_of
from consult.clock import when
from consult.models import Case, Order
from consult.render import words
from consult.render.order_story import changed, held, last_step, told
from consult.resources.orders import order_dict

TOLD_FOR = timedelta(minutes=30)  # so long an end is news to a phone that has not told it yet: our choice
DECIDED = {"approved": "APPROVED", "changed": "CHANGED", "placed": "ORDERED"}
ENDED = ("declined", "withdrawn", "expired", "voided")


def open_cases(actor: Actor) -> dict[str, int]:
    """The unit's open cases and how far each is."""
    found = cases_of(actor).filter(state=Case.State.OPEN).values_list("uid", "seq")
    return {str(uid): seq for uid, seq in found}


def news(actor: Actor, now: datetime, *, beside: UUID | None = None) -> list[dict[str, Any]]:
    """What others did with this unit's orders, ends first, newest first.

    ``beside`` is the order that the page reads back: nothing may stand there to copy from, of it or of another.
    """
    lately = cases_of(actor).filter(Q(state=Case.State.OPEN) | Q(ended_at__gte=now - TOLD_FOR))
    rows = Order.objects.filter(case__in=lately).exclude(state__in=("read_back", "given", "not_given"))
    told_of = [_item(row, order_dict(row)) for row in rows.select_related("case") if _is_news(row, actor, now)]
    if beside:
        told_of = [_blinded(item) for item in told_of if item["ends"] or item["order"] != beside]
    return sorted(sorted(told_of, key=lambda item: item["at"], reverse=True), key=lambda item: not item["ends"])


def _blinded(item: dict[str, Any]) -> dict[str, Any]:
    """News without what was ordered; of what ended the drug is named, for it must not be given."""
    return {**item, "what": item["title"] if item["ends"] else "another order", "why": ""}


def _is_news(row: Order, actor: Actor, now: datetime) -> bool:
    step = last_step(order_dict(row))
    if row.state in ENDED:
        own = step.get("by") == actor.name and row.state != "voided"
        return not own and when(step["at"]) >= now - TOLD_FOR
    if row.state == "requested":
        return bool(row.data.get("question")) and not row.data.get("waiting_since")
    return step["step"] in DECIDED


def _item(row: Order, order: Mapping[str, Any]) -> dict[str, Any]:
    step, where = last_step(order), [row.case.uid, row.uid]
    ends, reason = row.state in ENDED, order.get("decision_reason")
    if ends:
        lead, what, go, page = held(order), order["shown"], "See the order", "crew-order"
    elif row.state == "requested":
        lead, what, go, page = "QUERY", order["question"], "Answer it", "crew-order"
    else:
        lead, what, go, page = DECIDED[step["step"]], changed(order), "Read it back", "crew-readback"
    return {
        "key": f"{row.uid}-{len(row.steps)}",
        "ends": ends,
        "lead": lead,
        "order": row.uid,
        "title": order["title"],
        "what": what,
        "who": words.who_text(words.person(row.case.patient)),
        "why": capfirst(told(order)) + ("" if ends or not reason else f": {reason}"),
        "go": go,
        "href": reverse(page, args=where),
        "at": step["at"],
    }
