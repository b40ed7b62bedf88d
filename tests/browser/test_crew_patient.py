"""What is on record of a patient is mended in one place: only what was changed is sent, also that nothing is left."""

from __future__ import annotations

import re
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
    expect(phone.page.get_by_label("In week")).to_have_value("34")
    expect(phone.page.locator('[name="patient.allergies"]')).to_have_value("sulfite, latex")
    expect(phone.main).to_contain_text("Nothing changed yet")


@pytest.mark.parametrize(("said", "weeks"), [("Unknown", None), ("No", 0)])
@pytest.mark.night
def test_a_pregnancy_and_a_birth_that_were_entered_by_mistake_are_cleared(phone: Phone, said: str, weeks: int | None):
    phone.page.get_by_role("group", name="Pregnant").locator("label").filter(
        has_text=re.compile(rf"^\s*{said}\s*$")
    ).click()
    phone.pick("Nothing known")
    send(phone, "bleeding, pregnancy")

    assert on_record() == {
        **{name: [*each] if isinstance(each, tuple) else each for name, each in ON_RECORD.items()},
        "pregnancy_weeks": weeks,
        "bleeding_cause": None,
    }


def test_while_a_new_weight_is_typed_the_button_names_that_one_alone(take: Take):
    phone = take("patient/")
    phone.type(**{"patient.weight.value": 62})
    phone.page.locator('[name="patient.weight.basis"][value="measured"]').check(force=True)
    expect(phone.main).to_have_text(re.compile(r"^Send: weight 62 kg measured\s*for Kestrel 2, 58 y male A$"))
    phone.page.locator('[name="impression"][value="cardiogenic"]').check(force=True)

    expect(phone.main).to_contain_text("Send: weight 62 kg measured, impression")
    expect(phone.main).not_to_contain_text("80 kg")
    phone.main.click()
    expect(phone.outcome.locator(".outcome-who")).to_contain_text("58 y male A, 62 kg measured")


def test_whether_somebody_is_pregnant_is_yes_no_or_not_known(take: Take, transport: Transport):
    phone = take("patient/")
    pregnant = phone.page.get_by_role("group", name="Pregnant")
    expect(pregnant).to_have_count(0)  # a man
    woman = {"id": uuid4(), "patient": {"sex": "female"}}
    cases.patch_case(transport.team.osk, transport.uid, woman, clock.now())
    told: list[Any] = []
    for said, stands, answered in (("No", "Unknown", 0), ("Yes", "No", 34)):
        phone.open("patient/")
        phone.page.locator("summary").filter(has_text="Pregnancy, history").click()
        expect(pregnant.get_by_label(stands, exact=True)).to_be_checked()
        pregnant.get_by_label(said, exact=True).check()
        if answered:
            expect(phone.main).to_contain_text("Pregnant, in which week?")
            phone.page.get_by_label("In week").fill(str(answered))
        send(phone, "pregnancy")
        told.append(Case.objects.get().patient["pregnancy_weeks"])

    assert told == [0, 34]


@pytest.mark.night
def test_a_new_patient_is_asked_unless_a_man_and_nothing_said_is_not_known(take: Take):
    phone = take()
    phone.page.goto(phone.page.url.split("/crew/")[0] + "/crew/open/")
    phone.ready()
    phone.page.locator("summary").filter(has_text="Injuries, history").click()
    pregnant = phone.page.get_by_role("group", name="Pregnant")
    expect(pregnant.locator(":checked")).to_have_count(0)
    phone.pick("male")
    expect(pregnant).to_be_hidden()
    phone.pick("female")
    pregnant.get_by_label("No", exact=True).check()
    phone.type(**{"patient.age.value": 30})
    phone.pick("years")
    phone.page.get_by_label("Weight unknown").check()
    phone.main.click()
    expect(phone.outcome).to_contain_text("Sent")

    assert Case.objects.latest("id").patient["pregnancy_weeks"] == 0


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


@pytest.mark.night
def test_what_a_colleague_changes_meanwhile_is_left_as_it_is(phone: Phone, transport: Transport):
    told = {"id": uuid4(), "patient": {"allergies": ("sulfite", "latex", "penicillin")}}
    cases.patch_case(transport.team.merrin, transport.uid, told, clock.now())
    phone.page.locator('[name="patient.weight.value"]').fill("82")
    phone.page.locator('[name="patient.weight.basis"][value="measured"]').locator("..").click()
    send(phone, "weight")

    assert on_record()["allergies"] == ["sulfite", "latex", "penicillin"]
    assert '"changes":{"patient":{"weight":' in JournalEntry.objects.order_by("seq").last().data  # type: ignore[union-attr]
