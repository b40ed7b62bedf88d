"""Cardiac arrest on the physicians' pages: in words, since when, how many shocks and doses, and what follows it."""

from __future__ import annotations

import pytest

from consult import zone
from consult.render.card import card_html
from tests.conftest import Consult, later
from tests.consult.test_arrest import phase, shock
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db
EPINEPHRINE = "epinephrine-arrest"


@pytest.mark.parametrize(
    ("phases", "said"),
    [
        ({}, None),
        ({0: "arrest"}, "Cardiac arrest 12:00 1 shock, last 200 J 12:02 · EPINEPHrine 1, last 12:03"),
        (
            {0: "arrest", 9: "pulse_back"},
            "Pulse is back 12:09 after 9 min · 1 shock, last 200 J 12:02 · EPINEPHrine 1, last 12:03",
        ),
        (
            {0: "arrest", 30: "ended"},
            "Resuscitation ended 12:30 after 30 min · 1 shock, last 200 J 12:02 · EPINEPHrine 1, last 12:03",
        ),
    ],
)
def test_the_card_says_it_with_shocks_and_doses(consult: Consult, phases, said) -> None:
    for minutes, name in phases.items():
        phase(consult, name, later(minutes=minutes))
    shock(consult, later(minutes=2))
    consult.give(EPINEPHRINE, 1, "mg", at=later(minutes=3))
    with zone.telling_of(later()):
        text = read(card_html(consult.card)).text
    words = ("Cardiac arrest 12", "Pulse is back", "Resuscitation ended")
    assert (said in text) if said else not any(word in text for word in words)


def test_the_case_page_says_it_too(signed_in: Sign, consult: Consult) -> None:
    phase(consult, "arrest", later())
    shock(consult, later(minutes=2), 120)
    text = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).text
    assert "1 shock, last 120 J" in text
    assert text.count("120 J") == 2  # on the timeline, too
