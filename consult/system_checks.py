"""What must hold before the board starts; `manage.py check --database default --fail-level WARNING` says so."""

from collections.abc import Sequence
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.db.models import Model

from consult.journal import triggers


@register(Tags.compatibility)
def connections_are_not_kept(**_: Any) -> list[CheckMessage]:
    """A connection with an age leaks under ASGI, where each request has its own thread; a pool keeps them instead."""
    ages = {name: database.get("CONN_MAX_AGE") for name, database in settings.DATABASES.items()}
    return [
        Error(f"CONN_MAX_AGE of {name} must be 0, not {age}.", id="consult.E001")
        for name, age in ages.items()
        if age != 0
    ]


def missing_columns() -> list[str]:
    """Today's tables and columns that are not there although all migrations are recorded: made by other code."""
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        models = list(apps.get_app_config("consult").get_models())
        absent = [model._meta.db_table for model in models if model._meta.db_table not in tables]
        return absent + [
            f"{model._meta.db_table}.{field.column}"
            for model in models
            if model._meta.db_table in tables
            for field in _lacking(cursor, model)
        ]


def _lacking(cursor: CursorWrapper, model: type[Model]) -> list[Any]:
    # Asking for no row names the columns; Django's description would parse the table's whole SQL.
    cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)} LIMIT 0")  # noqa: S608
    there = {column[0] for column in cursor.description}
    return [field for field in model._meta.concrete_fields if field.column not in there]


@register(Tags.database)
def journal_is_guarded(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Without its triggers the journal could be changed or cut by any statement."""
    if not databases or triggers.TABLE not in connection.introspection.table_names() or triggers.installed():
        return []
    return [Warning("The journal has no triggers.", hint="Run manage.py migrate.", id="consult.W001")]
