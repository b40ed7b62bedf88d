"""Store and forward: entries kept while there was no connection, each carried out as if it had been sent alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from msgspec import UNSET, Struct, UnsetType
from rest_framework.request import Request
from rest_framework.response import Response

from api import allowance
from api.allowance import Of, TooMuch
from api.errors import ProblemDocument, document_of
from api.serializers.batch import Batch, Kind, content_of, kind_of, named, of_this_case
from api.views.base import ApiView
from consult import access
from consult.access import Actor
from consult.actions import (
    batch,
    cases,
    containers,
    corrections,
    interventions,
    notes,
    orders,
    questions,
    read_back,
    vitals,
)
from consult.actions.carry_out import Arrival
from consult.actions.entry import Written
from consult.problems import Unavailable

ACTIONS: dict[str, Callable[..., Written]] = {
    "case": cases.open_case,
    "patch": cases.patch_case,
    "vitals": vitals.record_vitals,
    "intervention": interventions.record_intervention,
    "change": interventions.change_intervention,
    "container": containers.record_container,
    "discard": containers.discard,
    "procedure": notes.add_procedure,
    "question": questions.ask,
    "withdraw_question": questions.withdraw_question,
    "understood": questions.understood,
    "done": questions.done,
    "unable": questions.unable,
    "order": orders.request_order,
    "readback": read_back.read_back,
    "not_given": orders.not_given,
    "answer": orders.answer,
    "withdraw": orders.withdraw,
    "note": notes.add_note,
    "phase": notes.change_phase,
    "coverage": cases.announce_coverage,
    "move": cases.move,
    "handover": cases.handover,
    "close": cases.close,
    "correction": corrections.correct,
}


SUBJECTS: dict[str | None, Callable[..., Any]] = {
    "order": partial(access.order_for, to_write=True),
    "intervention": partial(access.intervention_for, to_write=True),
    "container": partial(access.container_for, to_write=True),
    "question": partial(access.question_for, to_write=True),
    "instruction": partial(access.instruction_for, to_write=True),
}


class BatchResult(Struct, frozen=True, kw_only=True):
    """What became of one entry of a batch, with the status that it would have had alone; ``id`` as it was sent."""

    id: Any
    status: int
    seq: int | UnsetType = UNSET
    problem: ProblemDocument | UnsetType = UNSET


class BatchAnswer(Struct, frozen=True):
    """One result for each entry, in their order."""

    results: list[BatchResult]


class BatchView(ApiView):
    """Entries kept while there was no connection."""

    entry, answer = Batch, BatchAnswer
    gate = staticmethod(access.require_writer)

    def post(self, request: Request) -> Response:
        """Send up to 200 entries in order, each in its own transaction; one bad entry never costs another.

        An entry that depends on a refused one is refused on its own. The answer has one result for each entry, in
        their order.
        """
        data = self.content(Batch)
        self.admit()
        entries, offset = data["entries"], data["offset"]
        waiting = Waiting(self.actor, self.received_at)
        with batch.arriving(self.actor, self.received_at) as arrival:
            results = in_order(waiting, entries, offset, arrival)
        later = {"Retry-After": str(waiting.too_much.wait)} if waiting.too_much else None
        return Response(BatchAnswer(results), headers=later)


@dataclass
class Waiting:
    """Which entries of a batch are too many for now: once one is, all that come after it, since they may build on it.

    Readings wait only for the case that they belong to.
    """

    actor: Actor
    now: datetime
    too_much: TooMuch | None = None
    cases: set[str] = field(default_factory=set)

    def holds(self, entry: Any) -> TooMuch | None:
        """The refusal of an entry that must be sent again later."""
        kind = entry.get("kind") if isinstance(entry, dict) else None
        if kind == "vitals":
            return self.too_much if str(entry.get("case")) in self.cases else None
        if kind == "case":
            return self._case(str(entry.get("id")))
        if self.too_much is None and (wait := allowance.take(self.actor, Of.ENTRIES, self.now)):
            self.too_much = TooMuch(wait)
        return self.too_much

    def _case(self, case: str) -> TooMuch | None:
        wait = allowance.take(self.actor, Of.CASES, self.now)
        if wait is None:
            return None
        self.cases.add(case)
        self.too_much = TooMuch(wait)
        return self.too_much


def in_order(waiting: Waiting, entries: list[Any], offset: timedelta, arrival: Arrival) -> list[BatchResult]:
    """How the entries fared; once the database is away the rest is, else it would be refused for what it follows."""
    results: list[BatchResult] = []
    for entry in entries:
        away = bool(results) and results[-1].status == Unavailable.status
        fault = Unavailable() if away else waiting.holds(entry)
        results.append(refusal(entry, fault) if fault else result(waiting.actor, entry, waiting.now, offset, arrival))
    return results


def result(actor: Actor, entry: Any, now: datetime, offset: timedelta, arrival: Arrival) -> BatchResult:
    """How one entry fared: its id, the status that it would have had alone, and `seq` or `problem`."""
    try:
        kind, done = carry_out(actor, entry, now, offset, arrival)
    except Exception as fault:  # also an unforeseen one is this entry's alone; it is logged under a reference
        return refusal(entry, fault)
    return BatchResult(id=entry["id"], status=201 if done.created and kind.creates else 200, seq=done.seq)


def refusal(entry: Any, fault: Exception) -> BatchResult:
    """The result of an entry that was not carried out."""
    problem = document_of(fault)
    sent = entry.get("id") if isinstance(entry, dict) else None
    return BatchResult(id=sent, status=problem.status, problem=problem)


def carry_out(actor: Actor, entry: Any, now: datetime, offset: timedelta, arrival: Arrival) -> tuple[Kind, Written]:
    """Read one entry and do what it says."""
    kind = kind_of(entry)
    about = [named(entry, kind.about)] if kind.about else []
    data = content_of(entry, kind, now, offset)
    if "case" in entry and kind.about in SUBJECTS:
        of_this_case(entry, SUBJECTS[kind.about](actor, *about).case.uid)
    return kind, ACTIONS[entry["kind"]](actor, *about, data, now, arrival=arrival)
