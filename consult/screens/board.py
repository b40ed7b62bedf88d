"""The first page by role, and the board: all open cases of the agency as cards."""

from __future__ import annotations

from functools import lru_cache
from uuid import UUID

import msgspec
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_safe

from consult import access, clock, queries, zone
from consult.access import Actor
from consult.render import ages, card_html
from consult.render.card import sort_key
from consult.screens.away import missed
from consult.screens.offered import offered_in
from consult.screens.page import WATCHERS, page, signed_in

KEPT_CARDS = 512


@require_safe
@signed_in()
def home(request: HttpRequest, actor: Actor) -> HttpResponse:
    """To the crew page for crews, to the board for all others; first to the choice where somebody acts as several."""
    memberships = access.memberships_of(request.user)  # type: ignore[arg-type]
    if len(memberships) > 1 and not request.session.get("membership"):
        return redirect("/choose/")
    return redirect("/crew/" if actor.is_crew else "/board/")


@require_safe
@ensure_csrf_cookie
@signed_in(*WATCHERS)
def board(request: HttpRequest, actor: Actor) -> HttpResponse:
    """All open cases of the agency, what needs a person first."""
    rows = queries.board_cards(actor.agency)
    drawn = sorted(drawn_card(row.card, row.zone, zone.today()) for row in rows)
    now = clock.now()
    cards = [ages.marked(html, now) for _, html in drawn]
    offered, away = offered_in(actor.agency), missed(actor, shown=rows)
    waiting = queries.to_countersign(actor.membership)
    return page(request, actor, "board/board.html", cards=cards, offered=offered, away=away, countersigns=waiting)


@require_safe
@signed_in(*WATCHERS)
def board_card(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """One card as the board shows it, for a page whose message came without."""
    case = access.case_for(actor, case_id)
    return HttpResponse(card_html(queries.card(case)))


@lru_cache(maxsize=KEPT_CARDS)
def drawn_card(card: str, zone_name: str, today: str) -> tuple[str, str]:
    """Sort key and HTML of a card's JSON text in a time zone; a card that has not changed is drawn once a day."""
    values = msgspec.json.decode(card)
    with zone.of(zone_name):
        return sort_key(values), card_html(values)


urlpatterns = [
    path("", home, name="home"),
    path("board/", board, name="board"),
    path("board/cards/<uuid:case_id>/", board_card, name="board_card"),
]
