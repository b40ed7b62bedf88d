"""One sender may enter much at once, then so much a second; readings are taken at any time, and nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.cache import caches

from api import allowance
from consult.models import JournalEntry, Vitals
from tests.api.conftest import ADULT, ago, new_id, push_dose, refused, vitals

AS_SHIPPED, BURST = allowance.BURST, 5


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the allowance were five entries, and one more every thousand seconds."""
    caches["allowances"].clear()
    monkeypatch.setattr(allowance, "BURST", BURST)
    monkeypatch.setattr(allowance, "PER_SECOND", 0.001)


def note() -> dict[str, Any]:
    return {"id": new_id(), "at": ago(seconds=1), "text": "Skin cool to the knees."}


def spend(program: Any, case: str) -> None:
    for _ in range(BURST):
        assert program.post(f"cases/{case}/notes/", note()).status_code == 201


def test_what_the_contract_promises_comes_in_at_once() -> None:
    """Contract, "Ground rules": at least 2,000 entries in a burst are taken."""
    assert AS_SHIPPED >= 2000


def test_too_much_is_429_and_says_when_it_may_be_sent_again(cast: Any, case: str) -> None:
    spend(cast.crew, case)
    told = cast.crew.post(f"cases/{case}/interventions/", push_dose())

    refused(told, 429, "too-many")
    assert 990 <= int(told["Retry-After"]) <= 1000
    assert JournalEntry.objects.filter(kind="intervention.recorded").count() == 0


@pytest.mark.parametrize(
    "write",
    [
        lambda cast, case: cast.crew.patch(f"cases/{case}/", {"destination": "Harbor General"}),
        lambda cast, case: cast.crew.post(f"cases/{case}/close/", {"outcome": "cancelled", "at": ago(seconds=1)}),
        lambda cast, case: cast.crew.post(f"cases/{case}/corrections/", {"id": new_id()}),
    ],
    ids=["patch", "close", "correction"],
)
def test_every_other_write_counts_too(cast: Any, case: str, write: Any) -> None:
    spend(cast.crew, case)
    refused(write(cast, case), 429, "too-many")


def test_readings_are_taken_at_any_time(cast: Any, case: str) -> None:
    spend(cast.crew, case)
    for _ in range(2 * BURST):
        assert cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=80, dbp=40)).status_code == 201


def test_and_count_for_nothing(cast: Any, case: str) -> None:
    for _ in range(2 * BURST):
        cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=80, dbp=40))
    spend(cast.crew, case)


def test_a_new_patient_comes_onto_the_board_all_the_same(cast: Any, case: str, open_case: Any) -> None:
    spend(cast.crew, case)
    assert cast.crew.post(f"cases/{open_case()}/vitals/", vitals(sbp=80, dbp=40)).status_code == 201


def test_what_is_read_and_what_is_only_asked_is_not_counted(cast: Any, case: str) -> None:
    spend(cast.crew, case)
    proposal = {key: value for key, value in push_dose().items() if key not in ("id", "given_at")}

    assert cast.crew.get(f"cases/{case}/").status_code == 200
    assert cast.crew.post(f"cases/{case}/checks/", {**proposal, "at": ago(seconds=0)}).status_code == 200


def test_each_sender_has_an_allowance_of_their_own(cast: Any, case: str) -> None:
    spend(cast.crew, case)
    assert cast.physician.post(f"cases/{case}/notes/", note()).status_code == 201


# ---- in a batch


def batch(program: Any, entries: list[dict[str, Any]]) -> tuple[list[int], Any]:
    answer = program.post("batch/", {"sent_at": ago(seconds=0), "entries": entries})
    assert answer.status_code == 200
    return [result["status"] for result in answer.json()["results"]], answer


def entry(kind: str, case: str, **content: Any) -> dict[str, Any]:
    return {"kind": kind, "case": case, **content}


def test_its_readings_pass_and_the_rest_waits_from_the_first_on_that_is_too_much(cast: Any, case: str) -> None:
    entries = [entry("note", case, **note()) for _ in range(BURST + 2)]
    entries[BURST + 1 : BURST + 1] = [entry("vitals", case, **vitals(sbp=80, dbp=40))]
    statuses, answer = batch(cast.crew, entries)

    assert statuses == [201] * BURST + [429, 201, 429]
    assert int(answer["Retry-After"]) > 0
    problem = answer.json()["results"][-1]["problem"]
    assert (problem["type"], problem["status"]) == ("too-many", 429)


def test_sent_again_in_time_all_of_it_is_there_once(cast: Any, case: str) -> None:
    entries = [entry("note", case, **note()) for _ in range(BURST + 2)]
    batch(cast.crew, entries)
    caches["allowances"].clear()
    again, _ = batch(cast.crew, entries[BURST:])

    assert again == [201, 201]
    assert JournalEntry.objects.filter(kind="note.added").count() == len(entries)


def test_a_reading_waits_for_its_own_case_alone(cast: Any, case: str, open_case: Any) -> None:
    for _ in range(BURST - 1):
        open_case()
    late = new_id()
    opening = {"kind": "case", "id": late, "opened_at": ago(minutes=2), "patient": ADULT, "complaint": "pale"}
    readings = [entry("vitals", which, **vitals(hr=120)) for which in (late, case)]
    statuses, _ = batch(cast.crew, [opening, *readings, entry("note", late, **note())])

    assert statuses == [429, 429, 201, 429]
    assert Vitals.objects.count() == 1


# ---- what it rests on


def test_without_redis_it_is_the_same(cast: Any, case: str, settings: Any) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    spend(cast.crew, case)
    refused(cast.crew.post(f"cases/{case}/notes/", note()), 429, "too-many")


def test_the_allowance_fills_again_by_the_second(monkeypatch: pytest.MonkeyPatch, cast: Any) -> None:
    monkeypatch.setattr(allowance, "PER_SECOND", 2.0)
    actor, noon = cast.crew.actor, datetime(2030, 1, 5, 12, tzinfo=UTC)

    def taken(seconds: float) -> int:
        now = datetime.fromtimestamp(noon.timestamp() + seconds, UTC)
        return sum(allowance.take(actor, allowance.Of.ENTRIES, now) is None for _ in range(20))

    assert [taken(0), taken(0), taken(1), taken(1.5), taken(3600)] == [BURST, 0, 2, 1, BURST]


def test_a_machine_whose_clock_is_set_back_makes_nobody_wait_for_it(cast: Any) -> None:
    ahead, now = datetime(2090, 1, 1, tzinfo=UTC), datetime(2030, 1, 1, tzinfo=UTC)
    for _ in range(BURST):
        assert allowance.take(cast.crew.actor, allowance.Of.ENTRIES, ahead) is None

    assert allowance.take(cast.crew.actor, allowance.Of.ENTRIES, now) is None
