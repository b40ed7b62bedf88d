"""The drawings: what is above, below and between; nothing drawn that was not measured; all of it in words as well."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from consult import zone
from consult.chart import svg
from consult.chart.case import NARROW, case_chart
from consult.chart.course import course, silences, stretches
from consult.chart.pressure import below
from consult.chart.summary import in_words, rows, shown_map
from consult.chart.trend import small_trend, trend
from tests.screens import sample_board as board
from tests.screens import sample_states as states
from tests.screens.page_text import Element, read
from tests.screens.sample_cards import NOW, at, dose, point


def drawn(html: str) -> Element:
    return read(html).one("svg")


def heights(drawing: Element, style: str) -> list[tuple[float, float]]:
    """Upper and lower end of each vertical line of a class."""
    found = [re.match(r"M\S+ (\S+)V(\S+)", path.attributes["d"] or "") for path in drawing.every(style)]
    return [(float(match[1]), float(match[2])) for match in found if match]


# ---- scales


@pytest.mark.parametrize(
    ("values", "least", "low", "high"),
    [([100, 40], 60, 40, 100), ([70, 60], 60, 35, 95), ([], 60, -30, 30), ([97, 98], 8, 92, 102)],
    ids=["wide enough", "widened around its middle", "nothing known", "a small step"],
)
def test_an_axis_is_never_lower_than_its_least_height(values: list[float], least: float, low: float, high: float):
    axis = svg.spread(values, least, 5 if least == 60 else 2, 0, 100)

    assert (axis.low, axis.high) == (low, high)
    assert axis.y(axis.high) == 0
    assert axis.y(axis.low) == 100


def test_time_runs_from_left_to_right_and_is_held_at_the_edges():
    times = svg.Times(NOW - timedelta(minutes=40), NOW, 0, 400)

    assert times.x(NOW - timedelta(minutes=10)) == pytest.approx(300)
    assert times.x(NOW - timedelta(hours=2)) == 0
    assert [zone.clock(tick) for tick in times.ticks(10)] == ["02:40", "02:50", "03:00", "03:10"]


# ---- pressures


def test_every_set_with_both_pressures_is_a_bar_from_systolic_to_diastolic():
    bars = heights(drawn(trend(board.kestrel())), "tr-bar")

    assert len(bars) == 11
    assert all(top < bottom for top, bottom in bars), "systolic above diastolic"


def test_a_palpated_systolic_is_a_ring_and_no_bar_and_breaks_the_line():
    drawing = drawn(trend(states.lapwing()))

    assert len(drawing.every("tr-palp")) == 1
    assert len(drawing.every("tr-bar")) == 1
    assert len(drawing.every("tr-tick")) == 1, "no MAP is drawn where none is known"


def test_an_unobtainable_pressure_is_a_cross_at_the_bottom():
    assert len(drawn(trend(states.elk())).every("tr-none")) == 1


def test_a_long_silence_breaks_the_line_and_says_so():
    card = board.marten()
    card["trend"] = board.trend((30, 96, 50), (28, 95, 50), (8, 90, 46), (2, 88, 44))

    assert [len(run) for run in stretches(course(card).points)] == [2, 2]
    assert [later - earlier for earlier, later in silences(course(card).points)] == [timedelta(minutes=20)]
    assert "no reading" in drawn(trend(card)).text


@pytest.mark.parametrize(
    ("left", "right", "corners"),
    [
        ((0, 20), (10, 20), [(0, 10), (0, 20), (10, 20), (10, 10)]),
        ((0, 5), (10, 5), []),
        ((0, 0), (10, 20), [(5, 10), (5, 10), (10, 20), (10, 10)]),
        ((0, 20), (10, 0), [(0, 10), (0, 20), (5, 10), (5, 10)]),
    ],
    ids=["under the goal", "over the goal", "falling through it", "rising through it"],
)
def test_the_shortfall_is_hatched_only_where_the_line_is_under_the_goal(left: Any, right: Any, corners: Any):
    assert below(left, right, 10) == corners


def test_where_the_systolic_judges_the_line_and_the_goal_are_systolic():
    shown = course(board.wren())

    assert shown.measure == "sbp"
    assert shown.goal == 80
    assert [point.judged for point in shown.points] == [84, 78, 72, 72, 74, 76]


class TestAGoalThatWasSetOnTheWay:
    """Line and shading begin where the goal does: before it, none of them was aimed at or missed."""

    def drawing(self, since: str | None) -> Element:
        card = board.kestrel()
        return drawn(trend({**card, "goal": {**card["goal"], "since": since}}))

    def goal_line(self, since: str | None) -> tuple[float, float]:
        found = re.match(r"M(\S+) \S+H(\S+)", self.drawing(since).one("tr-goal").attributes["d"] or "")
        assert found
        return float(found[1]), float(found[2])

    def test_its_line_begins_there(self):
        start, end = self.goal_line(None)

        assert self.goal_line(at(20))[0] == pytest.approx((start + end) / 2, abs=5)
        assert self.goal_line(at(20))[1] == end
        assert self.goal_line(at(90)) == (start, end)

    def test_nothing_before_it_is_shaded_and_a_piece_under_way_is_cut(self):
        start = self.goal_line(at(18))[0]
        pieces = [
            [float(x) for x in re.findall(r"[ML](\S+) ", str(each.attributes["d"]))]
            for each in self.drawing(at(18)).every("tr-short")
        ]

        assert len(self.drawing(None).every("tr-short")) > len(pieces) > 0
        assert min(min(piece) for piece in pieces) == pytest.approx(start, abs=0.1)

    def test_what_lies_before_it_is_held_against_the_goal_of_then(self):
        """The line steps, and the shading with it: at 54 to 60 mmHg all is short of 65, nothing of 50."""
        card = board.kestrel()
        held = [
            {"since": None, "map_floor": 65, "sbp_floor": None},
            {"since": at(18), "map_floor": 50, "sbp_floor": None},
        ]
        card |= {"goals": held, "goal": {**card["goal"], "floor": 50, "since": at(18)}}
        page = drawn(trend(card))
        first, second = (re.match(r"M(\S+) (\S+)H(\S+)", str(each.attributes["d"])) for each in page.every("tr-goal"))
        assert first
        assert second
        assert first[3] == second[1], "one begins where the other ends"
        assert float(first[2]) < float(second[2]), "65 stands above 50"
        ends = [
            float(x) for each in page.every("tr-short") for x in re.findall(r"[ML](\S+) ", str(each.attributes["d"]))
        ]
        assert ends
        assert max(ends) == pytest.approx(float(first[3]), abs=0.1)

    def test_a_goal_of_the_other_measure_leaves_the_line_whole(self):
        card = board.wren()
        judged_by_systolic = {**card, "goal": {"measure": "map", "floor": 65, "ceiling": None, "since": at(5)}}

        assert course(judged_by_systolic).since is None


def test_breathing_has_a_lane_and_stands_in_the_cursor_text_where_it_was_counted():
    card = board.kestrel()
    assert "Breathing" not in drawn(case_chart(card, 40)).text
    card["trend"][-1]["rr"] = 28

    drawing = drawn(case_chart(card, 40))

    assert "Breathing" in [name.text for name in drawing.every("lane-name")]
    assert "RR 28 /min" in json.loads(drawing.attributes["data-stops"] or "[]")[-1]["text"]


# ---- doses and requests


def test_marks_carry_the_numbers_of_the_list_and_a_request_is_a_diamond():
    drawing = drawn(trend(board.kestrel()))

    assert [mark.text for mark in drawing.every("rx-no")] == ["1", "2", "3"]
    assert len(drawing.every("rx-span")) == 2
    assert len(drawing.every("rx-pin")) == 1
    assert len(drawing.every("rx-ask")) == 1


@pytest.mark.parametrize(
    ("seconds", "texts"),
    [
        ((0,), ["1"]),
        ((0, 0), ["1, 2"]),
        ((0, 20, 40), ["1–3"]),
        ((0, 1200), ["1", "2"]),
        ((0, 45, 90), ["1–3"]),  # each lies over the next one
        ((0, 0, 1200, 1200), ["1, 2", "3, 4"]),
    ],
)
def test_doses_at_one_time_share_one_mark_with_all_their_numbers(seconds: tuple[int, ...], texts: list[str]):
    card = board.kestrel()
    first = card["doses"][2]
    begun = datetime.fromisoformat(first["given_at"]) - timedelta(minutes=20)
    more = [{**first, "given_at": (begun + timedelta(seconds=each)).isoformat()} for each in seconds]
    card["doses"] = more
    drawing = drawn(case_chart(card, 40))
    ends = sorted(
        (float(pin.attributes["x"] or 0), float(pin.attributes["width"] or 0)) for pin in drawing.every("rx-pin")
    )

    assert [mark.text for mark in drawing.every("rx-no-on")] == texts
    assert len(drawing.every("rx-drop")) == len(seconds)
    assert all(x + width <= after for (x, width), (after, _) in pairwise(ends))


@pytest.mark.parametrize(
    ("minutes", "texts"), [((20, 20), ["1", "2"]), ((20, 20, 20), ["1, 3", "2"]), ((20, 20, 8), ["1", "3", "2"])]
)
def test_what_runs_from_one_time_on_draws_no_number_over_another(minutes: tuple[int, ...], texts: list[str]):
    """Two rows of boxes: the first and the third share one, so their numbers stand beside each other."""
    card = board.kestrel()
    end = course(card).end
    begun = [(end - timedelta(minutes=each)).isoformat() for each in minutes]
    card["doses"] = [{**card["doses"][2], "status": "running", "given_at": each, "ended_at": None} for each in begun]

    assert [mark.text for mark in drawn(case_chart(card, 40)).every("rx-no")] == texts


def test_what_runs_reaches_the_end_of_the_axis():
    running = course(board.wren()).given[-1]

    assert running.running
    assert running.until == course(board.wren()).end


def test_a_dose_in_error_is_not_drawn():
    card = board.kestrel()
    card["doses"][2]["in_error"] = True

    assert drawn(trend(card)).every("rx-pin") == []


# ---- both drawings


@pytest.mark.parametrize(
    "draw", [trend, small_trend, lambda card: case_chart(card, 40)], ids=["trend", "small", "case"]
)
@pytest.mark.parametrize("card", [*board.board(), *states.states()], ids=lambda card: card["unit"]["call_sign"])
def test_every_drawing_is_whole_and_has_a_text(draw: Any, card: dict[str, Any]):
    drawing = drawn(draw(card))

    assert drawing.attributes["role"] == "img"
    assert (drawing.attributes["aria-label"] or "").startswith(("MAP", "Systolic"))
    assert "nan" not in draw(card)
    assert " style=" not in draw(card)


def test_pattern_names_differ_between_the_drawings_of_one_page():
    page = "".join(draw for card in board.board() for draw in (trend(card), small_trend(card)))
    names = re.findall(r'id="([^"]+)"', page)

    assert len(names) == len(set(names))


def test_the_case_chart_has_a_lane_for_each_measurement_that_was_taken():
    names = [lane.text for lane in drawn(case_chart(board.kestrel(), None)).every("lane-name")]

    assert names == ["Pressure", "Heart rate", "SpO2"]


def test_the_cursor_reads_whole_sets_each_value_with_its_unit():
    stops = json.loads(drawn(case_chart(board.kestrel(), 40)).attributes["data-stops"] or "")

    assert stops[-1]["at"] == "03:13:14"
    assert stops[-1]["text"] == "MAP 54 mmHg · 74/44 mmHg · HR 128 /min · SpO2 94 %"
    assert [stop["x"] for stop in stops] == sorted(stop["x"] for stop in stops)


def test_the_narrow_drawing_fits_a_phone():
    assert drawn(case_chart(board.kestrel(), None, NARROW)).attributes["viewbox"].startswith("0 0 358 ")  # type: ignore[union-attr]


def test_a_shorter_range_holds_fewer_sets():
    def sets(minutes: float | None) -> int:
        return len(drawn(case_chart(board.kestrel(), minutes)).every("tr-bar"))

    assert (sets(15), sets(40), sets(None)) == (5, 11, 11)


# ---- in words


@pytest.mark.parametrize(
    ("minutes", "label"),
    [(24 * 60, r"\d\d:\d\d"), (3 * 365 * 24 * 60, r"\d+ \w\w\w"), (130 * 365 * 24 * 60, r"\d{4}")],
    ids=["a day", "three years", "back to 1900"],
)
def test_one_reading_long_ago_makes_the_axis_no_heavier(minutes: float, label: str):
    card = {**board.kestrel(), "trend": [point(minutes, 90, 60), point(5, 88, 50)]}

    drawing = case_chart(card, None)
    clocks = [tick.text for tick in drawn(drawing).every("tr-clock")]

    assert len(drawing) < 20_000
    assert 5 <= len(clocks) <= 13
    assert all(re.fullmatch(label, clock) for clock in clocks)


def test_the_text_names_first_last_lowest_and_goal():
    assert in_words(board.kestrel()) == ("MAP from 61 at 02:36 to 54 mmHg at 03:13, lowest 54 at 03:13, goal 65 mmHg")


@pytest.mark.parametrize(
    ("value", "goal", "text"), [(64.67, 65, "64.7"), (65.2, 65, "65"), (64.4, 65, "64"), (54, None, "54")]
)
def test_a_number_keeps_a_decimal_where_rounding_would_cross_the_goal(value: float, goal: float | None, text: str):
    assert shown_map(value, goal) == text


def test_the_table_holds_every_set_newest_first_and_nothing_that_was_not_taken():
    table = rows(states.lapwing())

    assert [row["pressure"] for row in table] == ["92/P", "98/52"]
    assert table[0]["map"] == ""
    assert table[0]["at"] == "03:13:20"


def test_a_case_without_readings_still_draws_what_was_given():
    card = {**states.vole(), "doses": [dose("v1", 2, "epinephrine-im", "EPINEPHrine IM", "0.5 mg")], "opened_at": at(3)}

    assert [mark.text for mark in drawn(case_chart(card, None)).every("rx-no")] == ["1"]


def test_where_readings_stand_close_all_bars_are_thin_so_that_none_hides_another_and_all_are_alike():
    card = board.marten()
    card["trend"] = board.trend((20, 110, 60), (3, 110, 60), (2.9, 108, 60), (2.8, 109, 60))

    thin = [bar.has_class("tr-thin") for bar in drawn(trend(card)).every("tr-bar")]

    assert thin == [True, True, True, True]


def test_no_axis_shows_what_cannot_be():
    """Saturation up to 100 %, rates from 0: by what they are."""
    card = board.marten()
    for entry, spo2, rr in zip(card["trend"], (99, 100) * 60, (2, 1) * 60, strict=False):
        entry.update(spo2=spo2, rr=rr)

    shown = [mark.text for mark in drawn(case_chart(card, None)).every("tr-axis")]

    assert "100" in shown
    assert not {"101", "102", "104"} & set(shown)
    assert not [text for text in shown if text.startswith(("-", "−"))]
