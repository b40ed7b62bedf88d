"""Database triggers that refuse to change or delete a journal line.

A table remake drops them, so they are put back after each migrate, and looked for at start-up.
"""

from __future__ import annotations

from django.db import DatabaseError, connection

TABLE = "consult_journalentry"
NAMES = {action: f"journal_refuses_{action}" for action in ("update", "delete")}

_SQLITE = """CREATE TRIGGER IF NOT EXISTS {name} BEFORE {action} ON {table}
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END"""
_POSTGRESQL_FUNCTION = """CREATE OR REPLACE FUNCTION journal_refuses() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'the journal is append-only'; END $$"""
_POSTGRESQL = """CREATE OR REPLACE TRIGGER {name} BEFORE {action} ON {table}
FOR EACH ROW EXECUTE FUNCTION journal_refuses()"""


def install() -> None:
    """Put the triggers on the journal table; does nothing where they already are."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRESQL_FUNCTION)
        for action, name in NAMES.items():
            statement = _POSTGRESQL if connection.vendor == "postgresql" else _SQLITE
            cursor.execute(statement.format(name=name, action=action.upper(), table=TABLE))


def lift() -> None:
    """Take the triggers off: for tests that empty the tables."""
    on_table = f" ON {TABLE}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        for name in NAMES.values():
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on_table}")


def installed() -> bool:
    """Whether both triggers are there; False also where the table does not exist yet."""
    query = (
        "SELECT tgname FROM pg_trigger WHERE tgrelid = to_regclass(%s)"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s"
    )
    try:
        with connection.cursor() as cursor:
            cursor.execute(query, [TABLE])
            return set(NAMES.values()) <= {row[0] for row in cursor.fetchall()}
    except DatabaseError:
        return False
