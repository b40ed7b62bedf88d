"""The cast as programs that hold a token, and what they usually send."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client

from consult import clock
from consult.models import Membership, User
from tests.api import described
from tests.conftest import ADULT

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

    def __init__(self, token: str | None = None, *, actor: Any = None) -> None:
        self.token, self.actor = token, actor
        self.client = Client(raise_request_exception=False)

    @property
    def member(self) -> Membership:
        """The membership that the token acts as."""
        return Membership.objects.get(pk=self.actor.membership)

    def call(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        sent = {"Authorization": f"Token {self.token}"} if self.token else {}
        data = b"" if body is None else body if isinstance(body, bytes) else json.dumps(body)
        address = path if path.startswith("/") else f"/api/v1/{path}"
        answer = self.client.generic(method, address, data, "application/json", headers={**sent, **headers})
        described.hold(method, address.partition("?")[0], answer)
        return answer

    def get(self, path: str, **headers: str) -> Any:
        return self.call("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str) -> Any:
        return self.call("POST", path, {} if body is None else body, **headers)

    def patch(self, path: str, body: Any, **headers: str) -> Any:
        return self.call("PATCH", path, body, **headers)


def named(program: Program, username: str) -> None:
    """Give a member of the cast an account, by whose user name a colleague is found."""
    user, _ = User.objects.get_or_create(username=username, defaults={"first_name": program.actor.name})
    Membership.objects.filter(pk=program.actor.membership).update(user=user)


WHO = {
    "crew": "osk",
    "crew2": "lund",
    "physician": "merrin",
    "physician2": "quillan",
    "supervisor": "averill",
    "director": "sorrel",
    "outsider_crew": "tarn",
    "outsider_physician": "vane",
}


@pytest.fixture
def cast(cast):
    """The cast by what they are, each as a program that holds their token."""
    programs = {role: Program(cast.tokens[name], actor=getattr(cast, name)) for role, name in WHO.items()}
    return SimpleNamespace(**programs, nobody=Program())


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


@pytest.fixture
def story(cast: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A case with a low pressure and clear lungs, at noon."""
    from tests.api.story import Story

    told = Story(cast, monkeypatch).open()
    told.read(sbp=80, dbp=40, lungs="clear")
    return told


@pytest.fixture
def runs(story: Any) -> Any:
    """Norepinephrine that runs in it out of a bag of 250 mL: 30 mL/h for 80 kg."""
    bag = {"concentration": "16 mcg/mL", "container_ml": 250}
    return story.give("norepinephrine-infusion", "0.1 mcg/kg/min", status="running", **bag)


@pytest.fixture
def shadow(cast: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A case of which the last thing sent before the radio shadow was a pressure at 12:05."""
    from tests.api.shadow import Shadow
    from tests.api.story import Story

    story = Story(cast, monkeypatch).open().at(5)
    story.read(sbp=84, dbp=40)
    return Shadow(story)


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


def syringe(**more: Any) -> dict[str, Any]:
    """A push-dose syringe as it is recorded when it is mixed."""
    return {
        "id": new_id(),
        "at": ago(seconds=2),
        "form": "syringe",
        "treatment": "epinephrine-push-dose",
        "strength": {"value": 10, "unit": "mcg/mL"},
        "volume": {"value": 10, "unit": "mL"},
        **more,
    }


def request(value: Any = 30, **more: Any) -> dict[str, Any]:
    """A crew's request for a larger push dose."""
    dose = push_dose(value)
    del dose["given_at"]
    return {**dose, "at": ago(seconds=1), "reason": "no response to fluid", **more}


def question(topic: str = "advice", **more: Any) -> dict[str, Any]:
    """A question without a drug."""
    return {"id": new_id(), "at": ago(seconds=1), "topic": topic, "text": "Stop at the nearer hospital?", **more}


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
