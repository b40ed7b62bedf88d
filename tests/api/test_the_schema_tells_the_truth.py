"""`GET /schema/` is OpenAPI 3.1, names every address, and live answers are what it says they are."""

import re

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator

from api.serializers.cases import CaseEntry
from api.serializers.containers import ContainerEntry
from api.serializers.interventions import InterventionEntry
from api.serializers.notes import CorrectionEntry, NoteEntry, ProcedureEntry, ReviewEntry
from api.serializers.orders import OrderEntry
from api.serializers.questions import InstructionEntry, QuestionEntry
from api.serializers.vitals import VitalsEntry
from consult.resources import entries as answers
from consult.resources.cases import WrittenPatient
from consult.resources.orders import WrittenOrder
from consult.resources.questions import WrittenInstruction, WrittenQuestion
from tests.api import described
from tests.api.addresses import routes
from tests.api.conftest import ago, mcg, named, new_id, push_dose, question, refused, request, syringe, vitals
from tests.conftest import ADULT, with_a_user

CARD = "#/components/schemas/Card"
SHOWN_AS_A_PAGE = {("GET", "schema/"), ("GET", "docs/")}


@pytest.fixture
def schema(cast):
    answer = cast.physician.get("schema/?format=json")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/json"
    return answer.json()


def test_it_is_openapi_3_1(schema):
    assert schema["openapi"].startswith("3.1")
    Draft202012Validator.check_schema({"$defs": schema["components"]["schemas"]})


def test_every_address_is_told_and_no_other(schema):
    told = {
        (method.upper(), path.removeprefix("/api/v1/")) for path, each in schema["paths"].items() for method in each
    }
    assert told == set(routes()) - SHOWN_AS_A_PAGE


def test_every_operation_has_its_name_its_words_and_its_problems(schema):
    operations = [each for path in schema["paths"].values() for each in path.values()]
    names = [each["operationId"] for each in operations]
    assert len(set(names)) == len(names)
    assert all(each["description"].strip() for each in operations)
    assert all({"401", "403", "404", "500"} <= each["responses"].keys() for each in operations)
    writes = [each for each in operations if "requestBody" in each]
    assert all({"400", "409", "413", "415", "422"} <= each["responses"].keys() for each in writes)


def test_what_is_sent_may_hold_no_unknown_field(schema):
    bodies = [
        each["requestBody"] for path in schema["paths"].values() for each in path.values() if "requestBody" in each
    ]
    for body in bodies:
        name = body["content"]["application/json"]["schema"]["$ref"].rsplit("/", 1)[-1]
        assert schema["components"]["schemas"][name]["additionalProperties"] is False, name


