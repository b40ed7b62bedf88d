"""The few statements that each write makes, written out: the same as the models would, without what they look up anew.

Values go through their fields, so that both databases hold what the models read.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from django.db import connection
from django.db.models import Field, Model

Table = type[Model]


def insert(row: Model) -> None:
    """Insert a row that has no key yet, and give it the one that the database made."""
    statement, fields = _insertion(type(row), connection.vendor)
    with connection.cursor() as cursor:
        cursor.execute(statement, [_value(field, getattr(row, field.attname)) for field in fields])
        row.pk = cursor.fetchone()[0]
    row._state.adding, row._state.db = False, connection.alias


def update(table: Table, key: int, values: Mapping[str, object]) -> None:
    """Set columns of one row, named as the model's attributes."""
    fields = [_fields(table)[name] for name in values]
    sets = ", ".join(f"{_quoted(field.column)} = %s" for field in fields)
    told = [_value(field, value) for field, value in zip(fields, values.values(), strict=True)]
    with connection.cursor() as cursor:
        statement = f"UPDATE {_quoted(table._meta.db_table)} SET {sets} WHERE id = %s"  # noqa: S608  holds no value
        cursor.execute(statement, [*told, key])


@lru_cache(maxsize=64)
def _insertion(table: Table, vendor: str) -> tuple[str, tuple[Field, ...]]:
    """The statement for one database and the fields whose values it takes."""
    fields = tuple(field for field in table._meta.concrete_fields if not field.primary_key)
    into = f"{_quoted(table._meta.db_table)} ({', '.join(_quoted(field.column) for field in fields)})"
    places = ", ".join("%s" for _ in fields)
    return f"INSERT INTO {into} VALUES ({places}) RETURNING id", fields  # noqa: S608  holds no value


@lru_cache(maxsize=64)
def _fields(table: Table) -> dict[str, Field]:
    return {field.attname: field for field in table._meta.concrete_fields}


def _value(field: Field, value: object) -> Any:
    return field.get_db_prep_save(value, connection)


def _quoted(name: str | None) -> str:
    return connection.ops.quote_name(name or "")
