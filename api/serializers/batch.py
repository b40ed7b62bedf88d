"""A batch, and what each kind of entry in it consists of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.fields import Id, Many, Time
from api.serializers.cases import CaseChange, CaseEntry, Close, Coverage, Handover, Move
from api.serializers.containers import ContainerEntry, DiscardEntry
from api.serializers.entry import Entry
from api.serializers.interventions import InterventionChangeEntry, InterventionEntry
from api.serializers.notes import CorrectionEntry, NoteEntry, PhaseEntry, ProcedureEntry
from api.serializers.orders import Answer, OrderEntry, ReadBackEntry, Reason
from api.serializers.questions import QuestionEntry, StepTaken
from api.serializers.vitals import VitalsEntry
from api.shape import refusal

MOST_ENTRIES = 200
ID = Id()


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of entry: its content, the field that names what it is about, whether it makes something."""

    content: type[Entry]
    about: str | None = "case"
    creates: bool = True


KINDS = {
    "case": Kind(CaseEntry, about=None),
    "patch": Kind(CaseChange, creates=False),
    "vitals": Kind(VitalsEntry),
    "intervention": Kind(InterventionEntry),
    "change": Kind(InterventionChangeEntry, about="intervention"),
    "container": Kind(ContainerEntry),
    "discard": Kind(DiscardEntry, about="container"),
    "procedure": Kind(ProcedureEntry),
    "question": Kind(QuestionEntry),
    "withdraw_question": Kind(Reason, about="question", creates=False),
    "understood": Kind(StepTaken, about="instruction", creates=False),
    "done": Kind(StepTaken, about="instruction", creates=False),
    "unable": Kind(Reason, about="instruction", creates=False),
    "order": Kind(OrderEntry),
    "readback": Kind(ReadBackEntry, about="order", creates=False),
    "not_given": Kind(Reason, about="order", creates=False),
    "answer": Kind(Answer, about="order", creates=False),
    "withdraw": Kind(Reason, about="order", creates=False),
    "note": Kind(NoteEntry),
    "phase": Kind(PhaseEntry),
    "coverage": Kind(Coverage, creates=False),
    "move": Kind(Move, creates=False),
    "handover": Kind(Handover, creates=False),
    "close": Kind(Close, creates=False),
    "correction": Kind(CorrectionEntry),
}


class BatchEntry(serializers.Serializer):
    """One entry: the fields of its kind, these, and what it is about where that is not the case, by name.

    That is an `order`, `intervention`, `container`, `question` or `instruction`.
    """

    kind = serializers.ChoiceField(choices=tuple(KINDS))
    id = Id()
    case = Id(required=False)


class Batch(Entry):
    """Up to 200 entries in order, and the sender's clock at sending."""

    happened = ()

    sent_at = Time()
    entries = Many(child=serializers.JSONField(allow_null=True), max_length=MOST_ENTRIES)

    @classmethod
    def read(cls, body: Any, now: datetime, of_batch: timedelta | None = None) -> dict[str, Any]:
        """The entries, and the `offset` by which the sender's clock is behind; each entry is read on its own later."""
        found = cls.shared().run_validation(body)
        return {"entries": found["entries"], "offset": now - found["sent_at"] if of_batch is None else of_batch}


def kind_of(entry: Any) -> Kind:
    """Which kind an entry says it is; 422 where it says none."""
    if not isinstance(entry, dict):
        raise refusal("", "An object is needed.", "not_an_object")
    kind = entry.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise refusal("kind", "This kind is not known: one of " + ", ".join(KINDS) + ".", "invalid_choice")
    return KINDS[kind]


def named(entry: dict[str, Any], name: str) -> UUID:
    """The id that an entry names under `name`; 422 there without one."""
    if name not in entry:
        raise ValidationError({name: [ErrorDetail("This field is required in a batch.", code="required")]})
    try:
        return ID.to_internal_value(entry[name])
    except ValidationError as fault:
        raise ValidationError({name: fault.detail}) from None


def of_this_case(entry: dict[str, Any], case: UUID) -> None:
    """Refuse with 422 at `/case` an entry that names one case and something of another."""
    if named(entry, "case") != case:
        raise refusal("case", "What this entry names belongs to another case.", "other_case")


def content_of(entry: dict[str, Any], kind: Kind, now: datetime, offset: timedelta) -> dict[str, Any]:
    """The entry's content as it would be read alone."""
    named(entry, "id")
    apart = {"kind", "case", kind.about}
    return kind.content.read({key: value for key, value in entry.items() if key not in apart}, now, offset)