def test_a_whole_consult_is_as_told_each_operation_with_its_answer(cast, case, schema):
    described.HELD.clear()

    def post(caller, address, body, **ids):
        return caller.post(address.format(**ids), body)

    crew, physician = cast.crew, cast.physician
    crew.post("cases/", {"opened_at": ago(minutes=1), "patient": ADULT})
    crew.patch(f"cases/{case}/", {"eta": ago(minutes=-20), "impression": "septic"})
    full = vitals(sbp=84, dbp=41, map_reported=60, bp_method="cuff", hr=128, rr=24, spo2=94, etco2=30, temp_c=38.9)
    full |= {"gcs": {"eye": 4, "verbal": 5, "motor": 6}, "avpu": "A", "cap_refill_s": 4, "lungs": "clear"}
    post(crew, "cases/{id}/vitals/", full, id=case)
    post(crew, "cases/{id}/vitals/", vitals(bp_method="unobtainable"), id=case)
    post(crew, "cases/{id}/vitals/", vitals(hr=120, glucose_mmol_l=3.1), id=case)
    post(crew, "cases/{id}/procedures/", {"procedure": "io_access", "outcome": "done", "gauge": 15}, id=case)
    post(crew, "cases/{id}/checks/", {"treatment": "epinephrine-push-dose", "amount": mcg(30), "route": "IO"}, id=case)
    dose = push_dose(30)
    post(crew, "cases/{id}/interventions/", dose, id=case)
    drip = {**push_dose(8), "treatment": "norepinephrine-infusion", "status": "running"}
    drip |= {"amount": {"value": 8, "unit": "mcg/min"}, "concentration": {"value": 16, "unit": "mcg/mL"}}
    post(crew, "cases/{id}/interventions/", drip, id=case)
    post(crew, "interventions/{id}/changes/", {"amount": {"value": 9, "unit": "mcg/min"}}, id=drip["id"])
    held, gas = syringe(checked_by="B. Lund"), {"size": "E", "pressure": {"value": 2000, "unit": "psi"}}
    post(crew, "cases/{id}/containers/", held, id=case)
    post(crew, "cases/{id}/containers/", {"form": "cylinder", "cylinder": gas}, id=case)
    post(crew, "cases/{id}/interventions/", push_dose(10, container=held["id"]), id=case)
    hung = {**drip, "id": new_id(), "container_ml": 250, "given_at": ago(seconds=1)}
    post(crew, "cases/{id}/interventions/", hung, id=case)
    crew.get(f"cases/{case}/")
    post(crew, "containers/{id}/discard/", {"reason": "handed over"}, id=held["id"])
    post(crew, "containers/{id}/discard/", {}, id=hung["id"])
    post(physician, "cases/{id}/accept/", {}, id=case)
    post(physician, "cases/{id}/release/", {"reason": "resting"}, id=case)
    post(physician, "cases/{id}/accept/", {}, id=case)
    post(physician, "cases/{id}/goal/", {"measure": "map", "floor": 70, "reason": "kidneys"}, id=case)
    order, placed = request(repeat={"times": 2, "every_min": 3}), request(20, id=new_id())
    post(crew, "cases/{id}/orders/", order, id=case)
    post(physician, "cases/{id}/orders/", placed, id=case)
    post(physician, "orders/{id}/decision/", {"decision": "ask", "text": "Which line?"}, id=order["id"])
    post(crew, "orders/{id}/answer/", {"text": "18 G,\nleft forearm"}, id=order["id"])
    post(
        physician, "orders/{id}/decision/", {"decision": "change", "amount": mcg(25), "reason": "lower"}, id=order["id"]
    )
    said = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(250)}
    post(crew, "orders/{id}/readback/", said, id=order["id"])
    post(crew, "orders/{id}/readback/", {**said, "amount": mcg(25)}, id=order["id"])
    post(crew, "orders/{id}/not_given/", {"reason": "pressure is back"}, id=order["id"])
    post(physician, "orders/{id}/withdraw/", {"reason": "pressure is back"}, id=placed["id"])
    beyond = request(150, id=new_id(), hard_limit_reason="arterial line in")
    post(physician, "cases/{id}/orders/", beyond, id=case)
    post(cast.physician2, "orders/{id}/cosign/", {"reason": "agreed"}, id=beyond["id"])
    named(cast.physician2, "quillan")
    shift = physician.post("handovers/", {"to": "quillan", "cases": [case], "note": "pump at 8 mL/h"}).json()["id"]
    post(cast.physician2, "handovers/{id}/accept/", {"cases": [case]}, id=shift)
    voice = push_dose(30, voice_order={"physician": with_a_user(physician.actor), "at": ago(minutes=1)})
    post(crew, "cases/{id}/interventions/", voice, id=case)
    post(physician, "interventions/{id}/countersign/", {"agreed": False, "reason": "not mine"}, id=voice["id"])
    crew.get(f"interventions/{voice['id']}/")
    post(crew, "cases/{id}/coverage/", {"until": ago(minutes=-20)}, id=case)
    ending = {"minutes": 30, "rhythm": "asystole", "etco2": 8, "criteria": ["no-shock"]}
    asked = [question("end_resuscitation", form=ending), question()]
    for each in asked:
        post(crew, "cases/{id}/questions/", each, id=case)
    agreed = {"id": new_id(), "text": "Agreed.", "question": asked[0]["id"], "decision": "agreed"}
    told = [agreed, *({"id": new_id(), "text": text} for text in ("Turn her.", "Go to the nearer one."))]
    for each in told:
        post(physician, "cases/{id}/instructions/", each, id=case)
    post(crew, "questions/{id}/withdraw/", {"reason": "answered by radio"}, id=asked[1]["id"])
    for each, end in ((told[0], "done"), (told[1], "unable")):
        post(crew, "instructions/{id}/understood/", {}, id=each["id"])
        post(crew, f"instructions/{{id}}/{end}/", {"reason": "strapped in"} if end == "unable" else {}, id=each["id"])
    post(physician, "instructions/{id}/withdraw/", {"reason": "not needed"}, id=told[2]["id"])
    crew.get(f"cases/{case}/")
    note = {"id": new_id(), "text": "awake\nwarm"}
    post(crew, "cases/{id}/notes/", note, id=case)
    post(crew, "cases/{id}/phase/", {"phase": "arrest"}, id=case)
    wrong = {"target": {"kind": "note", "id": note["id"]}, "reason": "other patient"}
    post(crew, "cases/{id}/corrections/", wrong, id=case)
    entries = [{"kind": "note", "id": new_id(), "case": case, "text": "on"}, {"kind": "what"}, None]
    crew.post("batch/", {"sent_at": ago(seconds=0), "entries": entries})
    alert = physician.get(f"alerts/?state=raised&case={case}").json()["results"][0]["id"]
    post(physician, "alerts/{id}/acknowledge/", {"note": "seen"}, id=alert)
    for address in ("cases/{id}/", "cases/{id}/guidance/", "cases/{id}/journal/"):
        physician.get(address.format(id=case))
    crew.get(f"interventions/{dose['id']}/")
    crew.get(f"interventions/{drip['id']}/")
    crew.get(f"orders/{order['id']}/")
    there, here = (str(each.member.unit_id) for each in (cast.crew2, crew))
    post(crew, "cases/{id}/move/", {"unit": there}, id=case)
    post(cast.crew2, "cases/{id}/move/", {"unit": here}, id=case)
    post(crew, "cases/{id}/handover/", {"to": "emergency department"}, id=case)
    post(physician, "cases/{id}/reopen/", {"reason": "not yet"}, id=case)
    post(crew, "cases/{id}/close/", {"outcome": "handed_over"}, id=case)
    post(cast.supervisor, "cases/{id}/reviews/", {"text": "well done", "outcome": "no_concern"}, id=case)
    for seq in (1, 4, 12):
        cast.supervisor.get(f"cases/{case}/at/{seq}/")
    for address in ("cases/", "history/", "journal/verify/", "rule-set/", "handovers/", f"handovers/{shift}/"):
        cast.director.get(address)
    told = {(method.upper(), path) for path, each in schema["paths"].items() for method in each}
    answered = {(method, path) for method, path, status in described.HELD if status < 300}
    assert told - answered == set()


