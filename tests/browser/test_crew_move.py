"""Moving a patient to another unit: the first press names the unit, the second one moves."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from consult.actions import accounts
from consult.models import Agency, Case
from tests.browser.conftest import Take, Transport


@pytest.fixture
def pressure_before() -> dict[str, float]:
    return {"sbp": 74, "dbp": 44}


def test_a_patient_is_moved_by_a_second_press_that_names_the_unit(take: Take, transport: Transport):
    accounts.make_unit(Agency.objects.get(pk=transport.team.osk.agency), "Plover 8")
    phone = take("move/")
    own = transport.team.osk.unit
    expect(phone.page.get_by_role("link", name="Read the handover first")).to_be_visible()

    phone.pick("Plover 8")
    phone.main.click()
    expect(phone.main).to_contain_text("Press again: Plover 8 takes this patient")
    assert Case.objects.get(uid=transport.uid).unit_id == own
    expect(phone.main).to_have_attribute("aria-disabled", "false")
    assert phone.main.evaluate("button => button.scrollWidth <= button.clientWidth")
    phone.main.click()

    expect(phone.outcome).to_contain_text("Sent")
    assert Case.objects.get(uid=transport.uid).unit.call_sign == "Plover 8"


@pytest.mark.night
def test_another_unit_is_asked_about_anew(take: Take, transport: Transport):
    agency = Agency.objects.get(pk=transport.team.osk.agency)
    for name in ("Plover 8", "Heron 3"):
        accounts.make_unit(agency, name)
    phone = take("move/")
    phone.pick("Plover 8")
    phone.main.click()

    phone.pick("Heron 3")

    expect(phone.main).to_contain_text("Move the patient to Heron 3")
    phone.main.click()
    expect(phone.main).to_contain_text("Press again: Heron 3 takes this patient")
