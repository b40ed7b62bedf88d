"""What an intervention, an order, a decision and a read-back consist of: contract, "Interventions" and "Orders"."""

from datetime import UTC, datetime

import pytest
from rest_framework.exceptions import ValidationError

from api.errors import invalid
from api.serializers.interventions import InterventionChangeEntry, InterventionEntry, ProposalEntry
from api.serializers.notes import PROCEDURES, ProcedureEntry
from api.serializers.orders import Decision, OrderEntry, ReadBackEntry
from tests.api.conftest import ago, mcg, new_id, push_dose, refused, request, vitals

NOW = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)
AT = "2030-01-05T10:00:00Z"
STRENGTH, VOLUME = {"value": 10, "unit": "mcg/mL"}, {"value": 3, "unit": "mL"}
PROPOSAL = {"treatment": "epinephrine-push-dose", "amount": mcg(10), "route": "IV"}
OTHER = {"treatment": "other", "name": "cefazolin", "amount_text": "2 g over 10 min", "given_at": AT}
GIVEN = {**PROPOSAL, "given_at": AT}
SAID = {"treatment": "epinephrine-push-dose", "route": "IV"}
STEPS = {"step": mcg(5), "every_min": 3, "most": mcg(30), "goal": {"measure": "map", "floor": 65}}


def without(body, *names):
    return {name: value for name, value in body.items() if name not in names}


