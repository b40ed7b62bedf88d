"""Writes the projected rows: one statement a row."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import models

from consult import statements
from consult.models import Case, Container, Intervention, Order, Reassessment, TookPart
from consult.rows.rows import Columns, Rows, Table

NAMES: dict[tuple[Table, str], Table] = {
    (Intervention, "order"): Order,
    (Reassessment, "intervention"): Intervention,
    (Container, "hung_with"): Intervention,
}


def store(case: Case, rows: Rows, subject: tuple[Table, str] | None) -> dict[tuple[Table, str], models.Model]:
    """Write the rows; answers the new ones by table and id.

    The `subject` is left to be written with the journal where a key for it was drawn with the case's lock.
    """
    made: dict[tuple[Table, str], models.Model] = {}
    for (table, row_id), columns in rows.made.items():
        row = table(uid=UUID(row_id), case=case, **_named(case, table, columns, made))
        if (table, row_id) == subject and case.drawn:
            row.pk = case.drawn
        else:
            statements.insert(row)
        made[table, row_id] = row
    if rows.took_part:
        parts = [TookPart(case=case, **{column: who}) for column, who in sorted(rows.took_part)]
        TookPart._default_manager.bulk_create(parts, ignore_conflicts=True)  # one who had part already
    for table, row_id in rows.gone:
        table._default_manager.filter(case=case, intervention__uid=row_id).delete()
    for (table, row_id), columns in rows.changed.items():
        _change(case, table, row_id, _named(case, table, columns, made))
    return made


def _change(case: Case, table: Table, row_id: str, columns: Columns) -> None:
    """Other values of a row; a treatment whose reading was taken out asks for a new one when it changes."""
    found = table._default_manager.filter(case=case, uid=row_id).update(**columns)
    if not found and table is Reassessment and "intervention" in columns:
        table(uid=UUID(row_id), case=case, **columns).save(force_insert=True)


def _named(case: Case, table: Table, columns: Columns, made: dict[tuple[Table, str], models.Model]) -> Columns:
    """The columns with the rows that they name by id."""
    return {
        name: _row(case, NAMES[table, name], value, made) if (table, name) in NAMES and value else value
        for name, value in columns.items()
    }


def _row(case: Case, table: Table, row_id: str, made: dict[tuple[Table, str], models.Model]) -> Any:
    return made.get((table, row_id)) or table._default_manager.get(case=case, uid=row_id)
