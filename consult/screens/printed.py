"""Pages to print: the handover of one case, on A4 or on a narrow receipt, and the downtime sheet of all open cases."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.http import require_safe

from consult import access, clock, queries
from consult.access import Actor
from consult.actions import downtime, looks
from consult.models import Case
from consult.render import questions
from consult.render.handover import handover
from consult.screens import crew_case, crew_left, crew_told
from consult.screens.page import WATCHERS, page, signed_in
from dosing.ground.language import gettext as _

PAPERS = {"a4": "A4", "receipt": _("Receipt, 80 mm")}


@require_safe
@signed_in()
def handover_sheet(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """The handover as the crew reads it aloud, to be left with the patient; times of day, for paper does not age.

    A crew whose patient was moved prints it as of the move.
    """
    now = clock.now()
    away = crew_left.left(actor, case_id, now)
    if away is not None and away.may_read:
        looks.note_look(actor, away.case, "handover after the move", now, attends=False)
        call_sign = access.unit_for(actor, actor.unit).call_sign
        return _sheet(request, actor, away.case, call_sign, away.until, crew_left.handover_then(actor, away.case))
    case = access.case_for(actor, case_id)
    looks.note_look(actor, case, "handover sheet", now, attends=False)
    card = queries.card(case)
    parts = handover(
        card, now, questions.lines(*crew_told.consulted(case)), queries.notes_of_crews([case.uid])[str(case.uid)]
    )
    return _sheet(request, actor, case, card["unit"]["call_sign"], now, parts, ended=crew_case.case_ended(case))


def _sheet(
    request: HttpRequest,
    actor: Actor,
    case: Case,
    call_sign: str,
    as_of: datetime,
    parts: list[dict[str, Any]],
    *,
    ended: dict[str, Any] | None = None,
) -> HttpResponse:
    asked = request.GET.get("paper", "")
    return page(
        request,
        actor,
        "print/handover.html",
        back=f"/crew/{case.uid}/handover/" if actor.is_crew else f"/cases/{case.uid}/",
        call_sign=call_sign,
        parts=parts,
        as_of=as_of,
        case_ended=ended,
        moved_to=case.unit.call_sign if case.unit.call_sign != call_sign else "",
        paper=asked if asked in PAPERS else "a4",
        papers=PAPERS.items(),
    )


@require_safe
@signed_in(*WATCHERS)
def downtime_sheet(request: HttpRequest, actor: Actor) -> HttpResponse:
    """All open cases of the agency, a block each: what one needs of them once the board cannot be reached."""
    now = clock.now()
    sheets = downtime.blocks(queries.board_cards(actor.agency), now)
    return page(request, actor, "print/downtime.html", cases=sheets, as_of=now, paper="a4", back="/board/")


urlpatterns = [
    path("cases/<uuid:case_id>/handover/", handover_sheet, name="handover_sheet"),
    path("board/downtime/", downtime_sheet, name="downtime_sheet"),
]
