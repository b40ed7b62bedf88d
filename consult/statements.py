"""The few statements that each write makes, written out: the same as the models would, without what they look up anew.

Values go through their fields, so that both databases hold what the models read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, ClassVar, NamedTuple, TypeVar
from weakref import WeakKeyDictionary

import msgspec
from django.db import connections
from django.db.models import Field, JSONField, Model, QuerySet

Table = type[Model]
Row = TypeVar("Row", bound=Model)


class Unread(NamedTuple):
    """Long columns that are not read while the column `of` still holds what is `known`.

    Django reads them all the same where somebody asks the row for them.
    """

    columns: tuple[str, ...]
    of: str
    known: str


def lock(
    table: type[Row], values: Mapping[str, object], makes: Table | None = None, unread: Unread | None = None
) -> Row | None:
    """The row with these values, named as the model's attributes, locked for this transaction; None without one.

    Where the database can draw a key beforehand, `drawn` is one for a new row of the table that an entry `makes`.
    """
    database, columns, of = _database(), unread.columns if unread else (), unread.of if unread else ""
    statement, names, converters = _locking(table, tuple(values), makes, columns, of, database.vendor)
    known = [unread.known] * len(columns) if unread else []
    with _cursor(database) as cursor:
        cursor.execute(statement, [*known, *_told(database, table, values)])
        found = cursor.fetchone()
    if found is None:
        return None
    *row, drawn = found
    for place, convert, column in converters:
        row[place] = convert(row[place], column, database)
    told = dict(zip(names, row, strict=True))
    if unread and told[of] == unread.known:
        told = {name: value for name, value in told.items() if name not in columns}
    locked = table.from_db(database.alias, list(told), list(told.values()))
    locked.__dict__["drawn"] = drawn
    return locked


class Compiled:
    """A query set of rows as tuples that is asked again and again: Django takes ten times as long to compile it.

    PostgreSQL gets the statement that was compiled first, for as many values; no two of them are equal, none is None.
    """

    def __init__(self, query: Callable[..., QuerySet[Any, Any]]) -> None:
        self.query = query
        self.statements: dict[int, tuple[str, list[int]]] = {}

    def __call__(self, *values: object) -> Sequence[tuple[Any, ...]]:
        """The rows for these values."""
        database = _database()
        if database.vendor != "postgresql":  # its rows need the fields that make values of the models of them
            return list(self.query(*values))
        if len(values) not in self.statements:
            statement, told = self.query(*values).query.sql_with_params()
            self.statements[len(values)] = statement, [values.index(value) for value in told]
        statement, order = self.statements[len(values)]
        with _cursor(database) as cursor:
            cursor.execute(statement, [values[place] for place in order])
            return cursor.fetchall()  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class Change:
    """Columns of one row to set, named as the model's attributes."""

    table: Table
    key: int
    values: Mapping[str, object]


def insert(row: Model) -> None:
    """Insert a row that has no key yet, and give it the one that the database made."""
    database = _database()
    statement, told = _insertion(database, row)
    with _cursor(database) as cursor:
        cursor.execute(f"{statement} RETURNING id", told)
        row.pk = cursor.fetchone()[0]
    _written(row)


def together(writes: Sequence[Model | Change], *, on_disk: bool = True) -> None:
    """Insert rows and make changes, in one statement where the database can; new rows are not told their keys.

    `on_disk` false: this transaction's commit may answer before it is on disk. PostgreSQL writes its log in order: the
    next commit that waits for the disk takes this one along. SQLite, as it is set up, waits for none.
    """
    database = _database()
    parts = [_update(database, each) if isinstance(each, Change) else _insertion(database, each) for each in writes]
    with _cursor(database) as cursor:
        if database.vendor == "postgresql" and parts:
            *before, last = (statement for statement, _ in parts)
            first = ", ".join(f"w{place} AS ({statement})" for place, statement in enumerate(before))
            end = "" if on_disk else " RETURNING set_config('synchronous_commit', 'off', true)"
            cursor.execute(f"{first and f'WITH {first} '}{last}{end}", [value for _, told in parts for value in told])
        else:
            for statement, told in parts:
                cursor.execute(statement, told)
    for each in writes:
        if isinstance(each, Model):
            _written(each)


