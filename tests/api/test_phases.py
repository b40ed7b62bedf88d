"""The phases of a case (contract, "phase"): who is in cardiac arrest, since when, and what that changes of a dose.

Cardiac arrest has doses of its own, and a push dose for a pulse is none of them (life-support guidelines, from memory).
"""

import pytest

from tests.api.conftest import new_id, refused
from tests.api.story import Story, codes

PUSH = "epinephrine-push-dose"
LOW = {"sbp": 80, "dbp": 40}


@pytest.fixture
def case(cast, monkeypatch):
    """Ada on the way, with a low pressure a minute ago."""
    told = Story(cast, monkeypatch).open()
    told.read(at=-1, **LOW)
    return told


def phase(case, name, at=None, by=None):
    return case.posted(f"cases/{case.case}/phase/", {"at": case.time(at), "phase": name}, by)


def test_a_case_is_on_the_way_until_told_otherwise(case):
    assert case.card()["phase"] == "transport"
    for name in ("arrest", "pulse_back", "ended", "transport"):
        answer = phase(case, name)
        assert (answer["phase"], answer["in_error"], case.card()["phase"]) == (name, False, name)


def test_crew_and_physician_tell_it_and_nobody_else(case, cast):
    assert phase(case, "arrest", by=cast.physician)["phase"] == "arrest"
    for caller, status in ((cast.supervisor, 403), (cast.crew2, 404)):
        told = {"id": new_id(), "phase": "pulse_back"}
        assert caller.post(f"cases/{case.case}/phase/", told).status_code == status
    assert case.card()["phase"] == "arrest"


def test_the_journal_says_it(case):
    phase(case, "arrest", at=-1)
    lines = case.physician.get(f"cases/{case.case}/journal/").json()["results"]
    assert [each["data"]["phase"] for each in lines if each["kind"] == "phase.changed"] == ["arrest"]


@pytest.mark.parametrize("name", ["", "rosc", "Arrest", None, 1])
def test_another_word_is_refused_at_the_field(case, name):
    answer = case.crew.post(f"cases/{case.case}/phase/", {"id": new_id(), "phase": name})
    refused(answer, 422, pointer="/phase")


def test_the_phase_is_that_of_the_newest_time_whenever_it_is_told(case):
    phase(case, "pulse_back", at=-2)
    phase(case, "arrest", at=-10)  # told late
    assert case.card()["phase"] == "pulse_back"
    phase(case, "arrest", at=-1)
    assert case.card()["phase"] == "arrest"


def test_a_phase_in_error_leaves_the_one_before(case):
    phase(case, "arrest", at=-5)
    wrong = phase(case, "pulse_back", at=-1)
    case.correct("phase", wrong)
    assert case.card()["phase"] == "arrest"


def test_a_batch_takes_it_in_and_sent_twice_it_is_one(case):
    entry = {"kind": "phase", "id": new_id(), "case": case.case, "at": case.time(-1), "phase": "arrest"}
    for status in (201, 200):
        answer = case.crew.post("batch/", {"sent_at": case.time(0), "entries": [entry]}).json()
        assert [each["status"] for each in answer["results"]] == [status]
    alone = {name: value for name, value in entry.items() if name not in ("kind", "case")}
    assert case.crew.post(f"cases/{case.case}/phase/", alone).status_code == 200
    lines = case.physician.get(f"cases/{case.case}/journal/").json()["results"]
    assert [each["kind"] for each in lines].count("phase.changed") == 1


def test_a_push_for_a_pulse_is_over_a_hard_limit_in_arrest(case):
    verdicts = {}
    for name in ("transport", "arrest", "pulse_back"):
        phase(case, name)
        check = case.check(PUSH, "10 mcg")
        verdicts[name] = (check["verdict"], "phase" in codes(check))
    assert verdicts == {
        "transport": ("caution", False),  # no fluid yet
        "arrest": ("over_hard_limit", True),
        "pulse_back": ("needs_order", False),  # no pressure since the arrest
    }


def test_a_dose_is_judged_by_the_phase_at_its_time_and_anew_when_that_is_told_late(case):
    given = case.give(PUSH, "10 mcg", at=0)
    assert given["check"]["verdict"] == "caution"
    arrest = phase(case, "arrest", at=-0.5)
    doses, alerts = case.card()["doses"], case.card()["alerts"]
    assert [each["verdict"] for each in doses] == ["over_hard_limit"]
    assert "dose_outside_limits" in {each["kind"] for each in alerts}

    case.correct("phase", arrest)
    assert [each["verdict"] for each in case.card()["doses"]] == ["caution"]
    assert "dose_outside_limits" not in {each["kind"] for each in case.card()["alerts"]}
