"""The change of shift: who goes offers cases to a colleague, who comes accepts them one by one."""

from __future__ import annotations

from typing import Any

import msgspec
from django.db.models import OuterRef, Subquery
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_safe

from consult import access, clock, queries
from consult.access import Actor
from consult.models import Case, Order
from consult.render.shift import line
from consult.resources.orders import order_dict
from consult.screens.page import page, signed_in


@require_safe
@ensure_csrf_cookie
@signed_in(*access.PHYSICIANS)
def shift(request: HttpRequest, actor: Actor) -> HttpResponse:
    """What is offered to the one who looks, and what they have control of and may offer."""
    cards = [msgspec.json.decode(row.card) for row in queries.board_cards(actor.agency)]
    own = str(actor.membership)
    offered = [card for card in cards if card["offered"] and card["offered"]["to"]["id"] == own]
    mine = [card for card in cards if card["physician"] and card["physician"]["id"] == own]
    last, now = _last_orders([card["case"] for card in (*offered, *mine)]), clock.now()
    lists = [[line(card, last.get(card["case"]), now) for card in of] for of in (offered, mine)]
    facts: dict[str, Any] = {"offered": lists[0], "mine": lists[1], "colleagues": _colleagues(actor)}
    return page(request, actor, "shift/shift.html", **facts)


def _last_orders(cases: list[str]) -> dict[str, dict[str, Any]]:
    """The newest order of each of these cases, open or ended, in two queries."""
    newest = Order.objects.filter(case=OuterRef("pk")).order_by("-at", "-id").values("pk")[:1]
    found = Case.objects.filter(uid__in=cases).annotate(newest=Subquery(newest)).values_list("newest", flat=True)
    orders = Order.objects.filter(pk__in=[each for each in found if each]).select_related("case")
    return {str(order.case.uid): order_dict(order) for order in orders.defer("case__card", "case__folded")}


def _colleagues(actor: Actor) -> list[dict[str, str]]:
    """The other physicians of the agency, to whom something may be offered, by name."""
    others = (user for user in access.physicians_of(actor) if user.pk != actor.user_id)
    return [{"username": user.username, "name": user.display_name} for user in others]


urlpatterns = [path("shift/", shift, name="shift")]
