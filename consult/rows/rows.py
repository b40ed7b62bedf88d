"""Rows before they are written: columns by table and id, gathered over the entries of one write."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec
from django.db import models

from consult.case.fold.entry import Entry
from consult.state.case import CaseState

Columns = dict[str, Any]
Table = type[models.Model]


@dataclass(frozen=True, slots=True)
class Happened:
    """An entry with the states around it, its number, and its time as it was sent."""

    entry: Entry
    before: CaseState | None
    after: CaseState
    at_as_sent: datetime
    offset_s: int | None

    @property
    def of_sender(self) -> Columns:
        """What every row made of a client's entry holds."""
        return {
            "by_id": UUID(self.entry.by.id) if self.entry.by else None,
            "received_at": self.entry.received_at,
            "clock_offset_s": self.offset_s,
            "seq": self.after.seq,
        }


@dataclass(slots=True)
class Rows:
    """The rows that several entries have made or changed, in the order in which they were first named.

    A column that names another row holds the id of that row; `gone` are rows that are taken out.
    """

    made: dict[tuple[Table, str], Columns] = field(default_factory=dict)
    changed: dict[tuple[Table, str], Columns] = field(default_factory=dict)
    gone: set[tuple[Table, str]] = field(default_factory=set)
    took_part: set[tuple[str, UUID]] = field(default_factory=set)  # columns of `TookPart`, and whose ids
    answers: set[str] = field(default_factory=set)  # the treatments that the write under way answers

    def make(self, table: Table, row_id: str, columns: Columns) -> None:
        """A new row."""
        self.made[table, row_id] = columns

    def change(self, table: Table, row_id: str, columns: Columns) -> None:
        """Other values of a row that is there, or is made by the same write."""
        known = self.made.get((table, row_id))
        if known is not None:
            known |= columns
        else:
            self.changed.setdefault((table, row_id), {}).update(columns)

    def put(self, table: Table, row_id: str, columns: Columns, *, new: bool) -> None:
        """Make a row or change it."""
        (self.make if new else self.change)(table, row_id, columns)


def plain(value: object) -> Any:
    """The value as a JSON column holds it."""
    return msgspec.json.decode(msgspec.json.encode(value))
