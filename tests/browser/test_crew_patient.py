"""What is on record of a patient is mended in one place: only what was changed is sent, also that nothing is left."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from consult import clock
from consult.actions import cases
from consult.models import Case, JournalEntry
from tests.browser.conftest import Take, Transport
from tests.browser.crew_phone import Phone

ON_RECORD: dict[str, Any] = {
    "pregnancy_weeks": 34,
    "bleeding_cause": "postpartum",
    "history": ("anticoagulant", "pacemaker"),
    "allergies": ("sulfite", "latex"),
    "care_limits": "no_cpr",
    "refuses_blood": True,
}


@pytest.fixture
def phone(take: Take, transport: Transport) -> Phone:
    cases.patch_case(transport.team.osk, transport.uid, {"id": uuid4(), "patient": ON_RECORD}, clock.now())
    phone = take("patient/")
    phone.page.locator("summary").filter(has_text="Pregnancy, history").click()
    return phone


def on_record() -> dict[str, Any]:
    return {name: Case.objects.get().patient[name] for name in ON_RECORD}


def send(phone: Phone, says: str) -> None:
    expect(phone.main).to_contain_text(f"Send: {says}")
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")


def test_what_is_known_stands_there_and_sends_nothing(phone: Phone):
    for name, value in (("pregnancy_weeks", "34"), ("allergies", "sulfite, latex")):
        expect(phone.page.locator(f'[name="patient.{name}"]')).to_have_value(value)
    expect(phone.main).to_contain_text("Nothing changed yet")


def test_a_pregnancy_and_a_birth_that_were_entered_by_mistake_are_cleared(phone: Phone):
    phone.page.locator('[name="patient.pregnancy_weeks"]').fill("")
    phone.pick("Nothing known")
    send(phone, "bleeding, pregnancy")

    assert on_record() == {
        **{name: [*each] if isinstance(each, tuple) else each for name, each in ON_RECORD.items()},
        "pregnancy_weeks": None,
        "bleeding_cause": None,
    }


def test_history_allergies_and_limits_of_care_are_mended(phone: Phone):
    phone.pick("Pacemaker")
    phone.pick("Anticoagulant")
    phone.page.locator('[name="patient.allergies"]').fill("sulfite")
    phone.pick("Full treatment")
    phone.pick("Refuses blood")
    send(phone, "history, allergies, code status, blood refused")

    assert on_record() == {
        "pregnancy_weeks": 34,
        "bleeding_cause": "postpartum",
        "history": [],
        "allergies": ["sulfite"],
        "care_limits": "full",
        "refuses_blood": False,
    }


def test_what_a_colleague_changes_meanwhile_is_left_as_it_is(phone: Phone, transport: Transport):
    told = {"id": uuid4(), "patient": {"allergies": ("sulfite", "latex", "penicillin")}}
    cases.patch_case(transport.team.merrin, transport.uid, told, clock.now())
    phone.page.locator('[name="patient.weight.value"]').fill("82")
    phone.page.locator('[name="patient.weight.basis"][value="measured"]').locator("..").click()
    send(phone, "weight")

    assert on_record()["allergies"] == ["sulfite", "latex", "penicillin"]
    assert '"changes":{"patient":{"weight":' in JournalEntry.objects.order_by("seq").last().data  # type: ignore[union-attr]
