"""Times as an agency's people read them, around midnight and where clocks are put forward and back.

In Denver clocks go forward on 10 March 2030 at 09:00 UTC and back on 3 November at 08:00 UTC (IANA time zone database).
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from consult import clock, zone
from consult.chart.svg import DAY, Times

DENVER = "America/Denver"
CLOCKS = [
    ("UTC", "2030-01-05 12:00:09", "12:00:09"),
    (DENVER, "2030-01-05 12:00:09", "05:00:09"),
    (DENVER, "2030-03-10 08:59:59", "01:59:59"),
    (DENVER, "2030-03-10 09:00:00", "03:00:00"),
    (DENVER, "2030-11-03 06:59:59", "00:59:59"),
    (DENVER, "2030-11-03 07:00:00", "01:00:00 MDT"),
    (DENVER, "2030-11-03 08:00:00", "01:00:00 MST"),
    (DENVER, "2030-11-03 09:00:00", "02:00:00"),
    ("Asia/Kathmandu", "2030-01-05 12:00:00", "17:45:00"),
    ("Australia/Lord_Howe", "2030-04-06 14:45:00", "01:45:00 UTC+11"),
]
DAYS = [
    (DENVER, "2030-01-05 07:00:00", "2030-01-05 12:00:00", "00:00:00"),
    (DENVER, "2030-01-05 06:59:59", "2030-01-05 12:00:00", "4 Jan 23:59:59"),
    (DENVER, "2030-01-05 06:59:59", "2030-01-05 06:59:59", "23:59:59"),
    ("UTC", "2029-01-05 12:00:00", "2030-01-05 12:00:00", "5 Jan 12:00:00"),
]
KEPT = [
    ("No data from unit since 12:04 UTC", "2030-01-05 12:09", "No data from unit since 05:04"),
    ("expired at 12:10:09 UTC: not read back", "2030-01-05 12:11", "expired at 05:10:09: not read back"),
    ("lasts to 00:20 UTC, arrival 00:25 UTC", "2030-07-01 23:50", "lasts to 18:20, arrival 18:25"),
    ("since 23:58 UTC", "2030-03-11 00:03", "since 17:58"),
    ("since 23:58 UTC", "2030-03-10 00:03", "since 16:58"),
    ("since 08:58 UTC", "2030-03-10 09:03", "since 01:58"),
    ("since 07:58 UTC", "2030-11-03 08:03", "since 01:58 MDT"),
    ("MAP 54 at 12:04, 45:10 UTC, 112:04 UTC", "2030-01-05 12:09", "MAP 54 at 12:04, 45:10 UTC, 112:04 UTC"),
]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(("where", "at", "expected"), CLOCKS)
def test_a_clock_time_is_the_agencys_and_names_its_zone_where_the_clock_shows_it_twice(where, at, expected):
    with zone.of(where):
        assert zone.clock_seconds(utc(at)) == expected
        assert zone.clock(utc(at)) == expected[:5] + expected[8:]


@pytest.mark.parametrize(("where", "at", "now", "expected"), DAYS)
def test_a_moment_of_another_day_names_its_day(where, at, now, expected, monkeypatch):
    with zone.of(where):
        with zone.telling_of(utc(now)):
            assert zone.moment_seconds(utc(at)) == expected
        monkeypatch.setattr(clock, "now", lambda: utc(now))
        assert zone.moment(utc(at)) == expected[:-3]


def test_the_day_changes_at_the_agencys_midnight():
    with zone.of(DENVER):
        assert [zone.date(utc(at)) for at in ("2030-01-01 06:59", "2030-01-01 07:00")] == ["31 Dec 2029", "1 Jan 2030"]
        assert zone.day(utc("2030-07-01 05:59")) == "30 Jun"


@pytest.mark.parametrize(
    ("where", "moments", "expected"),
    [
        ("UTC", ["2030-01-05 12:00"], "UTC"),
        (DENVER, ["2030-01-05 12:00"], "MST (UTC−7)"),
        (DENVER, ["2030-11-03 09:00", "2030-11-03 07:00"], "MDT (UTC−6), MST (UTC−7)"),
        ("Europe/Dublin", ["2030-07-01 12:00"], "IST (UTC+1)"),
        ("America/Sao_Paulo", ["2030-01-05 12:00"], "UTC−3"),
        ("Asia/Kathmandu", ["2030-01-05 12:00"], "UTC+5:45"),
    ],
)
def test_the_zone_has_the_name_it_had_then(where, moments, expected):
    with zone.of(where):
        assert zone.names(map(utc, moments)) == expected


@pytest.mark.parametrize(("text", "near", "expected"), KEPT)
def test_a_kept_text_is_read_out_in_the_agencys_time(text, near, expected):
    with zone.of(DENVER):
        assert zone.here(text, utc(near)) == expected


def test_what_is_kept_says_utc_wherever_it_is_written():
    at = datetime.fromisoformat("2030-01-05T05:04:09-07:00")
    with zone.of(DENVER):
        assert (clock.utc(at), clock.utc_seconds(at)) == ("12:04 UTC", "12:04:09 UTC")


@pytest.mark.parametrize(
    ("start", "end", "minutes", "expected"),
    [
        ("2030-03-10 08:25", "2030-03-10 09:45", 30, ["01:30", "03:00", "03:30"]),
        ("2030-11-03 07:20", "2030-11-03 08:40", 30, ["01:30 MDT", "01:00 MST", "01:30 MST"]),
        ("2030-11-03 16:55", "2030-11-03 17:25", 10, ["10:00", "10:10", "10:20"]),
        ("2030-03-10 07:30", "2030-03-10 13:00", 120, ["04:00", "06:00"]),
        ("2030-03-09 06:50", "2030-03-09 07:20", 15, ["00:00", "00:15"]),
    ],
)
def test_a_chart_is_marked_at_whole_clock_times_also_where_the_clock_is_put(start, end, minutes, expected):
    with zone.of(DENVER):
        ticks = Times(utc(start), utc(end), 0, 100).ticks(minutes)
        assert [zone.clock(tick) for tick in ticks] == expected


def test_days_on_a_chart_begin_at_midnight_also_after_the_clock_was_put():
    with zone.of(DENVER):
        ticks = Times(utc("2030-03-09 08:00"), utc("2030-03-12 08:00"), 0, 100).ticks(DAY)
        assert [tick.astimezone(UTC) for tick in ticks] == [
            utc("2030-03-10 07:00"),
            utc("2030-03-11 06:00"),
            utc("2030-03-12 06:00"),
        ]
