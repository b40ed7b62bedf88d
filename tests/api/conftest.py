"""The cast as programs that hold a token, and what they usually send."""

from __future__ import annotations

import uuid
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client

from consult import access, clock
from consult.actions import accounts

ADULT = {
    "age": {"value": 58, "unit": "years"},
    "sex": "male",
    "weight": {"value": 80, "unit": "kg", "basis": "measured"},
    "allergies": [],
    "fluid_restricted": False,
}
PROBLEM = "application/problem+json"


def ago(**span: float) -> str:
    """The time so long before now, as it is sent."""
    return (clock.now() - timedelta(**span)).isoformat()


def new_id() -> str:
    return str(uuid.uuid4())


def mcg(value: Any) -> dict[str, Any]:
    return {"value": value, "unit": "mcg"}


class Program:
    """A program with a token: get, post and patch on paths under /api/v1/."""

    def __init__(self, token: str | None = None, *, member: Any = None) -> None:
        self.token, self.member = token, member
        self.client = Client(raise_request_exception=False)

    def call(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        sent = {"Authorization": f"Token {self.token}"} if self.token else {}
        data = {} if body is None else {"data": body, "content_type": "application/json"}
        address = path if path.startswith("/") else f"/api/v1/{path}"
        return self.client.generic(method, address, **_encoded(data), headers={**sent, **headers})

    def get(self, path: str, **headers: str) -> Any:
        return self.call("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str) -> Any:
        return self.call("POST", path, {} if body is None else body, **headers)

    def patch(self, path: str, body: Any, **headers: str) -> Any:
        return self.call("PATCH", path, body, **headers)


def _encoded(data: dict[str, Any]) -> dict[str, Any]:
    from json import dumps

    if data and not isinstance(data["data"], bytes):
        data["data"] = dumps(data["data"])
    return data


@pytest.fixture
def cast(db):
    """Two crews, two physicians, supervisor and director of one agency; a crew and a physician of another."""
    access.forget_tokens()
    now = clock.now()
    agency, other = accounts.make_agency("Brindle Vale"), accounts.make_agency("Harrow Fen")

    def member(of, role, name, unit=None):
        made = accounts.make_member(of, role, name=name, unit=unit and accounts.make_unit(of, unit))
        return Program(accounts.issue_token(made, now), member=made)

    return SimpleNamespace(
        agency=agency,
        other=other,
        crew=member(agency, "crew", "Jory Osk", "Kestrel 2"),
        crew2=member(agency, "crew", "Bryn Lund", "Plover 8"),
        physician=member(agency, "physician", "Dr. Ida Merrin"),
        physician2=member(agency, "physician", "Dr. Tomas Quillan"),
        supervisor=member(agency, "supervisor", "Noor Averill"),
        director=member(agency, "director", "Dr. Linnea Sorrel"),
        outsider_crew=member(other, "crew", "Ebba Tarn", "Kestrel 2"),
        outsider_physician=member(other, "physician", "Dr. Otis Vane"),
        nobody=Program(),
    )


@pytest.fixture
def open_case(cast):
    """Opens a case, by the crew unless somebody else is named, and tells its id."""

    def opened(by=None, **more):
        body = {"id": new_id(), "opened_at": ago(minutes=20), "patient": ADULT, "complaint": "weak, pale", **more}
        answer = (by or cast.crew).post("cases/", body)
        assert answer.status_code == 201, answer.content
        return body["id"]

    return opened


@pytest.fixture
def case(open_case):
    """A case of the crew with one set of vitals."""
    return open_case()


def vitals(**values: Any) -> dict[str, Any]:
    """A set of vitals as it is sent."""
    return {"id": new_id(), "taken_at": ago(seconds=1), **values}


def push_dose(value: Any = 10, **more: Any) -> dict[str, Any]:
    """An epinephrine push dose as it is recorded."""
    return {
        "id": new_id(),
        "treatment": "epinephrine-push-dose",
        "amount": mcg(value),
        "route": "IV",
        "given_at": ago(seconds=1),
        **more,
    }


def request(value: Any = 30, **more: Any) -> dict[str, Any]:
    """A crew's request for a larger push dose."""
    dose = push_dose(value)
    del dose["given_at"]
    return {**dose, "at": ago(seconds=1), "reason": "no response to fluid", **more}


def refused(answer: Any, status: int, kind: str | None = None, pointer: str | None = None) -> dict[str, Any]:
    """The problem document of an answer that must be one."""
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == PROBLEM
    document = answer.json()
    assert {"type", "title", "status", "detail"} <= document.keys()
    assert document["status"] == status
    if status == 422:
        assert all({"pointer", "detail", "code"} == error.keys() for error in document["errors"])
    if kind:
        assert document["type"] == kind
    if pointer is not None:
        assert pointer in {error["pointer"] for error in document["errors"]}, document
    return document