def _written(row: Model) -> None:
    row._state.adding, row._state.db = False, _database().alias


def _update(database: Any, change: Change) -> tuple[str, list[Any]]:
    table = change.table
    sets = ", ".join(f"{column} = %s" for column in _columns(table, change.values))
    statement = f"UPDATE {_quoted(table._meta.db_table)} SET {sets} WHERE id = %s"  # noqa: S608  holds no value
    return statement, [*_told(database, table, change.values), change.key]


class _KeptCursor:
    """The cursor that a connection keeps for the statements here, since what it has learned of types stays with it.

    Errors are raised as Django's own, and nothing is sent in a transaction that is to be rolled back.
    """

    of: ClassVar[WeakKeyDictionary[Any, Any]] = WeakKeyDictionary()

    def __init__(self, database: Any) -> None:
        self.database = database

    def __enter__(self) -> Any:
        database = self.database
        database.ensure_connection()
        database.validate_no_broken_transaction()
        kept = self.of.get(database.connection)
        if kept is None:
            kept = self.of[database.connection] = database.create_cursor()
        return kept

    def __exit__(self, *raised: Any) -> None:
        self.database.wrap_database_errors.__exit__(*raised)


def _cursor(database: Any) -> AbstractContextManager[Any]:
    """A cursor for one statement; a new one where that costs little, or where statements are counted."""
    kept = database.vendor == "postgresql" and not database.queries_logged
    return _KeptCursor(database) if kept else database.cursor()


def _database() -> Any:
    """This thread's connection: looked up once a statement, not by each of its values."""
    return connections["default"]


@lru_cache(maxsize=64)
def _locking(
    table: Table, names: tuple[str, ...], makes: Table | None, unread: tuple[str, ...], of: str, vendor: str
) -> tuple[str, list[str], tuple[tuple[int, Any, Any], ...]]:
    """The statement for one database, what it reads, and by place in the row what makes a value the model's."""
    database, fields = _database(), _fields(table)
    where = " AND ".join(f"{column} = %s" for column in _columns(table, names))
    end = " FOR UPDATE" if database.features.has_select_for_update else ""
    drawn = f"nextval('{makes._meta.db_table}_id_seq')" if makes and vendor == "postgresql" else "NULL"
    long = [name for name in fields if name in unread]
    read = {name: _quoted(field.column) for name, field in fields.items()}
    read |= {name: f"CASE WHEN {_quoted(of)} = %s THEN NULL ELSE {read[name]} END" for name in long}
    columns, whole = ", ".join([*read.values(), drawn]), _quoted(table._meta.db_table)
    converters = [
        (place, convert, field.cached_col)
        for place, field in enumerate(fields.values())
        for convert in _converting(database, field)
    ]
    return f"SELECT {columns} FROM {whole} WHERE {where}{end}", list(fields), tuple(converters)  # noqa: S608


def _converting(database: Any, field: Field) -> list[Any]:
    if isinstance(field, JSONField):
        return [lambda text, *_: None if text is None else msgspec.json.decode(text)]
    return [*database.ops.get_db_converters(field.cached_col), *field.get_db_converters(database)]


def _insertion(database: Any, row: Model) -> tuple[str, list[Any]]:
    table, known = type(row), row.pk is not None
    values = {name: row.__dict__[name] for name, field in _fields(table).items() if known or not field.primary_key}
    return _inserting(table, tuple(values)), _told(database, table, values)


@lru_cache(maxsize=64)
def _inserting(table: Table, names: tuple[str, ...]) -> str:
    places = ", ".join("%s" for _ in names)
    into = f"{_quoted(table._meta.db_table)} ({', '.join(_columns(table, names))})"
    return f"INSERT INTO {into} VALUES ({places})"  # noqa: S608  holds no value


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
