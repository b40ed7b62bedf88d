"""One case: the whole page, and its parts alone for a page that is open."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

import msgspec
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_safe

from consult import access, clock, queries
from consult.access import Actor
from consult.actions import checks, looks
from consult.case.escalation import STEPS
from consult.models import Case
from consult.render import ages, lost_lines
from consult.render.alarms import RANKS, raised
from consult.render.arrest import in_arrest
from consult.render.case import RANGES, case_view
from consult.render.needs import why as why_needed
from consult.render.orders import ended
from consult.render.words import whom
from consult.screens.away import missed
from consult.screens.listed import listed
from consult.screens.offered import offered_in
from consult.screens.page import WATCHERS, page, signed_in
from dosing.ground.language import gettext as _

SHOWN_ENTRIES = 200


@require_safe
@ensure_csrf_cookie
@signed_in()
def case_page(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """The case; that a person looked at it goes on record."""
    case = access.case_for(actor, case_id)
    looks.note_look(actor, case, "case page", clock.now())
    shown = _shown(request, actor, case)
    moments = case.opened_at, clock.now()
    rules = queries.rules_of(case)
    told = {"offered": offered_in(actor.agency), "listed": listed(rules), "products": [p.name for p in rules.products]}
    away = None if actor.is_crew else missed(actor, case.uid)
    whole = page(request, actor, "case/case.html", moments=moments, away=away, **shown, **told)
    return aged(whole)


@require_safe
@signed_in()
def case_parts(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """The parts of the page, as they stand now."""
    return aged(render(request, "case/parts.html", _shown(request, actor, access.case_for(actor, case_id))))


@require_safe
@signed_in(*WATCHERS)
def case_others(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """What the strip of the page tells of the agency's other cases, as it is now."""
    return render(request, "case/others.html", _others(actor, access.case_for(actor, case_id)))


def aged(answer: HttpResponse) -> HttpResponse:
    """The page with what is old by now marked so."""
    answer.content = ages.marked(answer.text, clock.now()).encode()
    return answer


def _shown(request: HttpRequest, actor: Actor, case: Case) -> dict[str, Any]:
    window = request.GET.get("range", "40")
    entries = queries.journal(case, max(case.seq - SHOWN_ENTRIES, 0))
    limits = checks.guidance(actor, case.uid, clock.now())
    card = queries.card(case)
    shown = case_view(card, entries, limits, window if window in RANGES else "40")
    shown["off"] = lost_lines.off(card, queries.rules_of(case))
    return {
        "card": {**shown, "ended": ended(queries.ended_orders(case)), "units": queries.other_units(case)},
        "range": window if window in RANGES else "40",
        **({} if actor.is_crew else _others(actor, case)),
    }


def _others(actor: Actor, case: Case) -> dict[str, Any]:
    """The other cases that need a person, each with why, those with the highest alert first.

    And how many HIGH alerts of all cases nobody has taken, each cardiac arrest among them.
    """
    cards = [msgspec.json.decode(row.card) for row in queries.board_cards(actor.agency)]
    arrests = [card["case"] for card in cards if in_arrest(card)]
    high = sum(alarm["priority"] == "high" for card in cards for alarm in raised(card)) + len(arrests)
    others = sorted((card for card in cards if card["case"] != str(case.uid)), key=_rank)
    found = [{"id": card["case"], "whom": whom(card), "why": why} for card in others if (why := why_needed(card))]
    climbed, control = json.dumps(_climbed(actor, others)), json.dumps([_control(card) for card in cards])
    return {"others": found, "high": high, "arrests": " ".join(arrests), "climbed": climbed, "control": control}


def _control(card: dict[str, Any]) -> dict[str, Any]:
    """What of a card says who has control, and to whom it is offered."""
    told = {name: card[name] for name in ("case", "physician", "offered")}
    return {**told, "unit": {"call_sign": card["unit"]["call_sign"]}, "patient": {"label": card["patient"]["label"]}}


def _climbed(actor: Actor, cards: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The arrests and escalated alerts of these cases for whoever looks, as the strip of other pages tells them."""
    mine = STEPS[1:] if actor.role == "supervisor" else STEPS
    alarms = [(card, alarm) for card in cards for alarm in raised(card) if alarm.get("escalated_to") in mine]
    arrests = [
        {"case": card["case"], "priority": "high", "arrest": True, "text": _("{whom}: cardiac arrest", whom=whom(card))}
        for card in cards
        if in_arrest(card)
    ]
    return arrests + [
        {"case": card["case"], "priority": alarm["priority"], "text": f"{whom(card)}: {alarm['text']}"}
        for card, alarm in alarms
    ]


def _rank(card: dict[str, Any]) -> int:
    if in_arrest(card):
        return -1
    return min((RANKS[alarm["priority"]] for alarm in raised(card)), default=len(RANKS))


urlpatterns = [
    path("cases/<uuid:case_id>/", case_page, name="case"),
    path("cases/<uuid:case_id>/parts/", case_parts, name="case_parts"),
    path("cases/<uuid:case_id>/others/", case_others, name="case_others"),
]
