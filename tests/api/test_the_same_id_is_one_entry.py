"""Contract, "Ids are made by the client": the same content again has no second effect, other content is 409."""

import pytest

from tests.api.conftest import ago, mcg, new_id, push_dose, refused, request, syringe, vitals
from tests.conftest import ADULT

# (address under the case, what is sent)
ENTRIES = {
    "vitals": lambda: vitals(sbp=96, dbp=44),
    "interventions": lambda: push_dose(),
    "orders": lambda: request(),
    "notes": lambda: {"id": new_id(), "at": ago(minutes=1), "text": "skin mottled"},
    "procedures": lambda: {"id": new_id(), "at": ago(minutes=1), "procedure": "iv_access", "outcome": "done"},
    "containers": lambda: syringe(),
}
OTHERWISE = {
    "vitals": {"sbp": 97},
    "interventions": {"amount": mcg(20)},
    "orders": {"reason": "another"},
    "notes": {"text": "skin pink"},
    "procedures": {"outcome": "failed"},
    "containers": {"form": "bag"},
}


def seq_of(cast, case):
    return cast.physician.get(f"cases/{case}/").json()["seq"]


@pytest.mark.parametrize("kind", ENTRIES)
def test_a_repeated_entry_is_answered_from_what_is_stored(cast, case, kind):
    body = ENTRIES[kind]()
    first = cast.crew.post(f"cases/{case}/{kind}/", body)
    cast.crew.post(f"cases/{case}/notes/", {"text": "in between"})
    seq = seq_of(cast, case)
    again = [cast.crew.post(f"cases/{case}/{kind}/", body) for _ in range(3)]
    assert (first.status_code, [each.status_code for each in again]) == (201, [200, 200, 200])
    assert all(each.json() == first.json() for each in again), "the stored answer, with its original seq"
    assert seq_of(cast, case) == seq, "no second effect"


@pytest.mark.parametrize("kind", ENTRIES)
def test_the_same_id_with_other_content_is_409(cast, case, kind):
    body = ENTRIES[kind]()
    cast.crew.post(f"cases/{case}/{kind}/", body)
    refused(cast.crew.post(f"cases/{case}/{kind}/", {**body, **OTHERWISE[kind]}), 409, "id-reused")


@pytest.mark.parametrize("kind", ENTRIES)
def test_an_id_stands_for_one_entry_across_all_kinds(cast, case, kind):
    used = ENTRIES[kind]()
    cast.crew.post(f"cases/{case}/{kind}/", used)
    for other in ENTRIES.keys() - {kind}:
        refused(cast.crew.post(f"cases/{case}/{other}/", {**ENTRIES[other](), "id": used["id"]}), 409, "id-reused")
    opening = {"id": used["id"], "opened_at": ago(minutes=1), "patient": ADULT}
    refused(cast.crew.post("cases/", opening), 409, "id-reused")
    refused(cast.crew.post(f"cases/{case}/notes/", {"id": case, "text": "the case's own id"}), 409, "id-reused")


def test_the_same_moment_under_another_offset_is_the_same_content(cast, case):
    body = {**vitals(hr=80), "taken_at": "2026-01-05T10:00:00Z"}
    first = cast.crew.post(f"cases/{case}/vitals/", body)
    again = cast.crew.post(f"cases/{case}/vitals/", {**body, "taken_at": "2026-01-05T11:00:00.000+01:00"})
    assert (again.status_code, again.json()) == (200, first.json())
    refused(cast.crew.post(f"cases/{case}/vitals/", {**body, "taken_at": "2026-01-05T10:00:01Z"}), 409, "id-reused")
    patch = {"id": new_id(), "patient": {"onset_at": "2026-01-05T09:00:00Z"}}
    cast.crew.patch(f"cases/{case}/", patch)
    moved = {**patch, "patient": {"onset_at": "2026-01-05T08:00:00-01:00"}}
    assert cast.crew.patch(f"cases/{case}/", moved).status_code == 200


def test_an_id_in_capitals_is_the_same_id(cast, case):
    body = vitals(hr=80)
    assert cast.crew.post(f"cases/{case.upper()}/vitals/", body).status_code == 201
    assert cast.crew.post(f"cases/{case}/vitals/", {**body, "id": body["id"].upper()}).status_code == 200


def test_the_same_entry_for_another_case_is_other_content(cast, open_case):
    body = vitals(hr=80)
    here, there = open_case(), open_case()
    assert cast.crew.post(f"cases/{here}/vitals/", body).status_code == 201
    refused(cast.crew.post(f"cases/{there}/vitals/", body), 409, "id-reused")


