"""Questions and instructions: consults without a drug."""

from __future__ import annotations

import msgspec

from consult.models import Instruction, Question
from consult.state.questions import Instruction as Instructed
from consult.state.questions import Question as Asked
from dosing.ground.kinds import Time

Plain = dict[str, object]


class WrittenQuestion(Asked, frozen=True, kw_only=True):
    """A question after a step; ``at`` is its time as it was sent, ``seq`` the case's journal number then."""

    at: Time
    clock_offset_s: int | None
    seq: int


class WrittenInstruction(Instructed, frozen=True, kw_only=True):
    """An instruction after a step; ``at`` is its time as it was sent, ``seq`` the case's journal number then."""

    at: Time
    clock_offset_s: int | None
    seq: int


def told_dict(row: Question | Instruction) -> Plain:
    """A question or an instruction as plain values: its content now, its state, its steps."""
    own = {"id": str(row.uid), "case": str(row.case.uid), "state": str(row.state), "steps": row.steps}
    return {**row.data, **own}


def question_state(row: Question) -> Asked:
    """A question as the case's state holds it, open or not."""
    return msgspec.convert(told_dict(row), Asked)


def instruction_state(row: Instruction) -> Instructed:
    """An instruction as the case's state holds it, open or not."""
    return msgspec.convert(told_dict(row), Instructed)


def written_question(row: Question, seq: int) -> WrittenQuestion:
    """A question after a step."""
    return msgspec.convert({**_as_sent(row), "seq": seq}, WrittenQuestion)


def written_instruction(row: Instruction, seq: int) -> WrittenInstruction:
    """An instruction after a step."""
    return msgspec.convert({**_as_sent(row), "seq": seq}, WrittenInstruction)


def _as_sent(row: Question | Instruction) -> Plain:
    return {**told_dict(row), "at": row.at_as_sent, "clock_offset_s": row.clock_offset_s}
