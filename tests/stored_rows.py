"""Rows that many tests begin with: made once by the project's own functions, then put back as they stood."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any, Generic, TypeVar, cast

from django.apps import apps
from django.db import connection, transaction

Made = TypeVar("Made")


class StoredRows(Generic[Made]):
    """What `make` gives and the rows that it writes into empty tables of ours."""

    def __init__(self, make: Callable[[], Made]) -> None:
        self._make = make
        self._made: Made | None = None
        self._rows: dict[str, list[tuple[Any, ...]]] = {}

    def get(self) -> Made:
        """Made the first time, and beside what a test has written before; else its rows are put back."""
        if any(_rows_of(table) for table in _tables()):
            return self._make()
        if not self._rows:
            self._made = self._make()
            self._rows = {table: rows for table in _tables() if (rows := _rows_of(table))}
        else:
            with transaction.atomic(), connection.cursor() as cursor:
                for table, rows in self._rows.items():
                    places = ", ".join(["%s"] * len(rows[0]))
                    cursor.executemany(f'INSERT INTO "{table}" VALUES ({places})', rows)
        return copy.deepcopy(cast(Made, self._made))


def _tables() -> list[str]:
    return [model._meta.db_table for model in apps.get_app_config("consult").get_models()]


def _rows_of(table: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT * FROM "{table}"')
        return cursor.fetchall()
