"""Questions and instructions that are open, by when they were told; a destination that the other side must see."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events
from consult.case.fold.entry import Entry
from consult.case.fold.lists import put, without
from consult.events import Event
from consult.state.case import CaseState
from consult.state.parts import Step
from consult.state.questions import GIVEN, OPEN, UNDERSTOOD, DestinationTold, Instruction, Question

OPEN_INSTRUCTION = (GIVEN, UNDERSTOOD)


def told_of(event: Event) -> tuple[Question | Instruction, ...]:
    """The questions and instructions of which an event tells, as they stand after it."""
    told = (getattr(event, "became", None), getattr(event, "answered", None))
    return tuple(each for each in told if isinstance(each, Question | Instruction))


def _asked(state: CaseState, question: Question) -> CaseState:
    if question.state != OPEN:
        return replace(state, questions=without(state.questions, question.id))
    return replace(state, questions=put(state.questions, question))


def _instructed(state: CaseState, instruction: Instruction) -> CaseState:
    if instruction.state not in OPEN_INSTRUCTION:
        return replace(state, instructions=without(state.instructions, instruction.id))
    return replace(state, instructions=put(state.instructions, instruction))


def asked(state: CaseState, event: events.QuestionAsked | events.QuestionWithdrawn, entry: Entry) -> CaseState:
    """The crew has asked, or needs no answer any more."""
    return _asked(state, event.became)


def seen(state: CaseState, event: events.QuestionsSeen, entry: Entry) -> CaseState:
    """A physician has questions in front of them."""
    step = Step(step="seen", at=entry.received_at, by=entry.by.name if entry.by else None)
    for question in state.questions:
        if question.id in event.questions:
            state = _asked(state, replace(question, seen_at=step.at, steps=(*question.steps, step)))
    return state


def given(state: CaseState, event: events.InstructionGiven, entry: Entry) -> CaseState:
    """A physician has told the crew what to do, perhaps in answer to a question."""
    state = _asked(state, event.answered) if event.answered else state
    return _instructed(state, event.became)


def moved(state: CaseState, event: events.InstructionMoved, entry: Entry) -> CaseState:
    """An instruction has gone a step on."""
    return _instructed(state, event.became)


def destination_told(state: CaseState, destination: str, entry: Entry) -> DestinationTold | None:
    """What the other side must see, once somebody has set this destination."""
    if entry.by is None or destination == state.destination:
        return state.destination_told
    side = "crew" if entry.by.is_crew else "physician"
    return DestinationTold(
        destination=destination, before=state.destination, by=entry.by.name, side=side, at=entry.received_at
    )


def destination_seen(state: CaseState, event: events.DestinationSeen, entry: Entry) -> CaseState:
    """The other side has seen it."""
    return replace(state, destination_told=None)
