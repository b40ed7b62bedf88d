"""Consults without a drug: what a crew asks, what a physician says, and a destination that the other side must see."""

from __future__ import annotations

from typing import Annotated

from msgspec import Struct

from consult.state.parts import Step
from dosing.ground.facts import Number
from dosing.ground.kinds import Id, Time, one_of

TOPICS = ("advice", "destination", "refusal", "end_resuscitation", "other")
GUIDED = ("refusal", "end_resuscitation")  # topics that come with a form and are answered by a decision
OPEN, ANSWERED, WITHDRAWN = "open", "answered", "withdrawn"
GIVEN, UNDERSTOOD, DONE, UNABLE = "given", "understood", "done", "unable"
DECISIONS = ("agreed", "not_agreed")
Topic = Annotated[str, one_of(*TOPICS)]
Decision = Annotated[str, one_of(*DECISIONS)]


class Form(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a guided question states: the first four for a refusal of care, the others for ending a resuscitation.

    ``minutes`` of resuscitation so far, ``etco2`` in mmHg, ``criteria`` of the rule set that are met, by their names.
    """

    capacity: Annotated[str, one_of("yes", "no", "unsure")] | None = None
    risks_told: bool | None = None
    witness: str | None = None
    who_refuses: str | None = None
    minutes: Number | None = None
    rhythm: str | None = None
    etco2: Number | None = None
    criteria: tuple[str, ...] | None = None


class Criterion(Struct, frozen=True, kw_only=True):
    """A criterion of the rule set as it stood when the crew checked it off or left it; `rules` ask for it.

    ``unverified``: the source of its words was written from memory.
    """

    slug: str
    text: str
    rules: tuple[str, ...]
    met: bool
    unverified: bool = False


class Question(Struct, frozen=True, kw_only=True):
    """What a crew asks that is no order; the clock runs from ``waiting_since``, its receipt.

    ``criteria`` are all those of the rule set, of a question about ending a resuscitation; ``decision`` is the answer
    to a guided one, by ``answered_by``, and ``instruction`` the answer's id.
    """

    id: Id
    case: Id
    state: Annotated[str, one_of(OPEN, ANSWERED, WITHDRAWN)]
    topic: Topic
    text: str
    asked_by: str
    asked_at: Time
    waiting_since: Time
    form: Form | None = None
    criteria: tuple[Criterion, ...] = ()
    seen_at: Time | None = None
    answered_by: str | None = None
    answered_at: Time | None = None
    answer: str | None = None
    decision: Decision | None = None
    instruction: Id | None = None
    steps: tuple[Step, ...] = ()


class Instruction(Struct, frozen=True, kw_only=True):
    """What a physician tells a crew to do that is no drug; ``asked`` is the question that it answers, as it was put.

    Until it is understood its clock runs from ``waiting_since``, its receipt.
    """

    id: Id
    case: Id
    state: Annotated[str, one_of(GIVEN, UNDERSTOOD, DONE, UNABLE, WITHDRAWN)]
    text: str
    by: str
    given_at: Time
    waiting_since: Time
    question: Id | None = None
    topic: Topic | None = None
    asked: str | None = None
    decision: Decision | None = None
    understood_by: str | None = None
    understood_at: Time | None = None
    ended_at: Time | None = None
    reason: str | None = None
    steps: tuple[Step, ...] = ()


class DestinationTold(Struct, frozen=True, kw_only=True):
    """A new destination that one ``side`` (crew or physician) has set and the other has not said it has seen."""

    destination: str
    before: str
    by: str
    side: Annotated[str, one_of("crew", "physician")]
    at: Time
