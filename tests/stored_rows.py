"""Rows that many tests begin with: made once by the project's own functions, then put back as they stood."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db import connection, transaction


class StoredRows:
    """The rows of all our tables as they were once, by table: its columns and what stood in them."""

    def __init__(self) -> None:
        self._tables = [model._meta.db_table for model in apps.get_app_config("consult").get_models()]
        self._kept: dict[str, tuple[str, list[tuple[Any, ...]]]] = {}

    def keep(self) -> None:
        """Keep what stands in our tables now."""
        with connection.cursor() as cursor:
            for table in self._tables:
                cursor.execute(f'SELECT * FROM "{table}"')
                rows = cursor.fetchall()
                if rows:
                    columns = [column.name if hasattr(column, "name") else column[0] for column in cursor.description]
                    self._kept[table] = (_insertion(table, columns), rows)

    def put_back(self) -> None:
        """Write them again, into tables that are empty."""
        with transaction.atomic(), connection.cursor() as cursor:
            for insertion, rows in self._kept.values():
                cursor.executemany(insertion, rows)


def _insertion(table: str, columns: list[str]) -> str:
    names = ", ".join(f'"{column}"' for column in columns)
    return f'INSERT INTO "{table}" ({names}) VALUES ({", ".join(["%s"] * len(columns))})'
