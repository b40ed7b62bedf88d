"""The entries that a unit sends, each under an id that it makes itself and keeps through every retry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from uuid_utils.compat import uuid7

ROUTES = {
    "case": "cases/",
    "patch": "cases/{}/",
    "vitals": "cases/{}/vitals/",
    "intervention": "cases/{}/interventions/",
    "change": "interventions/{}/changes/",
    "container": "cases/{}/containers/",
    "procedure": "cases/{}/procedures/",
    "order": "cases/{}/orders/",
    "readback": "orders/{}/readback/",
    "not_given": "orders/{}/not_given/",
    "answer": "orders/{}/answer/",
    "note": "cases/{}/notes/",
    "phase": "cases/{}/phase/",
    "question": "cases/{}/questions/",
    "understood": "instructions/{}/understood/",
    "done": "instructions/{}/done/",
    "handover": "cases/{}/handover/",
}
TARGET = {"change": "intervention", "readback": "order", "not_given": "order", "answer": "order"}
TARGET |= {"understood": "instruction", "done": "instruction"}


def new_id() -> str:
    """A fresh id, ordered by time."""
    return str(uuid7())


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: its kind, what it belongs to (a case, an order or an intervention) and its content."""

    kind: str
    target: str
    content: Mapping[str, Any]
    id: str = field(default_factory=new_id)

    @property
    def method(self) -> str:
        """The verb that sends it alone."""
        return "PATCH" if self.kind == "patch" else "POST"

    @property
    def path(self) -> str:
        """Where it is sent alone."""
        return ROUTES[self.kind].format(self.target)

    def alone(self) -> dict[str, Any]:
        """The body of its own request."""
        return {"id": self.id, **self.content}

    def in_batch(self) -> dict[str, Any]:
        """The same entry as a member of a batch."""
        named = {} if self.kind == "case" else {TARGET.get(self.kind, "case"): self.target}
        return {"kind": self.kind, **named, **self.alone()}


def stamp(moment: datetime) -> str:
    """A time as the API takes it, to the millisecond."""
    return moment.isoformat(timespec="milliseconds")
