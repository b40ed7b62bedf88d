"""The crew's page of a procedure: usual settings for this patient, each with its source; nothing of other patients."""

from __future__ import annotations

import pytest

from consult.actions import cases
from tests.conftest import NOON
from tests.screens.conftest import Sign
from tests.screens.page_text import read

WEIGHT = {"value": 18, "unit": "kg", "basis": "measured"}


@pytest.mark.parametrize(
    ("patient", "told", "not_told"),
    [
        (None, ["from 50 mA", "120 J, then 200 J, synchronized", "200 J, then 360 J, not synchronized"], ["J/kg"]),
        (
            {"age": {"value": 5, "unit": "years", "basis": "stated"}, "weight": WEIGHT},
            ["from 20 mA", "18 J (1 J/kg), then 36 J (2 J/kg)", "36 J (2 J/kg), then 72 J (4 J/kg)"],
            ["360 J", "from 50 mA"],
        ),
    ],
    ids=["an adult", "a child of 18 kg"],
)
def test_settings_are_those_for_an_adult_or_a_child(signed_in: Sign, consult, patient, told, not_told) -> None:
    if patient:
        cases.patch_case(consult.cast.osk, consult.uid, {"patient": patient}, NOON)
    page = read(signed_in("osk").get(f"/crew/{consult.uid}/procedure/").text).text

    assert [each for each in told if each not in page] == []
    assert [each for each in not_told if each in page] == []


def test_the_rules_page_lists_every_setting_with_its_place(signed_in: Sign, consult) -> None:
    page = read(signed_in("sorrel").get("/rules/").text)

    assert "Pacing and shocks" in page.text
    assert "Cardioversion, synchronized, first shock" in page.text
