"""Syringes, bags and cylinders through the API: read strictly, alone as in a batch, on the card, corrected."""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import ago, new_id, push_dose, refused, syringe

GAS = {"size": "E", "pressure": {"value": 2000, "unit": "psi"}}
CYLINDER = {"form": "cylinder", "treatment": None, "strength": None, "volume": None, "cylinder": GAS}


def sent(**more: Any) -> dict[str, Any]:
    return {name: value for name, value in syringe(**more).items() if value is not None}


def in_hand(cast, case):
    return cast.physician.get(f"cases/{case}/").json()["in_hand"]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"form": "bottle"}, "/form"),
        ({"form": None}, "/form"),
        ({"volume": None}, "/volume"),
        ({"volume": {"value": 10, "unit": "mg"}}, "/volume/unit"),
        ({"volume": {"value": 0, "unit": "mL"}}, "/volume/value"),
        ({"strength": {"value": 10, "unit": "mcg"}}, "/strength/unit"),
        ({"strength": {"value": 0, "unit": "mcg/mL"}}, "/strength/value"),
        ({"strength": None}, "/strength"),
        ({"treatment": None}, "/treatment"),
        ({"name": "ephedrine"}, "/treatment"),
        ({"treatment": "moonshine"}, "/treatment"),
        ({"cylinder": GAS}, "/cylinder"),
        ({"at": "2030-01-05T10:00:00"}, "/at"),
        ({**CYLINDER, "volume": {"value": 10, "unit": "L"}}, "/volume"),
        ({**CYLINDER, "treatment": "epinephrine-push-dose"}, "/treatment"),
        ({**CYLINDER, "cylinder": None}, "/cylinder"),
        ({**CYLINDER, "cylinder": {"size": "E"}}, "/cylinder/pressure"),
        ({**CYLINDER, "cylinder": {**GAS, "size": "Z"}}, "/cylinder/size"),
        ({**CYLINDER, "cylinder": {**GAS, "pressure": {"value": 2000, "unit": "bar"}}}, "/cylinder/pressure/value"),
        ({**CYLINDER, "cylinder": {"pressure": GAS["pressure"]}}, "/cylinder/size"),
        ({**CYLINDER, "cylinder": {**GAS, "factor": {"value": 2, "unit": "L/bar"}}}, "/cylinder/size"),
        ({**CYLINDER, "cylinder": {**GAS, "pressure": {"value": 2000, "unit": "kPa"}}}, "/cylinder/pressure/unit"),
    ],
)
def test_what_cannot_be_meant_is_pointed_at(cast, case, wrong, pointer):
    refused(cast.crew.post(f"cases/{case}/containers/", sent(**wrong)), 422, pointer=pointer)


def test_a_treatment_that_is_null_is_one_that_the_rules_lack(cast, case):
    held = {**sent(name="ephedrine", strength={"value": 5, "unit": "mg/mL"}), "treatment": None}
    answer = cast.crew.post(f"cases/{case}/containers/", held)
    assert answer.status_code == 201
    assert (answer.json()["treatment"], answer.json()["name"]) == (None, "ephedrine")


def test_alone_or_in_a_batch_it_is_the_same_entry(cast, case):
    """`form` is no `kind`: that names the entry, and is no part of what is compared."""
    held, thrown = sent(), {"id": new_id(), "reason": "empty"}
    batch = [
        {"kind": "container", "case": case, **held},
        {"kind": "intervention", "case": case, **push_dose(20, container=held["id"])},
        {"kind": "discard", "container": held["id"], **thrown},
    ]
    posts = [cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": batch}).json() for _ in range(2)]
    assert [[each["status"] for each in post["results"]] for post in posts] == [[201, 201, 201], [200, 200, 200]]
    assert cast.crew.post(f"cases/{case}/containers/", held).status_code == 200
    assert cast.crew.post(f"containers/{held['id']}/discard/", thrown).status_code == 200
    refused(cast.crew.post(f"cases/{case}/containers/", {**held, "form": "bag"}), 409, "id-reused")


def test_a_proposal_is_checked_as_drawn_from_what_it_names(cast, case):
    """20 mcg are 2 mL of 10 mcg/mL, whatever was mixed since."""
    first, second = sent(at=ago(seconds=9)), sent(strength={"value": 20, "unit": "mcg/mL"})
    for held in (first, second):
        cast.crew.post(f"cases/{case}/containers/", held)
    asked = {"treatment": "epinephrine-push-dose", "amount": {"value": 20, "unit": "mcg"}, "route": "IV"}

    def volume(**more: Any) -> float:
        return cast.crew.post(f"cases/{case}/checks/", {**asked, **more}).json()["give"]["volume"]["value"]

    assert [volume(), volume(container=first["id"]), volume(container=second["id"])] == [1, 2, 1]
    answer = cast.crew.post(f"cases/{case}/checks/", {**asked, "container": new_id()})
    refused(answer, 422, pointer="/container")


def test_a_dose_names_what_it_was_drawn_from(cast, case):
    first, second = sent(at=ago(seconds=9)), sent()
    for held in (first, second):
        cast.crew.post(f"cases/{case}/containers/", held)
    cast.crew.post(f"cases/{case}/interventions/", push_dose(20, container=first["id"]))
    assert [(line["id"], line["left"]["value"]) for line in in_hand(cast, case)] == [
        (first["id"], 8),
        (second["id"], 10),
    ]
    refused(cast.crew.post(f"cases/{case}/interventions/", push_dose(container=new_id())), 422, pointer="/container")


def test_a_second_discard_is_a_wrong_state(cast, case):
    held = sent()
    cast.crew.post(f"cases/{case}/containers/", held)
    assert cast.crew.post(f"containers/{held['id']}/discard/", {}).status_code == 201
    refused(cast.crew.post(f"containers/{held['id']}/discard/", {}), 409, "wrong-state")


def test_it_is_corrected_like_any_entry(cast, case):
    held = sent()
    cast.crew.post(f"cases/{case}/containers/", held)
    wrong = {"target": {"kind": "container", "id": held["id"]}, "reason": "other patient"}
    assert cast.crew.post(f"cases/{case}/corrections/", wrong).status_code == 201
    assert in_hand(cast, case) == []


def test_an_id_of_another_kind_is_no_container(cast, case):
    dose = push_dose()
    cast.crew.post(f"cases/{case}/interventions/", dose)
    refused(cast.crew.post(f"containers/{dose['id']}/discard/", {}), 404)


def test_nobody_elses_is_found(cast, case):
    held = sent()
    cast.crew.post(f"cases/{case}/containers/", held)
    for stranger in (cast.crew2, cast.outsider_crew, cast.outsider_physician):
        refused(stranger.post(f"containers/{held['id']}/discard/", {}), 404)
    refused(cast.supervisor.post(f"containers/{held['id']}/discard/", {}), 403)
