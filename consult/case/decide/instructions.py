"""What a physician tells a crew to do that is no drug: given, understood, done or not possible, withdrawn."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide import order_book, orders, question_book
from consult.case.decide.asked import Asked, Decided, Ended, Known
from consult.case.entries import InstructionEntry, ReasonEntry, StepEntry
from consult.clock import utc_seconds
from consult.state.parts import Step
from consult.state.questions import (
    ANSWERED,
    DONE,
    GIVEN,
    GUIDED,
    UNABLE,
    UNDERSTOOD,
    WITHDRAWN,
    Instruction,
    Question,
)
from dosing.ground.language import gettext as _

FROM = {UNDERSTOOD: (GIVEN,), DONE: (UNDERSTOOD, WITHDRAWN), UNABLE: (UNDERSTOOD,), WITHDRAWN: (GIVEN, UNDERSTOOD)}
WORDS = {
    GIVEN: _("The instruction is not confirmed yet: say first that you understood it."),
    UNDERSTOOD: _("The instruction was understood by {by} at {time}."),
    DONE: _("The instruction was done by {by} at {time}."),
    UNABLE: _("{by} said at {time} that the instruction is not possible."),
    WITHDRAWN: _("The instruction was withdrawn by {by} at {time}."),
}


def instruct(known: Known, asked: Asked[InstructionEntry]) -> Decided:
    """Tell the crew what to do, perhaps in answer to a question; takes control of a case that nobody has."""
    state, said = known.state, asked.content
    order_book.require_open_case(state)
    question_book.require_few(
        state.instructions, _("{most} instructions are open in this case: end one of them before the next.")
    )
    orders.require_in_case(state.opened_at, asked.at, asked.now)
    question = _question(known, said)
    instruction = Instruction(
        id=asked.id,
        case=state.id,
        state=GIVEN,
        text=said.text,
        by=asked.by.name,
        given_at=asked.at,
        waiting_since=asked.now,
        question=question.id if question else None,
        topic=question.topic if question else None,
        asked=question.text if question else None,
        decision=said.decision,
        steps=(Step(step=GIVEN, at=asked.at, by=asked.by.name),),
    )
    answered = None if question is None else _answered(question, instruction, asked)
    event = events.InstructionGiven(id=asked.id, content=asked.sent, became=instruction, answered=answered)
    ended = (
        [Ended(question_book.QUESTION_WAITING, question.id, _("answered by {by}", by=asked.by.name))]
        if question
        else []
    )
    return Decided([event, *orders.takes_control(known, asked.by)], ended=ended)


def _question(known: Known, said: InstructionEntry) -> Question | None:
    """The open question that is answered; a guided one is decided, of all else there is nothing to decide."""
    question = None
    if said.question is not None:
        question = known.state.question(str(said.question)) or known.past.question(str(said.question))
        if question is None:
            raise problems.Invalid.at("/question", _("This case has no such question."), "not_found")
        question_book.require_open(question)
    guided = question is not None and question.topic in GUIDED
    if guided and said.decision is None:
        raise problems.Invalid.at("/decision", "This question needs a decision: agreed or not_agreed.", "required")
    if said.decision is not None and not guided:
        words = _("Only a refusal of care and the end of a resuscitation need a decision: leave it out here.")
        raise problems.Invalid.at("/decision", words, "unknown_field")
    return question


def _answered(question: Question, answer: Instruction, asked: Asked[InstructionEntry]) -> Question:
    told = replace(
        question,
        seen_at=question.seen_at or asked.now,
        answered_by=answer.by,
        answered_at=asked.now,
        answer=answer.text,
        decision=answer.decision,
        instruction=answer.id,
    )
    return question_book.moved(told, ANSWERED, asked.now, asked.by, text=answer.text)


def understood(known: Known, asked: Asked[StepEntry], instruction: Instruction) -> Decided:
    """The crew has understood it."""
    return _step(asked, instruction, UNDERSTOOD)


def done(known: Known, asked: Asked[StepEntry], instruction: Instruction) -> Decided:
    """The crew has done it: what was done is never refused, also where it was withdrawn meanwhile."""
    return _step(asked, instruction, DONE)


def unable(known: Known, asked: Asked[ReasonEntry], instruction: Instruction) -> Decided:
    """The crew cannot do it, and says why."""
    return _step(asked, instruction, UNABLE, asked.content.reason)


def withdraw(known: Known, asked: Asked[ReasonEntry], instruction: Instruction) -> Decided:
    """A physician takes it back."""
    return _step(asked, instruction, WITHDRAWN, asked.content.reason)


def _step(asked: Asked[StepEntry] | Asked[ReasonEntry], instruction: Instruction, to: str, reason: str = "") -> Decided:
    """One step on, from where it stood when the step was taken, however late that is told."""
    orders.require_since(instruction.given_at, asked.at, asked.now, _("This time is before the instruction."))
    stood = _stood(instruction, asked.at)
    if stood not in FROM[to]:
        last = instruction.steps[-1]
        raise problems.WrongState(WORDS[stood].format(by=last.by, time=utc_seconds(last.at)))
    return question_book.stepped(instruction, to, asked.at, asked.by, reason)


def _stood(instruction: Instruction, at: datetime) -> str:
    """What it was at that moment: one withdrawn since was open until then."""
    if instruction.state != WITHDRAWN or instruction.ended_at is None or at > instruction.ended_at:
        return instruction.state
    return UNDERSTOOD if instruction.understood_at else GIVEN
