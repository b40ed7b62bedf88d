"""What changed while somebody was away: told above board and case until it is dismissed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path
from django.views.decorators.http import require_POST

from consult import clock, queries
from consult.access import Actor
from consult.actions import looks
from consult.render.away import TOLD, away
from consult.screens.page import WATCHERS, signed_in


def missed(
    actor: Actor, case: UUID | None = None, shown: Iterable[queries.CardRow] | None = None
) -> dict[str, Any] | None:
    """What happened since this person's last look, in all cases (`shown` are open) or in one; None: nothing."""
    look = looks.returned(actor, clock.now(), shown)
    if look is not None and case is not None:
        looks.note_page(look, case, clock.now())
    if look is None or look.away_since is None:
        return None
    named = {*look.away_from, *look.away_to} & ({str(case)} if case else {*look.away_from, *look.away_to})
    spans = {uid: (look.away_from.get(uid, 0), look.away_to.get(uid)) for uid in named}
    cases = queries.cases_named(actor.agency, spans)
    told = away(queries.lines_between(cases, spans, TOLD, but_by=actor.membership), cases)
    return {"since": look.away_since, "cases": told, "case": case} if told else None


@require_POST
@signed_in(*WATCHERS)
def seen(request: HttpRequest, actor: Actor) -> HttpResponse:
    """It is read, of one case or of all."""
    looks.dismiss(actor, clock.now(), request.POST.get("case", ""))
    return HttpResponseRedirect("/board/")


urlpatterns = [path("away/seen/", seen, name="away-seen")]
