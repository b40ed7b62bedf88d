"""Consults without a drug: `became` is the question or instruction as it stands after the step."""

from __future__ import annotations

from msgspec import Raw

from consult.events.base import Event, Id
from consult.state.questions import Instruction, Question


class QuestionAsked(Event, frozen=True, kw_only=True):
    """The crew asks for something that is no order."""

    kind = "question.asked"
    id: Id
    content: Raw
    became: Question


class QuestionsSeen(Event, frozen=True, kw_only=True):
    """A physician has these questions in front of them."""

    kind = "question.seen"
    questions: tuple[Id, ...]


class QuestionWithdrawn(Event, frozen=True, kw_only=True):
    """The crew needs no answer any more, or the case has ended."""

    kind = "question.withdrawn"
    question: Id
    reason: str
    became: Question


class InstructionGiven(Event, frozen=True, kw_only=True):
    """A physician has told the crew what to do; `answered` is the question that this answers, as it stands with it."""

    kind = "instruction.given"
    id: Id
    content: Raw
    became: Instruction
    answered: Question | None = None


class InstructionMoved(Event, frozen=True, kw_only=True):
    """An instruction was understood, done, found not possible, or withdrawn; one told late may have ended meanwhile."""

    kind = "instruction.moved"
    instruction: Id
    step: str
    reason: str
    became: Instruction


class DestinationSeen(Event, frozen=True, kw_only=True):
    """The side that had not set it has seen the new destination."""

    kind = "destination.seen"
    destination: str
