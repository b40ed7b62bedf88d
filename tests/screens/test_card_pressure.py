"""What a card says of a pressure that is too high, of what came after a dose, and of a sign that is older."""

from __future__ import annotations

from typing import Any

import pytest

from consult import zone
from consult.actions import alerts
from consult.chart.course import moment
from consult.render import card_html
from tests.conftest import Consult, later
from tests.screens import sample_board as board
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read
from tests.screens.sample_cards import at, response


def shown(card: dict[str, Any]) -> Element:
    with zone.telling_of(moment(card["opened_at"])):
        return read(card_html(card)).one("article")


@pytest.mark.parametrize(
    ("above", "state", "word"),
    [
        ("ceiling", "above_goal", "Above goal"),
        ("usual", "above_range", "High: MAP above 100"),
        (None, "at_goal", "At goal"),
    ],
)
def test_a_pressure_that_is_too_high_has_a_word_and_a_shape_of_its_own(above: str | None, state: str, word: str):
    card = board.plover()
    card["vitals"]["derived"]["above"] = above

    drawn = shown(card)

    assert drawn.attributes["data-pressure"] == state
    assert drawn.one("state-fresh").text == word
    assert len(drawn.one("state-word").every("path")) == (1 if above else 0), "an arrow up, not the dot at goal"


def test_a_pressure_in_the_usual_range_is_said_to_be_at_goal_too():
    card = board.plover()
    card["vitals"]["derived"]["pressure"]["state"] = "normal_range"

    assert shown(card).one("state-fresh").text == "At goal 80–100"


def test_a_sign_older_than_the_pressure_tells_its_age_as_it_is_now():
    card = board.kestrel()
    told, taken = "lactate 4.2 mmol/L, 38 min before", at(38)
    card["vitals"]["derived"] |= {"signs": [told], "signs_taken": {told: ["lactate 4.2 mmol/L", taken]}}

    sign = shown(card).one("signs").one("sign")

    assert sign.text.startswith("lactate 4.2 mmol/L, at ")
    assert sign.one("time").attributes["data-age"] == taken


@pytest.mark.parametrize(("highest", "told"), [(132, "MAP 64 → 98 +34, highest 132"), (None, "MAP 64 → 98 +34")])
def test_the_highest_pressure_after_a_dose_is_told_besides_where_it_stands_out(highest: float | None, told: str):
    card = board.kestrel()
    card["responses"][2] = response("k3", 64, 98, map_highest=highest)

    assert shown(card).every("given")[-1].one("answer").text.replace(" ,", ",") == told


def test_what_did_not_change_is_no_matter_of_overlapping():
    card = board.kestrel()
    card["responses"][2] = response("k3", 64, 64, shared=True, text="MAP 64 before, 64 after: little change")

    answer = shown(card).every("given")[-1].one("answer")
    assert answer.text == "MAP 64 → 64 0 little change"
    assert "data-shared" not in answer.one("answer-change").attributes


def test_an_old_pressure_is_told_as_the_last_one_and_its_age_once():
    pressure = shown(board.plover()).one("pressure")

    assert pressure.one("state-old").text == "Last: at goal"
    assert [each.text for each in pressure.every("time")] == ["03:05"]


@pytest.mark.django_db
def test_what_is_low_again_too_soon_to_alarm_is_told_quietly_on_both_sides(
    consult: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
):
    """MAP 64 twice alarms, 77 ends it at 12:04, 64 twice is no news for the ten minutes of the rules: till 12:14."""
    told = "low again since 12:06: alarms at 12:14 if it stays low"
    paths = [("osk", f"/crew/{consult.uid}/"), ("osk", f"/crew/{consult.uid}/give/")]
    paths += [("merrin", f"/cases/{consult.uid}/"), ("merrin", "/board/")]
    for minutes, sbp, dbp in ((0, 84, 54), (2, 84, 54), (4, 100, 66), (6, 84, 54), (8, 84, 54), (14, 0, 0)):
        monkeypatch.setattr("consult.clock.now", lambda minutes=minutes: later(minutes=minutes))
        if sbp:
            consult.vitals(sbp=sbp, dbp=dbp, at=later(minutes=minutes))
        else:
            alerts.sweep(later(minutes=minutes))  # nobody has entered anything since
        low = [each for each in consult.card["alerts"] if each["kind"] == "low_pressure"]
        assert bool(low) == (minutes in (2, 14)), minutes
        for who, path in paths:
            assert (told in read(signed_in(who).get(path).text).text) == (minutes == 8), (minutes, path)
