"""Cardiac arrest on the physicians' pages: in words, since when, how many shocks and doses, and what follows it."""

from __future__ import annotations

import pytest

from consult import zone
from consult.chart.summary import in_words
from consult.render import vitals
from consult.render.card import card_html, sort_key
from consult.render.handover import handover
from consult.render.shift import line
from consult.render.slope import slope
from tests.conftest import NOON, Consult, later, open_consult
from tests.consult.test_arrest import done, phase, shock
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db
EPINEPHRINE = "epinephrine-arrest"


@pytest.mark.parametrize(
    ("phases", "said"),
    [
        ({}, None),
        ({0: "arrest"}, "Cardiac arrest 12:00 · 1 shock, last 200 J 12:02 · EPINEPHrine 1, last 12:03"),
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


def test_the_card_says_that_compressions_are_paused_and_the_timeline_from_when(
    consult: Consult, signed_in: Sign
) -> None:
    phase(consult, "arrest", later())
    done(consult, "cpr", later(seconds=20))
    done(consult, "cpr_pause", later(minutes=2))
    with zone.telling_of(later()):
        assert "no shock · compressions paused since 12:02" in read(card_html(consult.card)).text
        done(consult, "cpr", later(minutes=2, seconds=12))
        assert "no shock · 1 pause in compressions, 12 s in all" in read(card_html(consult.card)).text

    assert "Compressions paused" in read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).text


def test_the_case_page_says_it_too(signed_in: Sign, consult: Consult) -> None:
    phase(consult, "arrest", later())
    shock(consult, later(minutes=2), 120)
    text = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).text
    assert "1 shock, last 120 J" in text
    assert text.count("120 J") == 2  # on the timeline, too


def test_an_arrest_stands_before_every_alarm_in_the_look_of_a_high_one(consult: Consult) -> None:
    consult.vitals(at=later(), sbp=62, dbp=30)
    falling = consult.card
    assert sort_key(falling).startswith("0|0|"), "a high alert of a patient in danger"

    phase(consult, "arrest", later(minutes=1))
    card = read(card_html(consult.card)).one("card")

    assert sort_key(consult.card) < sort_key(falling)
    assert (card.attributes["data-alarm"], card.attributes["data-raised"]) == ("high", "1")
    first = card.every("alarm")[0]
    assert (first.attributes["data-priority"], first.attributes["data-state"]) == ("high", "raised")
    assert "ARREST since" in first.text
    assert "no shock" in first.text


def test_what_was_measured_before_the_arrest_is_old_and_not_judged(consult: Consult) -> None:
    for minutes, sbp in enumerate((62, 70, 78)):
        consult.vitals(at=later(minutes=minutes), sbp=sbp, dbp=40, hr=170)
    assert read(card_html(consult.card)).every("slope")
    phase(consult, "arrest", later(minutes=3))
    card = read(card_html(consult.card)).one("card")

    assert card.attributes["data-stale-at"] < later(minutes=3).isoformat(), "old since it was taken"
    assert "Before the arrest: " in card.one("state-old").text
    assert not card.every("slope")
    assert not any(cell.attributes.get("data-level") for cell in card.every("vital"))

    phase(consult, "pulse_back", later(minutes=4))
    card = read(card_html(consult.card)).one("card")
    assert "Before the arrest: " in card.one("state-old").text
    assert not any(cell.attributes.get("data-level") for cell in card.every("vital"))
    assert not card.every(data_alert="arrest")


@pytest.mark.parametrize(
    ("taken", "word", "behind"),
    [(0, "Before the arrest: critical", "before the arrest"), (2, "Taken in the arrest", "in the arrest")],
)
def test_once_the_pulse_is_back_an_earlier_value_is_told_as_such_until_the_first_set(
    consult: Consult, signed_in: Sign, taken: int, word: str, behind: str
) -> None:
    """On the card, the crew's page, the handover, the change of shift, and beside each form."""
    phase(consult, "arrest", later(minutes=1))
    phase(consult, "pulse_back", later(minutes=3))
    consult.vitals(at=later(minutes=taken), sbp=62, dbp=30, hr=170)
    calm = sort_key(consult.card)

    card = read(card_html(consult.card)).one("card")
    assert (card.one("state-old").text, card.attributes["data-pressure"]) == (word, "unknown")
    assert all(cell["stale_at"] == cell["taken_at"] for cell in vitals.cells(consult.card))
    assert vitals.now_text(consult.card)[0]["text"].endswith(f"HR 170 /min, {behind}")
    assert line(consult.card, None, NOON)["state"].endswith(behind)
    told = "".join(
        piece if isinstance(piece, str) else " "
        for part in handover(consult.card, NOON)
        for each in part["lines"]
        for piece in each
    )
    assert f"62/30 mmHg, {behind}" in told
    assert f"HR 170 /min, {behind}" in told
    crew = read(signed_in("osk").get(f"/crew/{consult.uid}/").text).text
    assert word in crew
    assert f"170 /min, {behind}" in crew

    consult.vitals(at=later(minutes=4), sbp=62, dbp=30, hr=170)
    card = read(card_html(consult.card)).one("card")
    assert (card.one("state-old").text, card.attributes["data-pressure"]) == ("Last: critical", "critical")
    assert not any(behind in each["text"] for each in vitals.now_text(consult.card))
    assert sort_key(consult.card) < calm, "what is critical now stands before"


