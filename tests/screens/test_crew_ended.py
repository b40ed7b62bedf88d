"""A case that has ended says so on every page of it, and offers nothing but what goes in late."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from consult import clock
from consult.actions import cases
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read
from tests.screens.test_crew import CASE_PAGES

pytestmark = pytest.mark.django_db


@pytest.fixture
def page_of(consult: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setattr(clock, "now", lambda: later(minutes=31))
    consult.vitals(sbp=74, dbp=44)

    def page_of(path: str) -> Element:
        return read(signed_in("osk").get(f"/crew/{consult.uid}/{path}").text)

    return page_of


def hand_over(consult: Consult) -> None:
    data = {"id": uuid4(), "at": later(minutes=30), "to": "Harrow Fen General"}
    cases.handover(consult.cast.osk, consult.uid, data, later(minutes=30))


@pytest.mark.parametrize("path", CASE_PAGES)
def test_every_page_of_a_case_says_when_it_was_handed_over(path: str, consult: Consult, page_of: Any):
    assert page_of(path).every("ended") == []

    hand_over(consult)

    page = page_of(path)
    assert page.one("ended").text.startswith("This case was handed over at 12:30. Nothing here is live.")
    assert page.one("pages").text.startswith("Late vitals Late dose")
    assert "Request an order" not in [each.text for each in page.every("big")]


def test_a_closed_case_says_why(consult: Consult, page_of: Any):
    cases.close(consult.cast.osk, consult.uid, {"id": uuid4(), "at": NOON, "outcome": "refused"}, NOON)

    assert page_of("").one("ended").text.startswith("This case was closed at 12:00: refused.")


def test_it_is_not_handed_over_twice_and_its_report_can_still_be_read(consult: Consult, page_of: Any):
    hand_over(consult)

    page = page_of("handover/")

    assert page.every("form") == []
    assert "MAP" in page.one("spoken").text
