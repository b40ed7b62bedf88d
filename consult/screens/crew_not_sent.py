"""Pages of a case that waits on a phone: kept with blanks for its patient, which the phone fills in (`not_sent.js`)."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path

from consult import access, problems, queries
from consult.access import Actor
from consult.render import words
from consult.screens import crew_choices
from consult.screens.crew_page import crew_only, crew_page
from consult.screens.doses_and_orders import unlisted
from consult.screens.rules import in_force
from dosing.ground.language import gettext as _

BLANK = UUID(int=0)
WHO, WEIGHT = "PATIENT-NOT-SENT", "WEIGHT-NOT-SENT"

# Each with its template and where it stands below; what limits a dose has the server alone knows.
PAGES = {
    "case": ("not_sent", "case"),
    "give": ("not_sent", "give"),
    "vitals": ("vitals", "vitals"),
    "other": ("other", "give"),
    "note": ("note", "case"),
    "procedure": ("procedure", "case"),
    "phase": ("phase", "case"),
}


@crew_only
def not_sent(request: HttpRequest, actor: Actor, page: str) -> HttpResponse:
    """One page of a case of which the server does not know yet."""
    if page not in PAGES:
        raise problems.NotFound(_("There is no such page."))
    template, here = PAGES[page]
    person = {"who": WHO, "weight": WEIGHT}
    frame: dict[str, Any] = {
        "case_id": str(BLANK),
        "call_sign": access.unit_for(actor, actor.unit).call_sign,
        "person": person,
        "who": f"{WHO}, {WEIGHT}",
        "card": {"opened_at": "", "seq": 0},
    }
    return crew_page(request, actor, template, **frame, here=here, **_choices(actor))


def _choices(actor: Actor) -> dict[str, Any]:
    """What the forms offer for every patient."""
    return {
        "limits": None,
        **crew_choices.VITALS_CHOICES,
        "procedures": crew_choices.PROCEDURES,
        "outcomes": crew_choices.PROCEDURE_OUTCOMES,
        "airways": crew_choices.AIRWAYS,
        "gauges": crew_choices.GAUGES,
        "phases": list(words.PHASES.items()),
        "physicians": access.physicians_of(actor),
        **unlisted(queries.rules_by_record(in_force(actor).pk)),
    }


urlpatterns = [path("crew/not-sent/<slug:page>/", not_sent, name="crew-not-sent")]
