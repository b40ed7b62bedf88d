"""Consults without a drug: asked by crews, answered by physicians, understood, done or not possible."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TypeVar
from uuid import UUID

import msgspec

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import instructions, questions
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.entries import InstructionEntry, QuestionEntry, ReasonEntry, StepEntry
from consult.models import Instruction, Question
from consult.problems import NotFound
from consult.resources.questions import WrittenInstruction, written_instruction, written_question
from consult.state.questions import Instruction as InstructionState
from dosing.ground.language import gettext as _

Content = TypeVar("Content", bound=msgspec.Struct)
Step = Callable[[Known, Asked[Content], InstructionState], Decided]
Instructed = Kind[Instruction, WrittenInstruction]

QUESTION = Kind("question", Question, written_question, happened="at", gate=access.require_crew)
WITHDRAW_QUESTION = Kind("withdraw_question", Question, written_question, gate=access.require_crew)
INSTRUCTION = Kind(
    "instruction", Instruction, written_instruction, happened="at", gate=access.require_physician, attends=True
)
UNDERSTOOD = Kind("understood", Instruction, written_instruction, happened="at", gate=access.require_crew)
DONE = Kind("done", Instruction, written_instruction, happened="at", gate=access.require_crew)
UNABLE = Kind("unable", Instruction, written_instruction, happened="at", gate=access.require_crew)
WITHDRAW_INSTRUCTION = Kind(
    "withdraw_instruction", Instruction, written_instruction, gate=access.require_physician, attends=True
)


def ask(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Ask as a crew for something that is no order."""
    return write(actor, case, QUESTION, data, now, QuestionEntry, questions.ask, arrival=arrival)


def withdraw_question(
    actor: Actor, question: UUID, data: Data, now: datetime, arrival: Arrival | None = None
) -> Written:
    """Say as its crew that no answer is needed any more."""
    case = access.question_for(actor, question, to_write=True).case.uid

    def decide(known: Known, asked: Asked[ReasonEntry]) -> Decided:
        stands = known.state.question(str(question)) or known.past.question(str(question))
        if stands is None:
            raise NotFound(_("There is no such question here."))
        return questions.withdraw(known, asked, stands)

    return write(actor, case, WITHDRAW_QUESTION, data, now, ReasonEntry, decide, about=question, arrival=arrival)


def instruct(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Tell the crew as a physician what to do, perhaps in answer to a question."""
    return write(actor, case, INSTRUCTION, data, now, InstructionEntry, instructions.instruct)


def _write_step(
    actor: Actor,
    instruction: UUID,
    kind: Instructed,
    data: Data,
    now: datetime,
    content: type[Content],
    step: Step[Content],
    arrival: Arrival | None = None,
) -> Written[WrittenInstruction]:
    """Carry out one step of an instruction; raises NotFound where the actor may not have it."""
    case = access.instruction_for(actor, instruction, to_write=True).case.uid

    def decide(known: Known, asked: Asked[Content]) -> Decided:
        stands = known.state.instruction(str(instruction)) or known.past.instruction(str(instruction))
        if stands is None:
            raise NotFound(_("There is no such instruction here."))
        return step(known, asked, stands)

    return write(actor, case, kind, data, now, content, decide, about=instruction, arrival=arrival)


def understood(actor: Actor, instruction: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Say as its crew that an instruction is understood."""
    return _write_step(actor, instruction, UNDERSTOOD, data, now, StepEntry, instructions.understood, arrival)


def done(actor: Actor, instruction: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Say as its crew that an instruction is done."""
    return _write_step(actor, instruction, DONE, data, now, StepEntry, instructions.done, arrival)


def unable(actor: Actor, instruction: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Say as its crew that an instruction cannot be done, and why."""
    return _write_step(actor, instruction, UNABLE, data, now, ReasonEntry, instructions.unable, arrival)


def withdraw_instruction(actor: Actor, instruction: UUID, data: Data, now: datetime) -> Written:
    """Take an instruction back as a physician."""
    return _write_step(actor, instruction, WITHDRAW_INSTRUCTION, data, now, ReasonEntry, instructions.withdraw)
