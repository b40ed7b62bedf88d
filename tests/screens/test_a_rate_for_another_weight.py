"""Pages of a case whose weight was corrected while a pump runs: the pump's rate, and what that is per kg by now.

0.1 mcg/kg/min for 80 kg are 8 mcg/min, 30 mL/h of 16 mcg per mL (8 x 60 / 16); for 40 kg that is 0.2 mcg/kg/min.
"""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from consult.actions import cases
from tests.conftest import ADULT, NOON, Consult, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read

DRIP = ("norepinephrine-infusion", 0.1, "mcg/kg/min")
RUNS = {"status": "running", "concentration": {"value": 16, "unit": "mcg/mL"}}
ANOTHER = "set for 80 kg: for 40 kg it is 0.2 mcg/kg/min"

pytestmark = pytest.mark.django_db


def weighs(consult: Consult, kg: float) -> None:
    weight = {"value": kg, "unit": "kg", "basis": "measured"}
    cases.patch_case(consult.cast.osk, consult.uid, {"id": uuid4(), "patient": {"weight": weight}}, NOON)


def text_of(signed_in: Sign, who: str, path: str) -> Any:
    return read(signed_in(who).get(path).text).text


@pytest.mark.parametrize("place", ["", "change/{drip}/", "change/{drip}/request/"])
def test_the_crews_pages_say_it_beside_the_pumps_rate(place: str, consult: Consult, signed_in: Sign, at_noon: None):
    consult.give(*DRIP, **RUNS)
    path = f"/crew/{consult.uid}/{place.format(drip=consult.card['running'][0]['id'])}"
    before = text_of(signed_in, "osk", path)
    weighs(consult, 40)
    after = text_of(signed_in, "osk", path)

    assert ("(30 mL/h)" in before, "set for" in before) == (True, False)
    assert ("(30 mL/h)" in after, ANOTHER in after) == (True, True)


def test_the_physicians_page_says_it_too(consult: Consult, signed_in: Sign, at_noon: None):
    consult.give(*DRIP, **RUNS)
    weighs(consult, 40)

    assert ANOTHER in text_of(signed_in, "merrin", f"/cases/{consult.uid}/")


@pytest.mark.parametrize(
    ("who", "path"),
    [
        ("osk", "/crew/{case}/handover/"),
        ("osk", "/cases/{case}/handover/"),
        ("merrin", "/board/downtime/"),
        ("merrin", "/shift/"),
    ],
)
def test_the_sheets_for_the_next_team_say_it_with_the_pumps_rate(
    who: str, path: str, consult: Consult, signed_in: Sign, at_noon: None
):
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    consult.give(*DRIP, **RUNS)
    weighs(consult, 40)
    running = text_of(signed_in, who, path.format(case=consult.uid)).partition("Running")[2]

    assert (ANOTHER in running, ", 30 mL/h" in running) == (True, True)


def test_a_rate_begun_before_anybody_knew_the_weight_is_told(cast: Any, signed_in: Sign, at_noon: None):
    unweighed = open_consult(cast, {**ADULT, "weight": None})
    unweighed.give("norepinephrine-infusion", 8, "mcg/min", **RUNS)
    weighs(unweighed, 40)

    told = "set before the weight was known: for 40 kg it is 0.2 mcg/kg/min"
    assert told in text_of(signed_in, "osk", f"/crew/{unweighed.uid}/")
