"""The rows as the journal makes them anew, held against those that are stored."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db import models

from consult.case.fold.apply import apply
from consult.journal.read import entries_of, offset_of
from consult.models import Case, Reassessment, TookPart
from consult.rows.projection import case_columns, project
from consult.rows.rows import Columns, Happened, Rows, Table
from consult.rows.store import NAMES
from consult.state.case import CaseState


def made_anew(case: Case) -> Rows:
    """All rows of a case, made of its journal alone."""
    rows, before, answered = Rows(), None, 0
    for line, entry in entries_of(case):
        if line.answered != answered:  # another write begins
            answered = line.answered
            rows.answers.clear()
        after = apply(before, entry)
        project(rows, Happened(entry, before, after, line.at, offset_of(line)))
        before = after
    return rows


def faults(case: Case, state: CaseState) -> Iterator[str]:
    """What of the stored rows is other than the journal says: which row, which columns."""
    rows = made_anew(case)
    for name, value in case_columns(state).items():
        if getattr(case, name) != value:
            yield f"case: {name}"
    parts = TookPart.objects.filter(case=case).values_list("unit_id", "physician_id")
    if {("unit_id", unit) if unit else ("physician_id", who) for unit, who in parts} != rows.took_part:
        yield "case: who took part"
    taken_out = {dose for _, dose in rows.gone}
    for (table, row_id), columns in rows.made.items():
        if table is not Reassessment or columns["intervention"] not in taken_out:
            yield from _differences(case, table, row_id, columns)


def _differences(case: Case, table: Table, row_id: str, columns: Columns) -> Iterator[str]:
    row = table._default_manager.filter(case=case, uid=row_id).first()
    if row is None:
        yield f"{table.__name__} {row_id}: missing"
        return
    for name, value in columns.items():
        if _stored(row, table, name) != value:
            yield f"{table.__name__} {row_id}: {name}"


def _stored(row: models.Model, table: Table, name: str) -> Any:
    value = getattr(row, name)
    return str(value.uid) if (table, name) in NAMES and value is not None else value