@pytest.mark.parametrize(
    ("caller", "path", "body", "status"),
    [
        ("nobody", "notes", {"text": "a"}, 401),
        ("supervisor", "notes", {"text": "a"}, 403),
        ("crew2", "notes", {"text": "a"}, 404),
        ("crew", "notes", b"{", 400),
        ("crew", "notes", {}, 422),
        ("crew", "notes", b'"' + b"a" * 300_000 + b'"', 413),
        ("physician2", "accept", {}, 409),
    ],
)
def test_problems_are_as_told(cast, case, caller, path, body, status):
    cast.physician.post(f"cases/{case}/accept/")
    answer = getattr(cast, caller).post(f"cases/{case}/{path}/", body)
    refused(answer, status)


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"case": "7"}, "case: '7' is not a 'uuid'"),
        ({"opened_at": "12:04"}, "opened_at: '12:04' is not a 'date-time'"),
        ({"seq": None}, "seq: None is not of type 'integer'"),
        ({"state": "lost"}, "state: 'lost' is not one of ['open', 'handed_over', 'closed']"),
        ({"more": 1}, ": Additional properties are not allowed ('more' was unexpected)"),
    ],
)
def test_an_answer_that_is_not_as_told_is_found(cast, case, change, fault):
    card = cast.crew.get(f"cases/{case}/").json()
    assert described.faults(CARD, card) == []
    assert described.faults(CARD, {**card, **change}) == [fault]


def test_a_field_that_is_missing_is_found(cast, case):
    card = cast.crew.get(f"cases/{case}/").json()
    del card["eta"]
    assert described.faults(CARD, card) == [": 'eta' is a required property"]


def test_what_is_answered_holds_no_other_field(schema):
    parts = schema["components"]["schemas"]
    open_ones = {name for name, each in parts.items() if "properties" in each and each["additionalProperties"]}
    assert open_ones == set()


@pytest.mark.parametrize(
    ("entry", "answer", "not_answered"),
    [
        (VitalsEntry, answers.VitalsAnswer, set()),
        (InterventionEntry, answers.WrittenIntervention, {"at"}),  # `given_at` is when
        (ContainerEntry, answers.ContainerAnswer, set()),
        (ProcedureEntry, answers.ProcedureAnswer, set()),
        (NoteEntry, answers.NoteAnswer, set()),
        (ReviewEntry, answers.ReviewAnswer, {"at"}),
        (CorrectionEntry, answers.CorrectionAnswer, {"at"}),
        (OrderEntry, WrittenOrder, set()),
        (QuestionEntry, WrittenQuestion, set()),
        (InstructionEntry, WrittenInstruction, set()),
        (CaseEntry, WrittenPatient, set()),
    ],
)
def test_what_is_sent_is_answered(entry, answer, not_answered):
    assert set(entry().fields) - set(answer.__struct_fields__) == {"sent_at", *not_answered}


def test_no_two_schemas_have_one_name():
    GENERATOR_STATS.reset()
    SchemaGenerator().get_schema(public=True)
    assert not GENERATOR_STATS


def test_the_page_needs_no_script_or_style_of_its_own(cast):
    page = cast.physician.get("docs/")
    text = page.content.decode()
    assert page["Content-Type"].startswith("text/html")
    assert "<style" not in text
    assert text.count("<script") == len(re.findall(r"<script[^>]* src=", text))
    assert "style=" not in text
    assert "http://" not in text
    assert "https://" not in text
    assert "default-src 'none'" in page["Content-Security-Policy"]
    assert "data:" not in page["Content-Security-Policy"]


def test_the_page_tells_every_route_and_every_shape(cast):
    text = cast.physician.get("docs/").content.decode()
    document = cast.physician.get("schema/").json()

    for path, operations in document["paths"].items():
        for method, told in operations.items():
            assert f'id="{told["operationId"]}"' in text
            assert f'data-method="{method.upper()}" data-path="{path}"' in text
    for name in document["components"]["schemas"]:
        assert f'id="shape-{name}"' in text
    assert set(re.findall(r'href="#shape-([^"]+)"', text)) <= set(document["components"]["schemas"])
    assert "Decision support: local protocol and the licensed clinician decide." in text
