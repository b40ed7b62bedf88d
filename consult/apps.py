"""The one Django app of the project."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ConsultConfig(AppConfig):
    """Models, actions, live boards and screens of the consult board."""

    name = "consult"
    verbose_name = "Consult board"

    def ready(self) -> None:
        """Register the start-up system_checks, and guard the journal anew after each migrate."""
        from consult import system_checks  # noqa: F401  checks register themselves

        post_migrate.connect(_guard_the_journal, sender=self)


def _guard_the_journal(**_: Any) -> None:
    """A migration that remakes the table has dropped its triggers; one that unmakes it leaves nothing to guard."""
    from django.db import connection

    from consult.journal import triggers

    if triggers.TABLE in connection.introspection.table_names():
        triggers.install()
