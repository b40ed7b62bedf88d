"""The database's own limit: pgbench writing the same rows into the same tables, one transaction a post."""

from __future__ import annotations

import re
import subprocess
import tempfile
from pathlib import Path

import psycopg

CASE = """
UPDATE consult_case SET seq = seq + 1, head = :head, folded = :folded, card = :card, last_contact_at = now(),
    wake_at = now() WHERE id = :case RETURNING seq \\gset
"""


def _columns(connection: psycopg.Connection, table: str) -> list[str]:
    rows = connection.execute(
        "SELECT column_name FROM information_schema.columns WHERE table_name = %s AND column_name <> 'id'", [table]
    )
    return [row[0] for row in rows]


def _insert(connection: psycopg.Connection, table: str, fresh: dict[str, str], sent: dict[str, str]) -> str:
    """A statement that writes the newest row of the table once more; its values are put into `sent`, by parameter."""
    columns = _columns(connection, table)
    texts = ", ".join(f"{name}::text" for name in columns)
    row = connection.execute(f"SELECT {texts} FROM {table} ORDER BY id DESC LIMIT 1").fetchone()
    assert row is not None
    values = []
    for name, value in zip(columns, row, strict=True):
        if value is not None and name not in fresh:
            sent[f"{table}_{name}"] = value
        values.append(fresh.get(name) or ("NULL" if value is None else f":{table}_{name}"))
    return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join(values)});"


def script(database: str) -> tuple[str, dict[str, str]]:
    """The pgbench script, and the values that go with each post as parameters, as a client sends them."""
    with psycopg.connect(database) as connection:
        cases = connection.execute("SELECT min(id), max(id) FROM consult_case").fetchone()
        large = connection.execute("SELECT head, folded, card FROM consult_case LIMIT 1").fetchone()
        assert cases is not None
        assert large is not None
        sent = dict(zip(("head", "folded", "card"), large, strict=True))
        fresh = {"case_id": ":case", "uid": "gen_random_uuid()", "entry": "gen_random_uuid()", "seq": ":seq"}
        lines = [f"\\set case random({cases[0]}, {cases[1]})", "BEGIN;", CASE.strip()]
        lines += [_insert(connection, table, fresh, sent) for table in ("consult_vitals", "consult_journalentry")]
        return "\n".join([*lines, "COMMIT;"]), sent


def transactions_per_second(database: str, clients: int, seconds: int) -> float:
    """How many such transactions the server commits each second."""
    text, sent = script(database)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "post.sql"
        file.write_text(text)
        words = ["pgbench", "-n", "-M", "prepared", "-c", str(clients), "-j", "2", "-T", str(seconds), "-f", str(file)]
        words += [f"-D{name}={value}" for name, value in sent.items()]
        done = subprocess.run([*words, database], check=False, capture_output=True, text=True)
    found = re.search(r"tps = ([\d.]+)", done.stdout)
    if done.returncode or not found:
        raise RuntimeError(f"pgbench: {done.stderr[:500]}")
    return float(found[1])
