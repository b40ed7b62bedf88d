"""The slope of the MAP in words: on card, case page and handover alike, and never against the readings beside it."""

from __future__ import annotations

from typing import Any

import pytest

from consult.render import card_html
from consult.render.handover import handover
from tests.conftest import NOON
from tests.screens import sample_board as board
from tests.screens.page_text import read
from tests.screens.sample_cards import point


def falling(*means: int | None, slope: float = -1.2) -> dict[str, Any]:
    """Kestrel 2 with these MAPs three minutes apart, the last just now; None is a pressure that was palpated."""
    points = [point(3 * (len(means) - 1 - place), 90, mean and 60) | {"map": mean} for place, mean in enumerate(means)]
    return {**board.kestrel(), "map_slope": slope, "trend": points, "doses": []}


STEADY_COURSES = {
    "falls on": (falling(70, 66, 63, 58), "−1.2/min", "MAP falling 1.2 mmHg per min over 9 min"),
    "falls, the last up": (
        falling(70, 66, 58, 64),
        "−1.2/minlast +6",
        "MAP falling 1.2 mmHg per min over 9 min, last reading up 6",
    ),
    "rises, the last down": (
        falling(60, 66, 70, 67, slope=1),
        "+1/minlast −3",
        "MAP rising 1 mmHg per min over 9 min, last reading down 3",
    ),
    "falls, the last as the one before": (
        falling(70, 66, 60, 60),
        "−1.2/min",
        "MAP falling 1.2 mmHg per min over 9 min",
    ),
    "steady": (falling(60, 61, 60, 62, slope=0.04), "0/min", "MAP steady over 9 min"),
    "steady, then a jump": (
        falling(60, 61, 60, 72, slope=0.04),
        "0/minlast +12",
        "MAP steady over 9 min, last reading up 12",
    ),
    "only the readings of the slope count": (
        falling(99, 98, 70, 66, 63, 58),
        "−1.2/min",
        "MAP falling 1.2 mmHg per min over 9 min",
    ),
}


@pytest.mark.parametrize(("card", "shown", "words"), STEADY_COURSES.values(), ids=STEADY_COURSES)
def test_the_slope_says_where_the_newest_reading_goes_another_way(card: dict[str, Any], shown: str, words: str):
    assert read(card_html(card)).one("slope").text.replace(" ", "") == f"{shown}{words}".replace(" ", "")
    said = ["".join(map(str, line)) for part in handover(card, NOON) for line in part["lines"]]
    assert any(line.split(", below goal")[0] == words for line in said)


def test_no_slope_stands_beside_a_newest_pressure_that_it_knows_nothing_of():
    assert not read(card_html(falling(60, 64, 69, None, slope=1.5))).every("slope")
