"""Consults without a drug (contract, "Cases", questions and instructions): asked, answered, understood, done."""

from __future__ import annotations

import pytest

from tests.api.conftest import ago, new_id, question, refused
from tests.api.test_misuse_questions import ENDING, REFUSAL, asked, instructed


def card(cast, case):
    return cast.physician.get(f"cases/{case}/").json()


def alert_of(cast, case, kind):
    return [each for each in cast.physician.get(f"alerts/?case={case}").json()["results"] if each["kind"] == kind]


def test_a_question_is_answered_understood_and_done(cast, case):
    put = question(text="Cool him?")
    answer = cast.crew.post(f"cases/{case}/questions/", put)
    assert answer.status_code == 201
    (open_one,) = card(cast, case)["questions"]
    assert (open_one["id"], open_one["state"], open_one["asked_by"]) == (put["id"], "open", "J. Osk")

    told = {"id": new_id(), "text": "Yes, to 36.", "question": put["id"]}
    given = cast.physician.post(f"cases/{case}/instructions/", told).json()
    assert (given["state"], given["by"], given["asked"]) == ("given", "Dr. Merrin", "Cool him?")
    now = card(cast, case)
    assert (now["questions"], [each["id"] for each in now["instructions"]]) == ([], [told["id"]])
    assert now["physician"]["name"] == "Dr. Merrin"  # whoever answers takes control where nobody has it

    understood = cast.crew.post(f"instructions/{told['id']}/understood/", {}).json()
    assert (understood["state"], understood["understood_by"]) == ("understood", "J. Osk")
    assert cast.crew.post(f"instructions/{told['id']}/done/", {}).json()["state"] == "done"
    assert card(cast, case)["instructions"] == []


def test_a_physician_may_instruct_unasked_and_hears_why_it_is_not_possible(cast, case):
    told = instructed(cast, case)
    cast.crew.post(f"instructions/{told}/understood/", {})
    answer = cast.crew.post(f"instructions/{told}/unable/", {"reason": "on a board"}).json()
    assert (answer["state"], answer["reason"]) == ("unable", "on a board")


@pytest.mark.parametrize("decision", ["agreed", "not_agreed"])
def test_a_refusal_is_decided_by_name(cast, case, decision):
    form = {**REFUSAL, "witness": "her son"}
    put = question("refusal", form=form)
    assert cast.crew.post(f"cases/{case}/questions/", put).json()["form"] == form
    told = {"text": "As discussed.", "question": put["id"], "decision": decision}
    answer = cast.physician.post(f"cases/{case}/instructions/", told).json()
    assert (answer["decision"], answer["by"], answer["topic"]) == (decision, "Dr. Merrin", "refusal")


def test_the_end_of_a_resuscitation_is_asked_with_the_criteria_of_the_rule_set(cast, case):
    put = question("end_resuscitation", form={**ENDING, "etco2": 8, "criteria": ["no-shock", "no-pulse-back"]})
    found = cast.crew.post(f"cases/{case}/questions/", put).json()["criteria"]
    rules = cast.crew.get("rule-set/").json()["end_resuscitation"]
    assert {each["slug"]: each["text"] for each in found} == {slug: each["text"] for slug, each in rules.items()}
    assert {each["slug"] for each in found if each["met"]} == {"no-shock", "no-pulse-back"}
    assert all(each["source"]["mark"] for each in rules.values())


def test_a_look_of_a_physician_marks_a_question_as_seen(cast, case):
    from consult import clock
    from consult.actions import looks
    from consult.models import Case
    from tests.copying import replace

    asked(cast, case)
    person = replace(cast.physician.actor, user_id=new_id())
    looks.note_look(person, Case.objects.get(uid=case), "card", clock.now())
    (seen,) = card(cast, case)["questions"]
    assert seen["seen_at"]
    assert seen["steps"][-1]["by"] == "Dr. Merrin"


