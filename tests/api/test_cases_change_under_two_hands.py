"""Contract, "Concurrency", and a case from opening to review through its addresses."""

import pytest

from tests.api.conftest import ago, new_id, refused, vitals
from tests.conftest import ADULT


def etag(cast, case):
    return cast.physician.get(f"cases/{case}/")["ETag"]


def test_the_etag_moves_with_what_patch_can_change_and_with_nothing_else(cast, case):
    before = etag(cast, case)
    cast.crew.post(f"cases/{case}/vitals/", vitals(hr=80))
    cast.crew.post(f"cases/{case}/notes/", {"text": "on the way"})
    assert etag(cast, case) == before
    patched = cast.crew.patch(f"cases/{case}/", {"destination": "Mere General"})
    assert patched["ETag"] == etag(cast, case) == f'"{patched.json()["seq"]}"' != before


@pytest.mark.parametrize(
    ("version", "status"),
    [
        pytest.param(None, 200, id="none named"),
        pytest.param("*", 200, id="any"),
        pytest.param("{now}", 200, id="the one that stands"),
        pytest.param('"0", {now}', 200, id="the one that stands among others"),
        pytest.param('"0"', 412, id="an older one"),
        pytest.param('"0", "999"', 412, id="others"),
        pytest.param('W/{now}, "0"', 412, id="a weak one among others"),
        pytest.param('"999"', 412, id="one to come"),
        pytest.param("W/{now}", 412, id="a weak one"),
        pytest.param("1", 412, id="without quotes"),
        pytest.param('"x"', 412, id="no number"),
        pytest.param('"99999999999999999999"', 412, id="a huge number"),
        pytest.param("", 412, id="an empty one"),
    ],
)
def test_a_patch_holds_only_for_the_version_it_was_made_for(cast, case, version, status):
    headers = {} if version is None else {"If-Match": version.format(now=etag(cast, case))}
    answer = cast.crew.patch(f"cases/{case}/", {"complaint": "faint"}, **headers)
    if status == 412:
        refused(answer, 412)
    else:
        assert answer.status_code == 200


def test_two_who_read_the_same_version_do_not_overwrite_each_other(cast, case):
    read = etag(cast, case)
    assert cast.crew.patch(f"cases/{case}/", {"destination": "Mere General"}, **{"If-Match": read}).status_code == 200
    refused(cast.physician.patch(f"cases/{case}/", {"destination": "Vale"}, **{"If-Match": read}), 412)
    assert cast.crew.get(f"cases/{case}/").json()["destination"] == "Mere General"


def test_a_part_of_the_patient_may_stand_alone(cast, case):
    cast.crew.patch(f"cases/{case}/", {"patient": {"weight": {"value": 72, "unit": "kg", "basis": "stated"}}})
    patient = cast.crew.get(f"cases/{case}/").json()["patient"]
    assert patient["weight"] == {"value": 72, "unit": "kg", "basis": "stated"}
    assert patient["age"]["value"] == ADULT["age"]["value"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"opened_at": ago(minutes=1)}, "/opened_at"),
        ({"unit": new_id()}, "/unit"),
        ({"state": "closed"}, "/state"),
        ({"patient": {"name": "somebody"}}, "/patient/name"),
        ({"patient": {"weight": {"value": 0.2, "unit": "kg"}}}, "/patient/weight/value"),
        ({"patient": {"weight": {"value": 401, "unit": "kg"}}}, "/patient/weight/value"),
        ({"patient": {"weight": {"value": 160, "unit": "lb"}}}, "/patient/weight/unit"),
        ({"patient": {"weight": {"value": 80, "unit": "kg", "basis": "guess"}}}, "/patient/weight/basis"),
        ({"patient": {"age": {"value": 131, "unit": "years"}}}, "/patient/age/value"),
        ({"patient": {"age": {"value": 1561, "unit": "months"}}}, "/patient/age/value"),
        ({"patient": {"age": {"value": -1, "unit": "days"}}}, "/patient/age/value"),
        ({"patient": {"age": {"value": 3, "unit": "weeks"}}}, "/patient/age/unit"),
        ({"patient": {"history": ["heart_failure", "gout"]}}, "/patient/history/1"),
        ({"patient": {"allergies": ["sulfite", 7]}}, "/patient/allergies/1"),
        ({"patient": {"fluid_restricted": "no"}}, "/patient/fluid_restricted"),
        ({"patient": {"onset_at": ago(days=-1)}}, "/patient/onset_at"),
        ({"impression": "unwell"}, "/impression"),
        ({"eta": "10:40"}, "/eta"),
    ],
)
def test_what_a_patch_cannot_say_is_422_there(cast, case, change, pointer):
    refused(cast.crew.patch(f"cases/{case}/", change), 422, pointer=pointer)