def pointers(entry, body):
    """Where the faults of a body are; empty where it is understood."""
    try:
        entry.read(body, NOW)
    except ValidationError as fault:
        return {error["pointer"] for error in invalid(fault).errors}
    return set()


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        pytest.param(PROPOSAL, set(), id="a proposal"),
        pytest.param({**PROPOSAL, "at": AT}, set(), id="with its time"),
        pytest.param({**PROPOSAL, "stock": {"value": "0.1", "unit": "mg/mL"}}, set(), id="with the strength in hand"),
        pytest.param({**PROPOSAL, "over_min": 15, "gauge": 18, "product": "saline"}, set(), id="a bolus"),
        pytest.param({}, {"/treatment", "/amount", "/route"}, id="nothing"),
        pytest.param({**PROPOSAL, "route": "iv"}, {"/route"}, id="a route spelt otherwise"),
        pytest.param({**PROPOSAL, "stock": mcg(10)}, {"/stock/unit"}, id="a strength that is an amount"),
        pytest.param(
            {**PROPOSAL, "concentration": {"value": 0, "unit": "mg/mL"}}, {"/concentration/value"}, id="none in it"
        ),
        pytest.param({**PROPOSAL, "over_min": 0}, {"/over_min"}, id="over no time"),
        pytest.param({**PROPOSAL, "reason": "x"}, {"/reason"}, id="a reason belongs to orders"),
    ],
)
def test_a_proposal(body, faults):
    assert pointers(ProposalEntry, body) == faults


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        pytest.param(GIVEN, set(), id="a dose"),
        pytest.param({**GIVEN, "at": AT}, set(), id="a proposal as it was checked"),
        pytest.param({**GIVEN, "status": "running", "container_ml": 250, "access": new_id()}, set(), id="an infusion"),
        pytest.param({**GIVEN, "prior": True, "prior_by": "hospital"}, set(), id="given before"),
        pytest.param(OTHER, set(), id="a drug outside the rule set"),
        pytest.param(without({**OTHER, "amount": mcg(5)}, "amount_text"), set(), id="the same with an amount"),
        pytest.param(without(GIVEN, "given_at"), {"/given_at"}, id="without its time"),
        pytest.param(without(GIVEN, "amount"), {"/amount"}, id="without an amount"),
        pytest.param(without(GIVEN, "route"), {"/route"}, id="without a route"),
        pytest.param(without(OTHER, "name"), {"/name"}, id="a drug without a name"),
        pytest.param(without(OTHER, "amount_text"), {"/amount_text"}, id="a drug without how much"),
        pytest.param({**OTHER, "amount_text": "10"}, {"/amount_text"}, id="a number without a unit"),
        pytest.param({**OTHER, "amount_text": "10 over"}, {"/amount_text"}, id="a number and a word that is none"),
        pytest.param({**OTHER, "amount": {"value": 10}}, {"/amount/unit"}, id="an amount without a unit"),
        pytest.param({**OTHER, "amount": {"unit": "mg"}}, {"/amount/value"}, id="an amount without a number"),
        pytest.param({**OTHER, "amount_text": "half a tablet"}, set(), id="in words alone"),
        pytest.param({**OTHER, "amount_text": "2 x 5mg, 1/2 amp"}, set(), id="one number with a unit"),
        pytest.param({**GIVEN, "name": "adrenaline"}, {"/treatment"}, id="a name beside a treatment"),
        pytest.param({**GIVEN, "prior_by": "hospital"}, {"/prior_by"}, id="by whom, but not before"),
        pytest.param({**GIVEN, "status": "stopped"}, {"/status"}, id="an end is a change"),
        pytest.param({**GIVEN, "voice_order": {"physician": "merrin", "at": AT}}, set(), id="ordered by voice"),
        pytest.param({**GIVEN, "voice_order": {"at": AT}}, {"/voice_order/physician"}, id="by nobody's voice"),
    ],
)
def test_an_intervention(body, faults):
    assert pointers(InterventionEntry, body) == faults


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        ({"at": AT, "status": "stopped"}, set()),
        ({"at": AT, "status": "finished", "infused": VOLUME}, set()),
        ({"at": AT, "amount": {"value": 9, "unit": "mcg/min"}}, set()),
        ({"at": AT}, {"/status"}),
        ({"at": AT, "status": "stopped", "amount": mcg(1)}, {"/status"}),
        ({"at": AT, "amount": mcg(1), "infused": VOLUME}, {"/infused"}),
        ({"at": AT, "status": "held", "reason": "swelling"}, set()),
        ({"at": AT, "status": "running", "reason": "swelling"}, {"/reason"}),
        ({"at": AT, "amount": mcg(1), "reason": "swelling"}, {"/reason"}),
        ({"at": AT, "status": "held", "order": new_id()}, set()),
        ({"at": AT, "status": "running"}, set()),
        ({"at": AT, "status": "held", "infused": VOLUME}, {"/infused"}),
        ({"at": AT, "status": "given"}, {"/status"}),
        ({"at": AT, "status": "finished", "infused": mcg(1)}, {"/infused/unit"}),
        ({"at": AT, "status": "stopped", "infused": VOLUME | {"value": 0}}, set()),
        ({"at": AT, "status": "stopped", "infused": VOLUME | {"value": -1}}, {"/infused/value"}),
        ({"at": AT, "status": "finished", "infused": VOLUME | {"value": 0}}, {"/infused/value"}),
    ],
)
def test_a_change_is_an_end_or_a_new_rate(body, faults):
    assert pointers(InterventionChangeEntry, body) == faults


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        (PROPOSAL, set()),
        ({**PROPOSAL, "reason": "x", "repeat": {"times": 3, "every_min": 2}}, set()),
        ({"treatment": "norepinephrine-infusion", "action": "stop", "intervention": new_id()}, set()),
        ({"treatment": "norepinephrine-infusion", "action": "stop"}, {"/intervention"}),
        ({"treatment": "norepinephrine-infusion", "action": "hold"}, {"/intervention"}),
        ({"treatment": "norepinephrine-infusion", "action": "change"}, {"/amount"}),
        ({**PROPOSAL, "action": "change"}, {"/intervention"}),
        ({**PROPOSAL, "repeat": {"times": 0}}, {"/repeat/times"}),
        ({**PROPOSAL, "repeat": {"times": 1.5}}, {"/repeat/times"}),
        ({**PROPOSAL, "repeat": {"every_min": 2}}, {"/repeat/times"}),
        ({**PROPOSAL, "action": "push"}, {"/action"}),
        ({**PROPOSAL, "state": "approved"}, {"/state"}),
        ({**PROPOSAL, "titrate": STEPS}, {"/titrate"}),
        ({**PROPOSAL, "titrate": STEPS, "action": "start"}, set()),
        ({**PROPOSAL, "titrate": {**STEPS, "every_min": 0}, "action": "start"}, {"/titrate/every_min"}),
        ({**PROPOSAL, "titrate": {**STEPS, "every_min": 121}, "action": "start"}, {"/titrate/every_min"}),
        ({**PROPOSAL, "titrate": without(STEPS, "goal"), "action": "start"}, {"/titrate/goal"}),
        ({**PROPOSAL, "titrate": {**STEPS, "goal": {"measure": "hr", "floor": 65}}}, {"/titrate/goal/measure"}),
    ],
)
def test_an_order(body, faults):
    assert pointers(OrderEntry, body) == faults


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        ({"decision": "approve"}, set()),
        ({"decision": "approve", "reason": "x"}, set()),
        ({"decision": "approve", "amount": mcg(10)}, {"/amount"}),
        ({"decision": "change", "amount": mcg(10), "reason": "x"}, set()),
        ({"decision": "change", "route": "IO", "reason": "x"}, set()),
        ({"decision": "change", "amount": mcg(10)}, {"/reason"}),
        ({"decision": "change", "reason": "x"}, {"/amount"}),
        ({"decision": "ask", "text": "lungs?"}, set()),
        ({"decision": "ask"}, {"/text"}),
        ({"decision": "ask", "text": "lungs?", "reason": "x"}, {"/reason"}),
        ({"decision": "decline", "reason": "x"}, set()),
        ({"decision": "decline"}, {"/reason"}),
        ({"decision": "perhaps"}, {"/decision"}),
        ({}, {"/decision"}),
    ],
)
def test_a_decision(body, faults):
    assert pointers(Decision, body) == faults


