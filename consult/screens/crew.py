"""The crew's pages: one task a page, for a phone. They read; what is entered goes from the browser through the API."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import path

from consult import access, clock, problems, queries
from consult.access import Actor
from consult.actions import looks
from consult.models import Case
from consult.render import dose_course, questions, words
from consult.render.card import who as about
from consult.render.handover import handover as spoken
from consult.render.in_hand import in_hand
from consult.render.running import with_rate
from consult.render.treatments import goes_on
from consult.render.vitals import signs
from consult.screens import (
    crew_again,
    crew_arrest,
    crew_ask,
    crew_case,
    crew_choices,
    crew_entries,
    crew_in_hand,
    crew_left,
    crew_news,
    crew_not_sent,
    crew_off,
    crew_orders,
    crew_running,
    crew_steps,
    crew_told,
    crew_worker,
    doses_and_orders,
)
from consult.screens.crew_page import crew_only, crew_page, moved_away
from consult.screens.page import actor_of
from dosing.patient import growth, weight

PARTS = "X-Parts"  # the page that is open asks for its parts again: no further look


def who(request: HttpRequest) -> HttpResponse:
    """Whose session this is, and the time: a page asks before it sends what was made under another sign-in or clock.

    And which cases its unit has now: one that was moved to it is told on whatever page is open.
    """
    now = clock.stamp(clock.now())
    try:
        actor = actor_of(request)
    except problems.Problem:
        return JsonResponse({"membership": None, "server_time": now, "cases": []})
    cases = [str(row.uid) for row in crew_news.open_cases(actor)] if actor.is_crew else []
    return JsonResponse({"membership": str(actor.membership), "server_time": now, "cases": cases})


@crew_only
def cases(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The unit's open cases, newest first."""
    unit = access.unit_for(actor, actor.unit)
    rows = access.cases_of(actor).filter(state=Case.State.OPEN).order_by("-opened_at")
    lines = [crew_case.case_line(row) for row in rows]
    left = crew_left.lately(actor, clock.now())
    return crew_page(request, actor, "cases", call_sign=unit.call_sign, cases=lines, left=left)


