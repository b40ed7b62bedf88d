"""The journal: append-only for everybody, and no change to it goes unseen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from consult.journal import triggers, verify
from consult.models import Case, JournalEntry
from tests.conftest import NOON, Consult, later


@pytest.fixture
def written(consult: Consult) -> Consult:
    for minute in range(4):
        consult.vitals(at=later(minutes=minute), sbp=100 - minute, dbp=50)
    return consult


@pytest.mark.parametrize("act", [lambda rows: rows.update(kind="x"), lambda rows: rows._raw_delete("default")])
def test_the_database_refuses_to_change_or_delete_a_line(written: Consult, act: Callable[[Any], Any]) -> None:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        act(JournalEntry.objects.filter(seq=2))
    assert JournalEntry.objects.filter(kind="x").count() == 0


def test_an_untouched_journal_is_intact(written: Consult) -> None:
    answer = verify.verified(written.cast.averill, None, NOON)

    assert (answer["intact"], answer["first_fault"]) == (True, None)
    assert answer["checked_to"]["entries"] == written.row.seq


def test_what_is_written_while_a_journal_is_read_is_no_fault(written: Consult) -> None:
    read_before = Case.objects.get(pk=written.row.pk)
    written.vitals(at=later(minutes=5), sbp=90, dbp=50)

    assert verify.fault_in(read_before) is None
    assert read_before.seq == Case.objects.get(pk=written.row.pk).seq


TAMPERING: dict[str, Callable[[Any], Any]] = {
    "a value changed": lambda rows: rows.filter(seq=3).update(data='{"sbp":200}'),
    "what the card said changed": lambda rows: rows.filter(seq=3).update(changes="{}"),
    "another author": lambda rows: rows.filter(seq=3).update(by_name="Dr. Nobody"),
    "another sender": lambda rows: rows.filter(seq=3).update(by=None),
    "what was sent": lambda rows: rows.filter(seq=3).update(content="0" * 64),
    "another row": lambda rows: rows.filter(seq=3).update(subject=1),
    "what was answered": lambda rows: rows.filter(seq=3).update(answered=9),
    "another version": lambda rows: rows.filter(seq=3).update(version=2),
    "told late": lambda rows: rows.filter(seq=3).update(late=True),
    "another time": lambda rows: rows.filter(seq=3).update(at=later(minutes=30)),
    "a line taken out": lambda rows: rows.filter(seq=3)._raw_delete("default"),
    "the end cut off": lambda rows: rows.filter(seq__gte=4)._raw_delete("default"),
    "two lines exchanged": lambda rows: _exchange(rows),
    "a line that cannot be read": lambda rows: rows.filter(seq=3).update(data="{"),
}


def _exchange(rows: Any) -> None:
    rows.filter(seq=2).update(seq=99)
    rows.filter(seq=3).update(seq=2)
    rows.filter(seq=99).update(seq=3)


@pytest.mark.parametrize("name", TAMPERING)
def test_whoever_gets_past_the_triggers_is_seen(written: Consult, name: str) -> None:
    triggers.lift()
    TAMPERING[name](JournalEntry.objects.filter(case=written.row))

    fault = verify.fault_in(written.row)
    assert fault is not None
    assert fault["seq"] in (2, 3, 4)


def test_the_triggers_are_found_at_start_up(db: None) -> None:
    assert triggers.installed()
    with transaction.atomic():
        triggers.lift()
        assert not triggers.installed()
        transaction.set_rollback(True)
    assert connection.vendor in ("sqlite", "postgresql")


def test_what_came_since_the_last_run_is_verified_with_it(written: Consult) -> None:
    agency = written.row.agency_id
    verify.run(agency, later(minutes=10))
    written.vitals(at=later(minutes=11), sbp=90, dbp=50)
    answer = verify.verified(written.cast.averill, None, later(minutes=12))
    assert (answer["intact"], answer["since"]) == (True, {"cases": 1})

    triggers.lift()
    JournalEntry.objects.filter(case=written.row, seq=6).update(data="{}")
    assert verify.verified(written.cast.averill, None, later(minutes=12))["intact"] is False


def test_a_fault_of_the_last_run_stays_known(written: Consult) -> None:
    triggers.lift()
    JournalEntry.objects.filter(case=written.row, seq=2).update(data="{}")
    verify.run(written.row.agency_id, later(minutes=10))

    assert verify.verified(written.cast.averill, None, later(days=1))["first_fault"]["seq"] == 2
