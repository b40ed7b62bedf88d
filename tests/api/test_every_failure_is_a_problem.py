"""RFC 9457 for every failure; nothing under /api/ is a page or a stack trace."""

import logging

import pytest
from django.db import InterfaceError, OperationalError
from django.test import Client

from api.views import cases as case_views
from tests.api.addresses import addresses, routes
from tests.api.conftest import new_id, refused
from tests.api.test_who_may_do_what import CREW_ONLY, MATRIX

FILLED = {"id": "0190a2b4-0000-7000-8000-000000000000", "seq": "1"}
OF_THE_CREW = {address for (_method, address), callers in MATRIX.items() if callers == CREW_ONLY}
# Those that a case's id fills; the reader is the same for all.
WRITES = [each for each in routes() if each[0] != "GET" and (each[1].startswith("cases/") or "{" not in each[1])]


@pytest.mark.parametrize("address", addresses())
def test_a_method_that_is_not_there_is_405(cast, address):
    for method in ("PUT", "DELETE", "TRACE"):
        answer = cast.director.call(method, address.format(**FILLED))
        refused(answer, 405, "method-not-allowed")
        assert "GET" in answer["Allow"] or "POST" in answer["Allow"]


@pytest.mark.parametrize("address", addresses())
def test_a_missing_last_slash_is_404_and_no_redirect(cast, address):
    refused(cast.director.get(address.format(**FILLED).removesuffix("/")), 404, "not-found")


@pytest.mark.parametrize("address", ["/api/", "/api/v2/cases/", "/api/v1/", "/api/v1/nonsense/", "/api/v1/cases/7/"])
@pytest.mark.parametrize("method", ["GET", "POST", "PATCH", "DELETE"])
def test_an_unknown_address_is_404_for_everybody(cast, address, method):
    for caller in (cast.nobody, cast.crew):
        refused(caller.call(method, address), 404)


@pytest.mark.parametrize(("method", "address"), WRITES)
def test_malformed_json_is_400(cast, case, method, address):
    caller = cast.crew if address in OF_THE_CREW else cast.director
    refused(caller.call(method, address.format(id=case), b"{not json"), 400, "bad-request")


def test_a_body_over_256_kib_is_413(cast, case):
    body = b'{"text": "' + b"a" * 256 * 1024 + b'"}'
    refused(cast.crew.post(f"cases/{case}/notes/", body), 413)


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""]
)
def test_another_content_type_is_415(cast, case, kind):
    headers = {"Authorization": f"Token {cast.crew.token}"}
    answer = Client().generic(
        "POST", f"/api/v1/cases/{case}/notes/", b'{"text": "a"}', content_type=kind, headers=headers
    )
    refused(answer, 415)


def test_a_charset_beside_the_content_type_is_no_other_type(cast, case):
    headers = {"Authorization": f"Token {cast.crew.token}"}
    kind = "application/json; charset=utf-8"
    answer = Client().generic(
        "POST", f"/api/v1/cases/{case}/notes/", b'{"text": "a"}', content_type=kind, headers=headers
    )
    assert answer.status_code == 201


@pytest.mark.parametrize("accept", ["text/html", "application/xml", "image/png", "*/*", "application/json;q=0"])
def test_answers_are_json_whatever_is_accepted(cast, accept):
    assert cast.crew.get("cases/", Accept=accept)["Content-Type"] == "application/json"
    refused(cast.crew.get("nonsense/", Accept=accept), 404)
    refused(cast.crew.get(f"cases/{new_id()}/", Accept=accept), 404)


def test_an_unforeseen_fault_tells_a_reference_and_nothing_else(cast, monkeypatch, caplog):
    def fails(*_):
        raise RuntimeError("the patient's words")

    monkeypatch.setattr(case_views, "page", fails)
    with caplog.at_level(logging.ERROR):
        document = refused(cast.crew.get("cases/"), 500)
    assert "patient" not in str(document)
    assert any(record.args and record.args[0] in document["detail"] for record in caplog.records)


def test_a_fault_before_the_view_is_a_problem_too(cast):
    answer = Client(raise_request_exception=False).get("/api/v1/cases/", headers={"Host": "elsewhere.example"})
    refused(answer, 400)


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({}, "/text", "required"),
        ({"text": ""}, "/text", "blank"),
        ({"text": 7}, "/text", "invalid"),
        ({"text": "a" * 2001}, "/text", "max_length"),
        ({"text": "a", "at": "2030-01-05T10:00:00"}, "/at", "no_offset"),
        ({"text": "a", "id": 7}, "/id", "invalid"),
        ({"text": "a", "a/b~c": 7}, "/a~1b~0c", "unknown_field"),
        ([], "", "not_an_object"),
        ("text", "", "not_an_object"),
        (None, "", "null"),
    ],
)
def test_422_points_at_each_fault(cast, case, body, pointer, code):
    sent = b"null" if body is None else body
    document = refused(cast.crew.call("POST", f"cases/{case}/notes/", sent), 422, "invalid")
    assert (pointer, code) in {(error["pointer"], error["code"]) for error in document["errors"]}


@pytest.mark.parametrize(
    ("path", "pointer"),
    [
        ("cases/?state=shut", "/state"),
        ("alerts/?state=loud", "/state"),
        ("alerts/?case=7", "/case"),
        ("cases/{case}/journal/?after=-1", "/after"),
        ("cases/{case}/journal/?after=x", "/after"),
        ("history/?opened_from=2030-01-05", "/opened_from"),
        ("history/?outside_limits=perhaps", "/outside_limits"),
    ],
)
def test_a_filter_that_cannot_be_one_is_422(cast, case, path, pointer):
    refused(cast.director.get(path.format(case=case)), 422, pointer=pointer)


def test_a_body_whose_length_is_not_stated_is_411(cast, case):
    sent = {"Authorization": f"Token {cast.crew.token}", "Transfer-Encoding": "chunked", "Content-Length": ""}
    answer = Client().generic("POST", f"/api/v1/cases/{case}/notes/", b"", "application/json", headers=sent)
    refused(answer, 411)


@pytest.mark.parametrize("address", addresses())
def test_options_are_told_as_json(cast, case, address):
    answer = cast.director.call("OPTIONS", address.format(id=case, seq=1))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/json"
    refused(cast.nobody.call("OPTIONS", address.format(id=case, seq=1)), 401)


@pytest.mark.parametrize("fault", [OperationalError, InterfaceError])
def test_a_database_that_is_away_is_503_and_worth_another_try(cast, monkeypatch, fault):
    def away(*_, **__):
        raise fault("the connection is closed")

    monkeypatch.setattr(case_views, "page", away)
    answer = cast.crew.get("cases/")
    refused(answer, 503, "unavailable")
    assert answer["Retry-After"] == "1"