def test_a_case_opened_twice_is_one_case(cast):
    body = {"id": new_id(), "opened_at": ago(minutes=1), "patient": ADULT, "complaint": "faint"}
    first, again = cast.crew.post("cases/", body), cast.crew.post("cases/", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["seq"] == again.json()["seq"] == 1
    refused(cast.crew.post("cases/", {**body, "complaint": "fine"}), 409, "id-reused")


def test_a_case_that_another_unit_opens_again_is_not_shown_to_it(cast):
    body = {"id": new_id(), "opened_at": ago(minutes=20), "patient": ADULT, "complaint": "weak, pale"}
    assert cast.crew.post("cases/", body).status_code == 201
    document = refused(cast.crew2.post("cases/", body), 409, "id-reused")
    assert "weak, pale" not in str(document)
    batch = {"sent_at": ago(seconds=0), "entries": [{**body, "kind": "case"}]}
    assert cast.crew2.post("batch/", batch).json()["results"][0]["status"] == 409
    assert cast.crew.post("cases/", body).status_code == 200


def test_an_id_of_another_agency_is_unused(cast, case):
    body = {"id": case, "opened_at": ago(minutes=1), "patient": ADULT}
    assert cast.outsider_crew.post("cases/", body).status_code == 201
    entry = vitals(hr=80)
    assert cast.crew.post(f"cases/{case}/vitals/", entry).status_code == 201
    assert cast.outsider_crew.post(f"cases/{case}/vitals/", entry).status_code == 201
    assert (
        cast.physician.get(f"cases/{case}/").json()["unit"] != cast.outsider_crew.get(f"cases/{case}/").json()["unit"]
    )


@pytest.mark.parametrize(
    ("sent", "again"),
    [
        ({"sbp": 96, "temp_c": 38.5}, {"sbp": "96", "temp_c": "38.50"}),
        ({"sbp": 96}, {"sbp": 96.0}),
        ({"hr": 80, "skin": "cold"}, {"skin": " cold ", "hr": 80}),
    ],
    ids=["decimal texts", "a fraction of nothing", "order and space"],
)
def test_content_is_compared_after_it_is_read(cast, case, sent, again):
    entry = {"id": new_id(), "taken_at": ago(minutes=1)}
    assert cast.crew.post(f"cases/{case}/vitals/", {**entry, **sent}).status_code == 201
    assert cast.crew.post(f"cases/{case}/vitals/", {**entry, **again}).status_code == 200


def test_when_it_was_sent_is_no_content(cast, case):
    entry = vitals(hr=80)
    assert cast.crew.post(f"cases/{case}/vitals/", {**entry, "sent_at": ago(seconds=0)}).status_code == 201
    assert cast.crew.post(f"cases/{case}/vitals/", {**entry, "sent_at": ago(seconds=-1)}).status_code == 200
    assert cast.crew.post(f"cases/{case}/vitals/", entry).status_code == 200


def test_a_step_of_an_order_is_one_step(cast, case):
    order = request()
    cast.crew.post(f"cases/{case}/orders/", order)
    decision = {"id": new_id(), "decision": "approve"}
    first = cast.physician.post(f"orders/{order['id']}/decision/", decision)
    again = cast.physician.post(f"orders/{order['id']}/decision/", decision)
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json()["seq"] == again.json()["seq"]
    refused(cast.physician.post(f"orders/{order['id']}/decision/", {"decision": "approve"}), 409, "wrong-state")


@pytest.mark.parametrize(
    ("step", "body", "by"),
    [
        ("accept", {}, "physician"),
        ("goal", {"measure": "map", "floor": 80, "reason": "head injury"}, "physician"),
        ("handover", {"to": "emergency department"}, "crew"),
        ("close", {"outcome": "handed_over"}, "crew"),
    ],
)
def test_a_step_of_a_case_is_one_step(cast, case, step, body, by):
    sent, caller = {"id": new_id(), **body}, getattr(cast, by)
    first, again = (caller.post(f"cases/{case}/{step}/", sent) for _ in range(2))
    assert (first.status_code, again.status_code) == (200, 200), again.content
    assert first.json()["seq"] == again.json()["seq"]


def test_the_server_makes_an_id_where_there_is_none(cast, case):
    body = {"text": "twice is two"}
    ids = {cast.crew.post(f"cases/{case}/notes/", body).json()["id"] for _ in range(2)}
    assert len(ids) == 2