@pytest.mark.parametrize(
    ("said", "faults"),
    [
        ({"amount": mcg(30)}, set()),
        ({"strength": STRENGTH, "volume": VOLUME}, set()),
        ({"concentration": STRENGTH, "rate": {"value": 30, "unit": "mL/h"}}, set()),
        ({}, set()),  # an order to stop has none; of another the action asks for it
        ({"strength": STRENGTH}, {"/amount"}),
        ({"volume": VOLUME}, {"/amount"}),
        ({"strength": STRENGTH, "rate": {"value": 30, "unit": "mL/h"}}, {"/amount"}),
        ({"amount": mcg(30), "strength": STRENGTH, "volume": VOLUME}, {"/amount"}),
        ({"concentration": STRENGTH, "rate": VOLUME}, {"/rate/unit"}),
    ],
)
def test_a_read_back_says_how_much_in_one_way(said, faults):
    assert pointers(ReadBackEntry, {**SAID, **said}) == faults


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_every_procedure_can_be_recorded(procedure):
    assert pointers(ProcedureEntry, {"procedure": procedure, "outcome": "attempted"}) == set()


@pytest.mark.parametrize(
    "wrong",
    [mcg(0), mcg(-1), {"value": 10, "unit": "mL/h"}, {"value": 10, "unit": "furlong"}, mcg("ten"), {"value": 10}],
)
@pytest.mark.parametrize("address", ["checks", "orders", "interventions"])
def test_a_wrong_amount_points_at_the_amount(cast, case, address, wrong):
    body = {**PROPOSAL, "amount": wrong} | ({"given_at": ago(seconds=1)} if address == "interventions" else {})
    document = refused(cast.crew.post(f"cases/{case}/{address}/", body), 422)
    assert all(error["pointer"].startswith("/amount") for error in document["errors"])


def test_a_misread_back_tells_which_field_and_never_the_right_value(cast, case):
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=80, dbp=40, lungs="clear"))
    order = request(37)
    cast.crew.post(f"cases/{case}/orders/", order)
    cast.physician.post(f"orders/{order['id']}/decision/", {"decision": "approve"})
    answer = cast.crew.post(f"orders/{order['id']}/readback/", {**SAID, "amount": mcg(370)})
    assert answer.status_code == 200
    assert answer.json().keys() == {"id", "case", "state", "matches", "differences", "seq"}
    assert (answer.json()["matches"], answer.json()["differences"]) == (False, ["amount"])
    assert "37" not in str(without(answer.json(), "id", "case", "seq"))
    right = cast.crew.post(f"orders/{order['id']}/readback/", {**SAID, "amount": {"value": "0.037", "unit": "mg"}})
    assert (right.json()["matches"], right.json()["state"]) == (True, "read_back")


def test_an_order_beyond_a_hard_limit_is_its_own_problem(cast, case):
    order = {**request(), "amount": {"value": 1, "unit": "mg"}}
    refused(cast.physician.post(f"cases/{case}/orders/", order), 422, "hard-limit")


def test_what_was_given_is_never_refused_for_its_size(cast, case):
    answer = cast.crew.post(f"cases/{case}/interventions/", {**push_dose(), "amount": {"value": 1, "unit": "mg"}})
    assert answer.status_code == 201
    assert answer.json()["check"]["verdict"] == "over_hard_limit"