@pytest.mark.parametrize(
    ("missing", "pointer"),
    [("patient", "/patient"), ("opened_at", "/opened_at"), ("age", "/patient/age"), ("weight", "/patient/weight")],
)
def test_a_case_needs_its_patient_and_its_start(cast, missing, pointer):
    body = {"opened_at": ago(minutes=1), "patient": dict(ADULT)}
    body.pop(missing, None)
    body.get("patient", {}).pop(missing, None)
    refused(cast.crew.post("cases/", body), 422, pointer=pointer)


def test_an_adult_of_unknown_age_and_weight_can_be_opened(cast, open_case):
    case = open_case(patient={"age": None, "weight": None})
    assert cast.crew.get(f"cases/{case}/").json()["patient"]["age"] is None


def test_a_physician_names_the_unit(cast):
    body = {"opened_at": ago(minutes=1), "patient": ADULT}
    refused(cast.physician.post("cases/", body), 422, pointer="/unit")
    theirs = str(cast.outsider_crew.member.unit_id)
    refused(cast.physician.post("cases/", {**body, "unit": theirs}), 422, pointer="/unit")
    ours = str(cast.crew2.member.unit_id)
    opened = cast.physician.post("cases/", {**body, "unit": ours})
    assert opened.status_code == 201
    assert cast.crew2.get(f"cases/{opened.json()['id']}/").status_code == 200


def test_control_goes_to_another_physician_only_when_taken_over(cast, case):
    assert cast.physician.post(f"cases/{case}/accept/").json()["physician"]["name"] == "Dr. Merrin"
    refused(cast.physician2.post(f"cases/{case}/accept/"), 409, "wrong-state")
    taken = cast.physician2.post(f"cases/{case}/accept/", {"take_over": True})
    assert taken.json()["physician"]["name"] == "Dr. Quillan"


def test_a_case_is_closed_reviewed_and_opened_again(cast, case):
    assert cast.crew.post(f"cases/{case}/close/", {"outcome": "handed_over"}).json()["state"] == "closed"
    assert [row["id"] for row in cast.physician.get("cases/?state=closed").json()["results"]] == [case]
    assert cast.physician.get("cases/?state=open").json()["results"] == []
    found = {"id": new_id(), "text": "answered in 40 s", "outcome": "learning"}
    assert cast.supervisor.post(f"cases/{case}/reviews/", found).status_code == 201
    assert cast.physician.post(f"cases/{case}/reopen/", {"reason": "not yet there"}).json()["state"] == "open"


def test_an_entry_for_an_ended_case_is_kept_and_marked_late(cast, case):
    cast.crew.post(f"cases/{case}/handover/", {"to": "emergency department"})
    assert cast.crew.post(f"cases/{case}/vitals/", vitals(hr=80)).status_code == 201
    assert cast.physician.get(f"cases/{case}/journal/").json()["results"][-1]["late"] is True


def test_the_card_says_since_when_a_physicians_goal_holds(cast, case):
    def goal():
        return cast.physician.get(f"cases/{case}/").json()["goal"]

    assert goal()["since"] is None
    before = ago()
    cast.physician.post(f"cases/{case}/goal/", {"measure": "map", "floor": 70, "reason": "head injury"})

    assert goal()["floor"] == 70
    assert before <= goal()["since"].replace("Z", "+00:00") <= ago()


@pytest.mark.parametrize(
    ("goal", "pointer"),
    [
        ({"measure": "dbp", "floor": 80, "reason": "x"}, "/measure"),
        ({"measure": "map", "floor": 80}, "/reason"),
        ({"measure": "map", "reason": "x"}, "/floor"),
        ({"measure": "map", "floor": 10, "reason": "x"}, "/floor"),
        ({"measure": "map", "floor": 80, "ceiling": 80, "reason": "x"}, "/ceiling"),
    ],
)
def test_a_goal_that_makes_no_sense_is_422(cast, case, goal, pointer):
    refused(cast.physician.post(f"cases/{case}/goal/", goal), 422, pointer=pointer)
