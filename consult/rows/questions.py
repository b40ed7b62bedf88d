"""The rows of questions and instructions."""

from __future__ import annotations

from consult import events
from consult.case.fold.questions import told_of
from consult.events import Event
from consult.models import Instruction, Question
from consult.rows.rows import Happened, Rows, Table, plain
from consult.state.questions import Instruction as InstructionState
from consult.state.questions import Question as QuestionState

MAKES = (events.QuestionAsked, events.InstructionGiven)


def questions(rows: Rows, event: Event, happened: Happened) -> None:
    """Those that stand otherwise: the ones that the event tells of, and the ones that were seen."""
    for told in told_of(event):
        _row(rows, told, event, happened)
    if isinstance(event, events.QuestionsSeen):
        for question in happened.after.questions:
            if question.id in event.questions:
                _row(rows, question, event, happened)


def _row(rows: Rows, told: QuestionState | InstructionState, event: Event, happened: Happened) -> None:
    table: Table = Question if isinstance(told, QuestionState) else Instruction
    content = plain(told)
    columns = {"state": content.pop("state"), "steps": content.pop("steps"), "data": content}
    new = isinstance(event, MAKES) and event.id == told.id
    if new:
        columns |= {**happened.of_sender, "at_as_sent": happened.at_as_sent}
    del content["id"], content["case"]
    rows.put(table, told.id, columns, new=new)
