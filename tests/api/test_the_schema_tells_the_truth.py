"""`GET /schema/` is OpenAPI 3.1, names every address, and live answers are what it says they are."""

import re

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from tests.api.addresses import routes
from tests.api.conftest import ago, mcg, new_id, push_dose, refused, request, syringe, vitals
from tests.conftest import ADULT

SHOWN_AS_A_PAGE = {("GET", "schema/"), ("GET", "docs/")}


@pytest.fixture
def schema(cast):
    answer = cast.physician.get("schema/?format=json")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/json"
    return answer.json()


@pytest.fixture
def holds(schema):
    """Fails where an answer is not what the schema says of this method, address and status."""
    registry = Registry().with_resource("urn:api", Resource(schema, DRAFT202012))

    def check(method, address, answer):
        told = schema["paths"][f"/api/v1/{address}"][method.lower()]["responses"]
        assert str(answer.status_code) in told, f"{method} {address} does not tell of {answer.status_code}"
        content = told[str(answer.status_code)]["content"]
        assert answer["Content-Type"] in content
        pointer = content[answer["Content-Type"]]["schema"]["$ref"].removeprefix("#")
        validator = Draft202012Validator(
            {"$ref": f"urn:api#{pointer}"}, registry=registry, format_checker=FormatChecker()
        )
        faults = [
            f"{'/'.join(map(str, fault.absolute_path))}: {fault.message}"
            for fault in validator.iter_errors(answer.json())
        ]
        assert faults == [], f"{method} {address}"
        return answer

    return check


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


def test_a_whole_consult_is_as_told(cast, case, holds):
    def post(caller, address, body, **ids):
        return holds("POST", address, caller.post(address.format(**ids), body))

    crew, physician = cast.crew, cast.physician
    holds("POST", "cases/", crew.post("cases/", {"opened_at": ago(minutes=1), "patient": ADULT}))
    holds("PATCH", "cases/{id}/", crew.patch(f"cases/{case}/", {"eta": ago(minutes=-20), "impression": "septic"}))
    full = vitals(sbp=84, dbp=41, map_reported=60, bp_method="cuff", hr=128, rr=24, spo2=94, etco2=30, temp_c=38.9)
    full |= {"gcs": {"eye": 4, "verbal": 5, "motor": 6}, "avpu": "A", "cap_refill_s": 4, "lungs": "clear"}
    post(crew, "cases/{id}/vitals/", full, id=case)
    post(crew, "cases/{id}/vitals/", vitals(bp_method="unobtainable"), id=case)
    post(crew, "cases/{id}/vitals/", vitals(hr=120), id=case)
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
    holds("GET", "cases/{id}/", crew.get(f"cases/{case}/"))
    post(crew, "containers/{id}/discard/", {"reason": "handed over"}, id=held["id"])
    post(crew, "containers/{id}/discard/", {}, id=hung["id"])
    post(physician, "cases/{id}/accept/", {}, id=case)
    post(physician, "cases/{id}/goal/", {"measure": "map", "floor": 70, "reason": "kidneys"}, id=case)
    order, placed = request(repeat={"times": 2, "every_min": 3}), request(20, id=new_id())
    post(crew, "cases/{id}/orders/", order, id=case)
    post(physician, "cases/{id}/orders/", placed, id=case)
    post(
        physician, "orders/{id}/decision/", {"decision": "change", "amount": mcg(25), "reason": "lower"}, id=order["id"]
    )
    said = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(250)}
    post(crew, "orders/{id}/readback/", said, id=order["id"])
    post(crew, "orders/{id}/readback/", {**said, "amount": mcg(25)}, id=order["id"])
    post(crew, "orders/{id}/not_given/", {"reason": "pressure is back"}, id=order["id"])
    post(physician, "orders/{id}/withdraw/", {"reason": "pressure is back"}, id=placed["id"])
    note = {"id": new_id(), "text": "awake\nwarm"}
    post(crew, "cases/{id}/notes/", note, id=case)
    wrong = {"target": {"kind": "note", "id": note["id"]}, "reason": "other patient"}
    post(crew, "cases/{id}/corrections/", wrong, id=case)
    entries = [{"kind": "note", "id": new_id(), "case": case, "text": "on"}, {"kind": "what"}, None]
    holds("POST", "batch/", crew.post("batch/", {"sent_at": ago(seconds=0), "entries": entries}))
    alert = holds("GET", "alerts/", physician.get(f"alerts/?case={case}")).json()["results"][0]["id"]
    post(physician, "alerts/{id}/acknowledge/", {"note": "seen"}, id=alert)
    for address in ("cases/{id}/", "cases/{id}/guidance/", "cases/{id}/journal/"):
        holds("GET", address, physician.get(address.format(id=case)))
    holds("GET", "interventions/{id}/", crew.get(f"interventions/{dose['id']}/"))
    holds("GET", "interventions/{id}/", crew.get(f"interventions/{drip['id']}/"))
    holds("GET", "orders/{id}/", crew.get(f"orders/{order['id']}/"))
    post(crew, "cases/{id}/handover/", {"to": "emergency department"}, id=case)
    post(physician, "cases/{id}/reopen/", {"reason": "not yet"}, id=case)
    post(crew, "cases/{id}/close/", {"outcome": "handed_over"}, id=case)
    post(cast.supervisor, "cases/{id}/reviews/", {"text": "well done", "outcome": "no_concern"}, id=case)
    for seq in (1, 4, 12):
        holds("GET", "cases/{id}/at/{seq}/", cast.supervisor.get(f"cases/{case}/at/{seq}/"))
    for address in ("cases/", "history/", "journal/verify/", "rule-set/"):
        holds("GET", address, cast.director.get(address))


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
def test_problems_are_as_told(cast, case, holds, caller, path, body, status):
    cast.physician.post(f"cases/{case}/accept/")
    answer = getattr(cast, caller).post(f"cases/{case}/{path}/", body)
    refused(holds("POST", f"cases/{{id}}/{path}/", answer), status)


def test_an_answer_that_is_not_as_told_is_found(cast, holds, case, monkeypatch):
    answer = cast.crew.get(f"cases/{case}/")
    monkeypatch.setattr(answer, "json", lambda: {"case": "7"})
    with pytest.raises(AssertionError, match="is not a 'uuid'"):
        holds("GET", "cases/{id}/", answer)


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
