"""The main job from end to end: asked, decided, read back, given; overdue, acknowledged, answered; found again."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import pytest
from django.db import connection
from playwright.sync_api import Page, expect

from consult import clock
from consult.actions import accounts, alerts
from consult.models import Membership, Reassessment
from tests.browser.conftest import PASSWORD, Board, SignIn, Team

PUSH = {"treatment": "epinephrine-push-dose", "route": "IV"}
PATIENT = {
    "age": {"value": 58, "unit": "years"},
    "sex": "male",
    "weight": {"value": 80, "unit": "kg", "basis": "measured"},
    "label": "A",
}


@pytest.fixture
def beat(board: Board) -> Iterator[None]:
    """The sweep once a second, as Celery beat has it done."""
    ended = threading.Event()

    def tick() -> None:
        while not ended.wait(1):
            alerts.sweep(clock.now())
        connection.close()

    thread = threading.Thread(target=tick)
    thread.start()
    yield
    ended.set()
    thread.join()


class Unit:
    """Kestrel 2, posting through the API with a device token of its own."""

    def __init__(self, address: str, token: str) -> None:
        self.http = httpx.Client(base_url=f"{address}/api/v1/", headers={"Authorization": f"Token {token}"})
        self.case = str(uuid4())

    def post(self, path: str, **content: Any) -> dict[str, Any]:
        answer = self.http.post(path, json={"id": str(uuid4()), **content})
        assert answer.status_code in (200, 201), answer.text
        body: dict[str, Any] = answer.json()
        return body

    def open(self) -> None:
        started = {"opened_at": ago(minutes=20), "complaint": "weak, pale", "impression": "septic", "patient": PATIENT}
        self.post("cases/", **{**started, "id": self.case})

    def vitals(self, at: str, **values: Any) -> None:
        self.post(f"cases/{self.case}/vitals/", taken_at=at, **values)

    def read_back(self, order: str, value: float) -> dict[str, Any]:
        return self.post(f"orders/{order}/readback/", **PUSH, amount={"value": value, "unit": "mcg"})


def ago(**passed: float) -> str:
    """The time so long before now, as the API wants it."""
    return (clock.now() - timedelta(**passed)).isoformat()


@pytest.fixture
def unit(board: Board, team: Team) -> Unit:
    crew = Membership.objects.get(pk=team.osk.membership)
    return Unit(board.address, accounts.issue_token(crew, clock.now()))


def photograph(page: Page, folder: Path, name: str) -> None:
    page.screenshot(path=folder / f"{name}.png")


def _sign_in_by_hand(page: Page) -> None:
    """Without a session the board asks for name and password, and leads back to itself."""
    page.context.clear_cookies()
    page.reload()
    page.get_by_label("Username").fill("merrin")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_from_request_to_review(unit: Unit, beat: None, sign_in: SignIn, tmp_path: Path) -> None:
    page = sign_in("merrin", "/board/")
    _sign_in_by_hand(page)
    expect(page.locator("#live-word")).to_have_text("Live")
    unit.open()
    for seconds in (310, 250):  # before the dose, and too soon after it to be its reading
        unit.vitals(ago(seconds=seconds), sbp=92, dbp=48, hr=128, lungs="clear")
    asked = unit.post(
        f"cases/{unit.case}/orders/",
        **PUSH,
        at=ago(),
        amount={"value": 30, "unit": "mcg"},
        reason="no response to fluid",
    )

    _approve(page, tmp_path)
    _repeat(page, unit, asked["id"])
    overdue_at = _give(page, unit, asked["id"])
    _overdue_is_acknowledged(page, overdue_at, tmp_path)
    unit.vitals(ago(), sbp=104, dbp=60, hr=110)
    expect(page.locator(".card")).to_contain_text("63 → 75")
    photograph(page, tmp_path, "answered")
    _found_again(sign_in("averill", "/history/"), asked["seq"], tmp_path)


def _approve(page: Page, folder: Path) -> None:
    approve = page.get_by_role("button", name="Approve for Kestrel 2 A: EPINEPHrine push dose 30 mcg IV")
    expect(approve).to_be_visible(timeout=1000)
    photograph(page, folder, "requested")
    approve.click()
    expect(page.locator(".ask[data-step='approved']")).to_contain_text("by Dr. Merrin")


def _repeat(page: Page, unit: Unit, order: str) -> None:
    """Ten times the dose is misread and says only which field; the second read-back matches."""
    wrong = unit.read_back(order, 300)
    assert (wrong["matches"], wrong["differences"]) == (False, ["amount"])
    expect(page.locator(".alarm").first).to_contain_text("does not match")
    assert unit.read_back(order, 30)["matches"] is True
    expect(page.locator(".card")).not_to_contain_text("does not match")


def _give(page: Page, unit: Unit, order: str) -> datetime:
    """The dose was given long enough ago that its reassessment falls due in a few seconds; when it is overdue."""
    dose = {**PUSH, "amount": {"value": 30, "unit": "mcg"}, "order": order}
    given = unit.post(f"cases/{unit.case}/interventions/", **dose, given_at=ago(seconds=296))
    assert given["check"]["verdict"] in ("within", "caution")
    expect(page.locator(".card")).to_contain_text("EPINEPHrine push dose 30 mcg")
    return Reassessment.objects.get().overdue_at


def _overdue_is_acknowledged(page: Page, overdue_at: datetime, folder: Path) -> None:
    alarm = page.locator(".alarm", has_text="No pressure after")
    expect(alarm).to_be_visible(timeout=10_000)
    late = clock.now() - overdue_at
    assert timedelta(0) <= late < timedelta(seconds=2), late
    photograph(page, folder, "overdue")
    alarm.get_by_role("button", name="Acknowledge").click()
    expect(alarm).to_contain_text(re.compile(r"acknowledged \d\d:\d\d by Dr\. Merrin"))


def _found_again(page: Page, asked_at: int, folder: Path) -> None:
    """The supervisor steps the replay to the request and sees the card as it stood then."""
    page.locator("main a", has_text="20").first.click()
    page.get_by_role("button", name="Last").click()
    expect(page.locator("#replay-card .card")).to_contain_text("63 → 75")
    page.locator(f'#journal [data-seq="{asked_at}"]').click()
    card = page.locator("#replay-card .card")
    expect(card).to_contain_text("Order requested")
    expect(card).not_to_contain_text("63 → 75")
    photograph(page, folder, "replayed")