def test_no_slope_is_reckoned_across_an_arrest(consult: Consult) -> None:
    """By hand: 60, 60 before; 80, 79, 78 after the pulse is back, one a minute: falling by 1, not rising."""
    for minutes in (0, 1):
        consult.vitals(at=later(minutes=minutes), map_reported=60)
    phase(consult, "arrest", later(minutes=2))
    phase(consult, "pulse_back", later(minutes=3))
    slopes = []
    for minutes, mean in ((4, 80), (5, 79), (6, 78)):
        consult.vitals(at=later(minutes=minutes), map_reported=mean)
        slopes.append((consult.card["map_slope"], slope(consult.card)))

    assert slopes[:2] == [(None, None)] * 2
    assert (slopes[2][0], slopes[2][1]["words"]) == (-1, "MAP falling 1 mmHg per min over 2 min")


def test_the_drawings_mark_arrests_and_shocks_and_say_so(consult: Consult, signed_in: Sign) -> None:
    """By hand on 40 min over 207 px: the band of 8 min is 41.4 px wide. No line joins what lies on its two sides."""
    for minutes in (0, 1, 11, 12):
        consult.vitals(at=later(minutes=minutes), map_reported=60)
    phase(consult, "arrest", later(minutes=2))
    shock(consult, later(minutes=4))
    shock(consult, later(minutes=6), outcome="failed")
    phase(consult, "pulse_back", later(minutes=10))
    card = read(card_html(consult.card))
    drawing = card.every("trend")[0]

    assert [each.attributes["width"] for each in drawing.every("tr-arrest")] == ["41.4"]
    assert [len(drawing.every(each)) for each in ("tr-shock", "tr-line")] == [1, 2]
    words = "cardiac arrest 12:02–12:10, shock 12:04"
    with zone.telling_of(later()):
        assert in_words(consult.card).endswith(words)
        assert card.every("chart-legend")
        page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)
    assert words.replace(",", "") in page.one(data_part="chart").one("chart-legend").text
    assert page.one(data_part="chart").one("chart").every("tr-arrest")


def test_an_arrest_that_lasts_is_drawn_up_to_the_newest_entry(consult: Consult) -> None:
    consult.vitals(at=later(), map_reported=60)
    phase(consult, "arrest", later(minutes=20))
    shock(consult, later(minutes=28))
    band = read(card_html(consult.card)).one("trend").one("tr-arrest").attributes
    assert float(str(band["x"])) + float(str(band["width"])) == 211  # the end of the axis
    assert band["width"] == "41.4"


def test_another_case_page_counts_and_names_it(signed_in: Sign, consult: Consult) -> None:
    other = open_consult(consult.cast)
    phase(consult, "arrest", later())
    page = read(signed_in("merrin").get(f"/cases/{other.uid}/").text)

    assert "HIGH 1" in page.text
    assert "cardiac arrest" in page.text


@pytest.mark.usefixtures("at_noon")
def test_the_crews_case_page_says_it_once_the_pulse_is_back_and_what_the_case_is(
    consult: Consult, signed_in: Sign
) -> None:
    def told() -> str:
        page = read(signed_in("osk").get(f"/crew/{consult.uid}/").text)
        return page.one("div", data_part="about").text

    assert told() == "Septic · weak, pale"
    phase(consult, "arrest", later())
    shock(consult, later(minutes=2))
    assert "arrest" not in told(), "the bar on top says it while it lasts"
    phase(consult, "pulse_back", later(minutes=9))

    assert "Pulse is back 12:09 after 9 min · 1 shock, last 200 J 12:02" in told()
