"""The book of questions and instructions of one case: moving one on, and what its end means for them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from msgspec.structs import replace

from consult import events, problems
from consult.case.card import MOST_SHOWN
from consult.case.decide.asked import Decided, Ended
from consult.case.decide.order_book import CASE_ENDED
from consult.clock import utc_seconds
from consult.state.case import CaseState
from consult.state.parts import Author, Step
from consult.state.questions import ANSWERED, DONE, UNABLE, UNDERSTOOD, WITHDRAWN, Instruction, Question
from dosing.ground.language import gettext as _

MOST_OPEN = MOST_SHOWN // 2
TOLD = {
    UNDERSTOOD: _("understood by {by}"),
    DONE: _("done by {by}"),
    UNABLE: _("not possible for {by}"),
    WITHDRAWN: _("withdrawn by {by}"),
}
QUESTION_WAITING, READBACK_WAITING = "question_waiting", "readback_waiting"


def require_few(open_ones: Iterable[object], words: str) -> None:
    """Raise WrongState where as many are open as a card shows: what waits for a person must never be hidden."""
    if len([*open_ones]) >= MOST_OPEN:
        raise problems.WrongState(words.format(most=MOST_OPEN))


def require_open(question: Question) -> None:
    """Raise WrongState for a question that is open no more, with what became of it."""
    step = question.steps[-1]
    if question.state == ANSWERED:
        raise problems.WrongState(
            _(
                "The question was answered by {by} at {time}: {answer}",
                by=step.by,
                time=utc_seconds(step.at),
                answer=step.text,
            )
        )
    if question.state == WITHDRAWN:
        raise problems.WrongState(
            _(
                "The question was withdrawn by {by} at {time}: {reason}.",
                by=step.by,
                time=utc_seconds(step.at),
                reason=step.reason,
            )
        )


def moved(
    question: Question, state: str, at: datetime, by: Author | None, *, reason: str | None = None, text: str = ""
) -> Question:
    """A question in its new state, with the step written down."""
    step = Step(step=state, at=at, by=by.name if by else None, reason=reason, text=text)
    return replace(question, state=state, steps=(*question.steps, step))


def withdrawn(question: Question, reason: str, now: datetime, by: Author) -> Decided:
    """A question to which nobody needs an answer any more."""
    became = moved(question, WITHDRAWN, now, by, reason=reason)
    event = events.QuestionWithdrawn(question=question.id, reason=reason, became=became)
    ended = Ended(QUESTION_WAITING, question.id, _("withdrawn by {by}: {reason}", by=by.name, reason=reason)[:200])
    return Decided([event], ended=[ended])


def stepped(instruction: Instruction, to: str, at: datetime, by: Author, reason: str) -> Decided:
    """An instruction a step on; one that was withdrawn stays so where it is told late that it was understood."""
    step = Step(step=to, at=at, by=by.name, reason=reason or None)
    became = replace(instruction, steps=(*instruction.steps, step))
    if to == UNDERSTOOD:
        still = WITHDRAWN if instruction.state == WITHDRAWN else UNDERSTOOD
        became = replace(became, state=still, understood_by=by.name, understood_at=at)
    else:
        became = replace(became, state=to, ended_at=at, reason=reason or None)
    words = TOLD[to].format(by=by.name) + (f": {reason}" if reason else "")
    event = events.InstructionMoved(instruction=instruction.id, step=to, reason=reason, became=became)
    return Decided([event], ended=[Ended(READBACK_WAITING, instruction.id, words[:200])])


def withdraw_open(state: CaseState, now: datetime, by: Author) -> Decided:
    """The case ends: what was asked and not answered, or told and not done, ends with it."""
    decided = Decided()
    for question in state.questions:
        decided.add(withdrawn(question, CASE_ENDED, now, by))
    for instruction in state.instructions:
        decided.add(stepped(instruction, WITHDRAWN, now, by, CASE_ENDED))
    return decided
