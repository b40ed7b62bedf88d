"""The few statements that each write makes, written out: the same as the models would, without what they look up anew.

Values go through their fields, so that both databases hold what the models read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

import msgspec
from django.db import connections
from django.db.models import Field, JSONField, Model

Table = type[Model]
Row = TypeVar("Row", bound=Model)


def wait_for_no_disk() -> None:
    """Let this transaction's commit answer before it is on disk.

    PostgreSQL writes its log in order: the next commit that waits for the disk takes this one along. SQLite, as it is
    set up, waits for none.
    """
    database = _database()
    if database.vendor == "postgresql":
        with database.cursor() as cursor:
            cursor.execute("SELECT set_config('synchronous_commit', 'off', true)")


def lock(table: type[Row], values: Mapping[str, object]) -> Row | None:
    """The row with these values, named as the model's attributes, locked for this transaction; None without one."""
    database = _database()
    statement, converters = _locking(table, tuple(values), database.vendor)
    with database.cursor() as cursor:
        cursor.execute(statement, _told(database, table, values))
        found = cursor.fetchone()
    if found is None:
        return None
    row = list(found)
    for place, convert, column in converters:
        row[place] = convert(row[place], column, database)
    return table.from_db(database.alias, list(_fields(table)), row)


@dataclass(frozen=True, slots=True)
class Change:
    """Columns of one row to set, named as the model's attributes."""

    table: Table
    key: int
    values: Mapping[str, object]


def insert(row: Model, change: Change | None = None) -> None:
    """Insert a row that has no key yet, and give it the one that the database made.

    With it a `change` of another row is made, in the same statement where the database can do both in one.
    """
    database, table = _database(), type(row)
    values = {name: row.__dict__[name] for name, field in _fields(table).items() if not field.primary_key}
    statement, told = _insertion(table, tuple(values), database.vendor), _told(database, table, values)
    if change and database.vendor == "postgresql":
        first, sets = _update(database, change)
        statement, told = f"WITH changed AS ({first}) {statement}", [*sets, *told]
    elif change:
        update(change)
    with database.cursor() as cursor:
        cursor.execute(statement, told)
        row.pk = cursor.fetchone()[0]
    row._state.adding, row._state.db = False, database.alias


def update(change: Change) -> None:
    """Set columns of one row."""
    database = _database()
    with database.cursor() as cursor:
        cursor.execute(*_update(database, change))


def _update(database: Any, change: Change) -> tuple[str, list[Any]]:
    table = change.table
    sets = ", ".join(f"{column} = %s" for column in _columns(table, change.values))
    statement = f"UPDATE {_quoted(table._meta.db_table)} SET {sets} WHERE id = %s"  # noqa: S608  holds no value
    return statement, [*_told(database, table, change.values), change.key]


def _database() -> Any:
    """This thread's connection: looked up once a statement, not by each of its values."""
    return connections["default"]


@lru_cache(maxsize=64)
def _locking(table: Table, names: tuple[str, ...], vendor: str) -> tuple[str, tuple[tuple[int, Any, Any], ...]]:
    """The statement for one database, and by place in the row what makes a column's value the model's."""
    database, fields = _database(), _fields(table)
    where = " AND ".join(f"{column} = %s" for column in _columns(table, names))
    end = " FOR UPDATE" if database.features.has_select_for_update else ""
    columns, whole = ", ".join(_columns(table, fields)), _quoted(table._meta.db_table)
    converters = [
        (place, convert, field.cached_col)
        for place, field in enumerate(fields.values())
        for convert in database.ops.get_db_converters(field.cached_col) + field.get_db_converters(database)
    ]
    return f"SELECT {columns} FROM {whole} WHERE {where}{end}", tuple(converters)  # noqa: S608  holds no value


@lru_cache(maxsize=64)
def _insertion(table: Table, names: tuple[str, ...], vendor: str) -> str:
    """The statement for one database."""
    places = ", ".join("%s" for _ in names)
    into = f"{_quoted(table._meta.db_table)} ({', '.join(_columns(table, names))})"
    return f"INSERT INTO {into} VALUES ({places}) RETURNING id"  # noqa: S608  holds no value


@lru_cache(maxsize=64)
def _fields(table: Table) -> dict[str, Field]:
    return {field.attname: field for field in table._meta.concrete_fields}


def _columns(table: Table, names: Iterable[str]) -> list[str]:
    fields = _fields(table)
    return [_quoted(fields[name].column) for name in names]


def _told(database: Any, table: Table, values: Mapping[str, object]) -> list[Any]:
    fields = _fields(table)
    if database.vendor == "postgresql":  # its driver takes all that the models hold, but for JSON
        return [_json(value) if isinstance(fields[name], JSONField) else value for name, value in values.items()]
    return [fields[name].get_db_prep_save(value, database) for name, value in values.items()]


def _json(value: object) -> str | None:
    return None if value is None else msgspec.json.encode(value).decode()


def _quoted(name: str | None) -> str:
    return f'"{name}"'  # both databases do it so