@crew_only
def open_case(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The form of a new case."""
    unit = access.unit_for(actor, actor.unit)
    choices = {**crew_choices.PATIENT_CHOICES, "pregnant": crew_choices.pregnant(None, on_record=False)}
    return crew_page(request, actor, "open", call_sign=unit.call_sign, **choices, **_weights())


def _weights() -> dict[str, Any]:
    """What is offered as a weight by age, and between which weights somebody of an age may be."""
    return {"weight_steps": weight.steps(), "weight_spans": growth.spans()}


@crew_only
def case_home(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """One case at a glance: pressure, what is due, orders, what runs and was given; a look at it goes on record."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    if PARTS not in request.headers:
        looks.note_look(actor, case, "crew page", clock.now())
    card = facts["card"]
    ended = crew_orders.ended(case)
    over = [dose for dose in reversed(card.get("doses") or ()) if not goes_on(dose)]
    given = [{**dose, "line": dose_course.told(card, dose, dated=False)} for dose in over]
    return crew_page(
        request,
        actor,
        "case",
        **facts,
        here="case",
        about=about(card),
        measured=crew_case.measured(card),
        measurement_names=crew_choices.MEASURED,
        signs=signs(card),
        running=with_rate(card),
        steps=[] if case.ended_at else crew_steps.next_steps(actor, case, card, clock.now()),
        given=given,
        ended=[order for order in ended if order["state"] != "given"],
        held_now=in_hand(card),
        off=crew_off.rows(card, queries.rules_of(case), partial(crew_running.holder, case)),
        again=None if case.ended_at else crew_again.last_push(card, queries.rules_of(case), clock.now()),
        left=None if case.ended_at else crew_again.left_of_a_bolus(card, queries.rules_of(case), clock.now()),
        **crew_arrest.working_page(case, card, clock.now()),
    )


@crew_only
def vitals(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """The form of a set of vitals, with the limits for judging the pressure while it is typed."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    limits = crew_case.preview_limits(case)
    return crew_page(request, actor, "vitals", **facts, here="vitals", limits=limits, **crew_choices.VITALS_CHOICES)


@crew_only
def note(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """A few words for the record."""
    _, facts = crew_case.case_facts(actor, case_id, clock.now())
    return crew_page(request, actor, "note", **facts, here="case")


@crew_only
def phase(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Cardiac arrest, a pulse again, or the end of resuscitation; what the patient wants of it stands above."""
    _, facts = crew_case.case_facts(actor, case_id, clock.now())
    limits = crew_choices.ABOUT_ARREST.get(facts["card"]["patient"].get("care_limits") or "", "")
    phases = [(value, text) for value, text in words.PHASES.items() if value != facts["card"]["phase"]]
    return crew_page(request, actor, "phase", **facts, here="case", phases=phases, care_limits=limits)


@crew_only
def coverage(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """For how long the crew cannot be heard; at most as long as the rules let it be silent."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    choices = crew_choices.coverage(queries.rules_of(case).watch.coverage_most_min)
    return crew_page(request, actor, "coverage", **facts, here="case", coverage_choices=choices)


@crew_only
def move(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """To which unit the patient goes on."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    return crew_page(request, actor, "move", **facts, here="case", units=queries.other_units(case))


@crew_only
def procedure(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Something done that is not a drug."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    facts |= {"procedures": crew_choices.PROCEDURES, "outcomes": crew_choices.PROCEDURE_OUTCOMES}
    facts |= {"airways": crew_choices.AIRWAYS}
    facts |= {"gauges": crew_choices.GAUGES, "settings": crew_case.settings_of_devices(case)}
    return crew_page(request, actor, "procedure", **facts, here="case")


@crew_only
def patient(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """A new weight, impression, destination or arrival."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    facts |= {
        "impression": words.plain(case.impression),
        **_weights(),
        **crew_choices.PATIENT_CHOICES,
        "pregnant": crew_choices.pregnant(facts["card"]["patient"].get("pregnancy_weeks"), on_record=True),
    }
    return crew_page(request, actor, "patient", **facts, here="case")


@crew_only
def correction(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Mark one of one's own entries as entered in error."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    entries = crew_entries.own_entries(actor, case, facts["card"])
    reasons = crew_choices.CORRECTION_REASONS
    chosen = request.GET.get("entry")
    return crew_page(
        request, actor, "correction", **facts, here="case", entries=entries, chosen=chosen, correction_reasons=reasons
    )


@crew_only
def handover(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """What to say at the handover, and to whom the patient went; of a patient who was moved what there was to say."""
    now = clock.now()
    away = crew_left.left(actor, case_id, now)
    if away is not None and away.may_read:
        looks.note_look(actor, away.case, "handover after the move", now, attends=False)
        return moved_away(request, actor, away, crew_left.handover_then(actor, away.case))
    case, facts = crew_case.case_facts(actor, case_id, now)
    notes = queries.notes_of_crews([case.uid])[str(case.uid)]
    told = spoken(facts["card"], now, questions.lines(*crew_told.consulted(case)), notes)
    return crew_page(request, actor, "handover", **facts, here="case", told=told, outcomes=crew_choices.CLOSE_OUTCOMES)


urlpatterns = [
    *doses_and_orders.urlpatterns,
    *crew_in_hand.urlpatterns,
    *crew_worker.urlpatterns,
    *crew_not_sent.urlpatterns,
    *crew_ask.urlpatterns,
    path("crew/", cases, name="crew-cases"),
    path("crew/who/", who, name="crew-who"),
    path("crew/open/", open_case, name="crew-open"),
    path("crew/<uuid:case_id>/", case_home, name="crew-case"),
    path("crew/<uuid:case_id>/vitals/", vitals, name="crew-vitals"),
    path("crew/<uuid:case_id>/note/", note, name="crew-note"),
    path("crew/<uuid:case_id>/phase/", phase, name="crew-phase"),
    path("crew/<uuid:case_id>/coverage/", coverage, name="crew-coverage"),
    path("crew/<uuid:case_id>/move/", move, name="crew-move"),
    path("crew/<uuid:case_id>/procedure/", procedure, name="crew-procedure"),
    path("crew/<uuid:case_id>/patient/", patient, name="crew-patient"),
    path("crew/<uuid:case_id>/correction/", correction, name="crew-correction"),
    path("crew/<uuid:case_id>/handover/", handover, name="crew-handover"),
]