def test_the_same_id_is_one_question_one_answer_and_one_step(cast, case):
    put, told = question(), {"id": new_id(), "text": "The nearer one."}
    for address, by, body in (
        (f"cases/{case}/questions/", cast.crew, put),
        (f"cases/{case}/instructions/", cast.physician, told),
        (f"instructions/{told['id']}/understood/", cast.crew, {"id": new_id()}),
    ):
        first, again = by.post(address, body), by.post(address, body)
        assert (again.status_code, again.json()["seq"]) == (200, first.json()["seq"])
        assert len(card(cast, case)["questions"]) == 1
    refused(cast.crew.post(f"cases/{case}/questions/", {**put, "text": "Another?"}), 409, "id-reused")


def test_a_batch_carries_what_a_crew_says(cast, case):
    told, put = instructed(cast, case), question()
    entries = [
        {**put, "kind": "question", "case": case},
        {"kind": "withdraw_question", "id": new_id(), "question": put["id"], "reason": "arrived"},
        {"kind": "understood", "id": new_id(), "instruction": told, "at": ago(seconds=0), "case": case},
        {"kind": "done", "id": new_id(), "instruction": told, "at": ago(seconds=0)},
    ]
    results = cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": entries}).json()["results"]
    assert [each["status"] for each in results] == [201, 200, 200, 200]
    now = card(cast, case)
    assert (now["questions"], now["instructions"]) == ([], [])


@pytest.mark.parametrize("step", ["handover", "close"])
def test_a_case_that_ends_takes_what_is_open_with_it(cast, case, step):
    asked(cast, case)
    told = instructed(cast, case)
    ends = {"to": "emergency department"} if step == "handover" else {"outcome": "cancelled"}
    cast.crew.post(f"cases/{case}/{step}/", ends)
    now = card(cast, case)
    assert (now["questions"], now["instructions"]) == ([], [])
    entries = cast.physician.get(f"cases/{case}/journal/").json()["results"]
    ended = [each["data"]["reason"] for each in entries if each["kind"] in ("question.withdrawn", "instruction.moved")]
    assert ended == ["case ended", "case ended"]
    late = cast.crew.post(f"instructions/{told}/done/", {})  # what was done is never refused
    assert (late.status_code, late.json()["state"]) == (200, "done")


def test_a_question_from_before_the_end_stands_in_the_record(cast, case):
    cast.crew.post(f"cases/{case}/close/", {"outcome": "refused"})
    answer = cast.crew.post(f"cases/{case}/questions/", question("refusal", at=ago(minutes=1), form=REFUSAL))
    assert (answer.status_code, answer.json()["state"]) == (201, "withdrawn")
    (line,) = [
        each
        for each in cast.physician.get(f"cases/{case}/journal/").json()["results"]
        if each["kind"] == "question.asked"
    ]
    assert line["late"]
    assert card(cast, case)["questions"] == []


def test_what_was_understood_before_it_was_withdrawn_is_told_late(cast, case):
    told = instructed(cast, case)
    cast.physician.post(f"instructions/{told}/withdraw/", {"reason": "moot"})
    answer = cast.crew.post(f"instructions/{told}/understood/", {"at": ago(seconds=30)}).json()
    assert (answer["state"], answer["understood_by"]) == ("withdrawn", "J. Osk")


def test_a_new_destination_stands_until_the_other_side_has_seen_it(cast, case):
    def patch(by, **body):
        return by.patch(f"cases/{case}/", body).json()["destination_told"]

    told = patch(cast.physician, destination="Tor Clinic")
    assert (told["destination"], told["by"], told["side"]) == ("Tor Clinic", "Dr. Merrin", "physician")
    assert patch(cast.physician2, destination_seen="Tor Clinic") == told  # the same side
    assert patch(cast.crew, destination_seen="Harbor General") == told  # another one
    assert patch(cast.crew, destination_seen="Tor Clinic") is None
    back = patch(cast.crew, destination="Harbor General")
    assert (back["before"], back["side"]) == ("Tor Clinic", "crew")
    assert patch(cast.crew, destination="Harbor General") == back  # said again, nothing is new
    assert patch(cast.physician, destination_seen="Harbor General") is None
    assert alert_of(cast, case, "question_waiting") == []
