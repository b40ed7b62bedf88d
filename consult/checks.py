"""What must hold before the board starts; `manage.py check --database default --fail-level WARNING` says so."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connection

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


@register(Tags.database)
def journal_is_guarded(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Without its triggers the journal could be changed or cut by any statement."""
    if not databases or triggers.TABLE not in connection.introspection.table_names() or triggers.installed():
        return []
    return [Warning("The journal has no triggers.", hint="Run manage.py migrate.", id="consult.W001")]
