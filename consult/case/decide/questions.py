"""What a crew asks that is no order: advice, a destination, a refusal of care, whether to end a resuscitation."""

from __future__ import annotations

from consult import events, problems
from consult.case.decide import order_book, orders, question_book
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.order_book import CASE_ENDED
from consult.case.entries import QuestionEntry, ReasonEntry
from consult.state.case import OPEN as CASE_OPEN
from consult.state.parts import Step
from consult.state.questions import OPEN, WITHDRAWN, Criterion, Form, Question
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet


def ask(known: Known, asked: Asked[QuestionEntry]) -> Decided:
    """Ask; what was asked before the case ended and is told after it stands in the record, and nobody answers it."""
    state, entry = known.state, asked.content
    in_time = state.ended_at is not None and asked.at <= state.ended_at
    if not in_time:
        order_book.require_open_case(state)
    question_book.require_few(
        state.questions, _("{most} questions are open in this case: withdraw one of them before the next.")
    )
    orders.require_in_case(state.opened_at, asked.at, asked.now)
    question = Question(
        id=asked.id,
        case=state.id,
        state=OPEN,
        topic=entry.topic,
        text=entry.text,
        asked_by=asked.by.name,
        asked_at=asked.at,
        waiting_since=asked.now,
        form=entry.form,
        criteria=_criteria(entry.form, known.rules),
        steps=(Step(step="asked", at=asked.at, by=asked.by.name),),
    )
    if state.state != CASE_OPEN:
        question = question_book.moved(question, WITHDRAWN, asked.now, None, reason=CASE_ENDED)
    return Decided([events.QuestionAsked(id=asked.id, content=asked.sent, became=question)])


def _criteria(form: Form | None, rules: RuleSet) -> tuple[Criterion, ...]:
    """All criteria of the rule set with which of them are met; raises Invalid for one that it lacks."""
    if form is None or form.criteria is None:
        return ()
    known = rules.end_resuscitation
    if lacking := [each for each in form.criteria if each not in known]:
        text = _(
            "The rule set has no criterion {criterion}. It has: {known}.",
            criterion=lacking[0],
            known=", ".join(known) or _("none"),
        )
        raise problems.Invalid.at("/form/criteria", text, "not_found")
    return tuple(
        Criterion(
            slug=each.slug,
            text=each.text,
            rules=each.rules,
            met=each.slug in form.criteria,
            unverified=each.source.mark == "memory",
        )
        for each in known.values()
    )


def withdraw(known: Known, asked: Asked[ReasonEntry], question: Question) -> Decided:
    """The crew needs no answer any more."""
    question_book.require_open(question)
    return question_book.withdrawn(question, asked.content.reason, asked.now, asked.by)
