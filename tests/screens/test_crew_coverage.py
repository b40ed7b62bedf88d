"""The crew's page for a gap in coverage: what it offers, and where it is told."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from consult.actions import cases
from tests.conftest import NOON, Consult
from tests.screens.page_text import read


@pytest.fixture
def shown(signed_in: Any, consult: Consult) -> Any:
    """A page of the crew's case, below its address."""
    return lambda below="": read(signed_in("osk").get(f"/crew/{consult.uid}/{below}").text)


def announce(consult: Consult) -> None:
    data = {"id": uuid4(), "at": NOON, "until": NOON + timedelta(minutes=20)}
    cases.announce_coverage(consult.cast.osk, consult.uid, data, NOON)


def test_the_form_offers_minutes_up_to_what_the_rules_permit(shown: Any) -> None:
    page = shown("coverage/")
    offered = [each.attributes["value"] for each in page.every("input") if each.attributes.get("name") == "until"]

    assert offered == ["5", "10", "15", "20", "30", "45", "60", "90"]
    assert page.one("form").attributes["data-kind"] == "coverage"


def test_the_case_leads_there_and_says_what_was_said(shown: Any, consult: Consult) -> None:
    assert f"/crew/{consult.uid}/coverage/" in {each.attributes.get("href") for each in shown().every("quiet-big")}
    assert "You said: no coverage" not in shown().text
    announce(consult)

    assert "You said: no coverage until" in shown().text
