"""A shift of made-up transports alarms seldom, and tells every danger that is written into it at once.

Goals (our choice): without dangers at most 2 alerts and 0.5 HIGH in an hour of a case, steady patients 0.5; each of
twenty dangers within 2 s of what shows it. The longer form prints its figures: ``python -m tests.simulation.shift``.
"""

from __future__ import annotations

import pytest

from tests.copying import replace
from tests.simulation.dangers import DANGERS
from tests.simulation.shift import RULES, STEADY, TELL_WITHIN_S, Shift, run, together
from tests.simulation.transports import MIXED

SEEDS = range(3)


@pytest.fixture(scope="module")
def dangerous() -> Shift:
    return run(8, 1, dangers=True)


def test_ordinary_transports_alarm_seldom() -> None:
    """Of three shifts together: in one of eight hours, two more make a quarter of an alarm an hour."""
    whole = together(run(8, seed) for seed in SEEDS)

    assert whole.hours > 20
    assert 0 < whole.rate() <= 2
    assert 0 < whole.rate("high") <= 0.5


def test_steady_patients_alarm_hardly_ever() -> None:
    whole = together(run(8, seed, kinds=STEADY) for seed in SEEDS)

    assert whole.rate() <= 0.5
    assert whole.rate("high") <= 0.2


@pytest.mark.xdist_group("dangers")  # of one shift
def test_each_of_twenty_dangers_is_told_within_two_seconds(dangerous: Shift) -> None:
    assert dangerous.delays.keys() == {each.name for each in DANGERS}
    assert len(DANGERS) == 20
    late = {name: delay for name, delay in dangerous.delays.items() if delay is None or delay > TELL_WITHIN_S}
    assert late == {}


@pytest.mark.xdist_group("dangers")
def test_most_alarms_of_a_dangerous_shift_ask_for_an_act(dangerous: Shift) -> None:
    """Judged by what was true on the body, not by what was typed."""
    assert dangerous.acted > 0.7
    assert dangerous.rate("high") > 20 * 0.7 / dangerous.hours


def test_a_danger_that_the_rules_do_not_know_is_missed() -> None:
    """With no limit of breathing and no grace but an hour's the shift says which dangers nobody is told of."""
    watch = replace(
        RULES.watch,
        vital_signs=tuple(each for each in RULES.watch.vital_signs if each.measurement != "rr"),
        request_alarm_s=3600,
    )
    found = run(8, 1, dangers=True, rules=replace(RULES, watch=watch))

    assert {name for name, delay in found.delays.items() if delay is None} == {
        "breathing 4",
        "a request that nobody answers",
    }


def test_one_seed_is_one_shift() -> None:
    one, again, other = (run(4, seed) for seed in (5, 5, 6))

    assert one.alarms == again.alarms
    assert one.hours == again.hours != other.hours


def test_every_danger_finds_its_transport_among_the_first_eight() -> None:
    names = {each.name for each in MIXED[:8]}

    assert all(not each.only or names & set(each.only) for each in DANGERS)
