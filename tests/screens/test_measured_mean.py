"""A mean that was measured beside systolic and diastolic: each page says which of the two it shows."""

from __future__ import annotations

import pytest

from consult.render.card import card_html
from consult.render.handover import handover
from tests.conftest import NOON, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("taken", "number", "how"),
    [
        ({"map_reported": 58}, "58", "measured"),  # of a cuff the lower counts: contract, "Vitals"
        ({"map_reported": 64}, "62", "computed"),  # (86 + 2 x 50) / 3
        ({"map_reported": 64, "bp_method": "arterial"}, "64", "measured"),
        ({}, "62", ""),
    ],
)
def test_each_page_says_which_mean_it_shows(
    consult: Consult, signed_in: Sign, taken: dict[str, object], number: str, how: str
) -> None:
    consult.vitals(**{"at": NOON, "sbp": 86, "dbp": 50, "bp_method": "cuff", **taken})

    card = read(card_html(consult.card))
    assert card.one("map-value").text == number
    assert card.one("map-head").one("unit").text == f"mmHg {how}".strip()
    timeline = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).one(data_part="timeline").text
    assert (f"86/50 mmHg, MAP {number} {how}".strip()) in timeline
    crew = read(signed_in("osk").get(f"/crew/{consult.uid}/").text).one(data_part="now")
    assert crew.one("unit").text == f"mmHg {how}".strip()
    spoken = str(handover(consult.card, NOON))
    assert f"{f'MAP {number} {how}'.strip()}, goal 65 · 86/50 mmHg" in spoken
