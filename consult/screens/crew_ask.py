"""Consults without a drug on the crew's phone: asking, and the pages of one question and one instruction."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path

from consult import access, clock, problems, queries
from consult.access import Actor
from consult.models import Case, Instruction, Question
from consult.render import held_against, questions
from consult.resources.questions import told_dict
from consult.screens import crew_case, crew_choices, crew_told
from consult.screens.crew_page import crew_only, crew_page
from dosing.ground.language import gettext as _


@crew_only
def ask(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Ask without a drug: the topic by one tap; a refusal of care and the end of a resuscitation by their forms."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    topic = request.GET.get("topic", "")
    form = {
        "topics": crew_choices.TOPICS,
        "chosen": topic if topic in questions.TOPICS else "",
        "who_refuses": crew_choices.WHO_REFUSES,
        "doubted_capacity": held_against.doubted_capacity(facts["card"]),
        "capacities": crew_choices.CAPACITY,
        "rhythms": crew_choices.RHYTHMS,
        "criteria": queries.rules_of(case).end_resuscitation.values(),
    }
    return crew_page(request, actor, "ask", **facts, here="orders", **form)


@crew_only
def question(request: HttpRequest, actor: Actor, case_id: UUID, question_id: UUID) -> HttpResponse:
    """One question as it stands, and taking it back."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    asked = _of_case(case, access.question_for(actor, question_id), "question")
    reasons = crew_choices.WITHDRAW_QUESTION_REASONS
    told = {**questions.question(asked), "became": crew_told.became(asked)}
    return crew_page(request, actor, "question", **facts, here="orders", question=told, withdraw_reasons=reasons)


@crew_only
def instruction(request: HttpRequest, actor: Actor, case_id: UUID, instruction_id: UUID) -> HttpResponse:
    """One instruction as it stands: understood, then done or not possible."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    told = _of_case(case, access.instruction_for(actor, instruction_id), "instruction")
    told |= {"became": crew_told.became(told), "decided": questions.decided(told)}
    reasons = crew_choices.UNABLE_REASONS
    return crew_page(request, actor, "instruction", **facts, here="orders", told=told, unable_reasons=reasons)


def _of_case(case: Case, row: Question | Instruction, noun: str) -> dict[str, Any]:
    if row.case_id != case.pk:
        raise problems.NotFound(_("There is no such {noun} in this case.", noun=noun))
    return told_dict(row)


urlpatterns = [
    path("crew/<uuid:case_id>/ask/", ask, name="crew-ask"),
    path("crew/<uuid:case_id>/questions/<uuid:question_id>/", question, name="crew-question"),
    path("crew/<uuid:case_id>/instructions/<uuid:instruction_id>/", instruction, name="crew-instruction"),
]
