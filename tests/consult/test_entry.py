"""One write path: an id stands for one entry, whoever retries it; nothing is half-written."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from consult import problems
from consult.actions import cases, notes, vitals
from consult.models import Case, JournalEntry, Vitals
from tests.conftest import ADULT, NOON, Cast, Consult, open_consult

SET = {"taken_at": NOON, "sbp": 96, "dbp": 44}


def test_the_same_entry_twice_is_one(consult: Consult, cast: Cast) -> None:
    entry = {"id": uuid4(), **SET}
    first = vitals.record_vitals(cast.osk, consult.uid, entry, NOON)
    consult.vitals(hr=80)
    again = vitals.record_vitals(cast.osk, consult.uid, entry, NOON)

    assert (again.created, again.seq, again.resource) == (False, first.seq, first.resource)
    assert Vitals.objects.count() == 2


@pytest.mark.parametrize("change", [{"sbp": 97}, {"dbp": None}, {"hr": 80}], ids=["a value", "one less", "one more"])
def test_the_same_id_with_other_content_is_refused(consult: Consult, cast: Cast, change: dict[str, Any]) -> None:
    entry = {"id": uuid4(), **SET}
    vitals.record_vitals(cast.osk, consult.uid, entry, NOON)

    other = {name: value for name, value in {**entry, **change}.items() if value is not None}
    with pytest.raises(problems.IdReused):
        vitals.record_vitals(cast.osk, consult.uid, other, NOON)


def test_an_id_stands_for_one_entry_of_all_kinds(consult: Consult, cast: Cast) -> None:
    entry_id = uuid4()
    consult.vitals(id=entry_id, **{"sbp": 96, "dbp": 44})

    with pytest.raises(problems.IdReused):
        notes.add_note(cast.osk, consult.uid, {"id": entry_id, "at": NOON, "text": "pale"}, NOON)
    with pytest.raises(problems.IdReused):
        cases.open_case(cast.osk, {"id": entry_id, "opened_at": NOON, "patient": ADULT}, NOON)


def test_an_id_of_another_agency_is_unused(consult: Consult, cast: Cast) -> None:
    there = cases.open_case(cast.tarn, {"id": consult.uid, "opened_at": NOON, "patient": ADULT}, NOON)

    assert there.created
    assert Case.objects.filter(uid=consult.uid).count() == 2


def test_a_fault_in_the_middle_leaves_nothing(consult: Consult, monkeypatch: pytest.MonkeyPatch) -> None:
    from consult.actions import carry_out

    def fails(*_: Any, **__: Any) -> None:
        raise RuntimeError("power gone")

    before = consult.row.card
    monkeypatch.setattr(carry_out, "settle", fails)
    with pytest.raises(RuntimeError):
        consult.vitals(sbp=96, dbp=44)

    assert consult.row.card == before
    assert not Vitals.objects.exists()
    assert JournalEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("who", "refusal"),
    [
        ("lund", problems.NotFound),
        ("tarn", problems.NotFound),
        ("vane", problems.NotFound),
        ("averill", problems.Forbidden),
    ],
    ids=["another unit", "another agency's crew", "another agency's physician", "a supervisor"],
)
def test_others_write_nothing(cast: Cast, who: str, refusal: type[Exception]) -> None:
    consult = open_consult(cast)

    with pytest.raises(refusal):
        consult.vitals(by=getattr(cast, who), hr=80)
    assert not Vitals.objects.exists()
