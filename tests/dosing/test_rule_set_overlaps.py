"""Two bands that state one limit for the same patients: a slip where neither is general or special, else meant so.

The rule is the project's own; the numbers are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount
from dosing.load.overlaps import overlap_faults
from dosing.load.reader import load_shipped
from dosing.rules.parts import Band
from tests.copying import replace
from tests.dosing.test_rule_set_limit_faults import PUSH, band

CHILD = {"who": "child"}


def repr_of(where: dict[str, Any]) -> str:
    """The same in each process, in which sets have orders of their own."""
    return str({key: sorted(value) if isinstance(value, set) else value for key, value in where.items()})


def most(said: str, **where: Any) -> Band:
    named = {key: frozenset(value) if isinstance(value, set) else value for key, value in where.items()}
    return band({"most": said}, **named)


def faults(*bands: Band) -> list[str]:
    return [entry for entry, _ in overlap_faults(replace(PUSH, bands=bands))]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({**CHILD, "under_days": 2190}, {**CHILD, "from_days": 1825}),
        ({**CHILD, "from_days": 28, "under_days": 365}, {**CHILD, "from_days": 180, "under_days": 2190}),
        ({"from_kg": 20, "under_kg": 40}, {"under_kg": 30}),
        ({"from_weeks": 20}, {"under_weeks": 37}),
        ({"impressions": {"septic", "neurogenic"}}, {"impressions": {"neurogenic", "obstructive"}}),
        ({"routes": {"IV", "IO"}}, {"routes": {"IO", "IM"}}),
        ({"indications": {"pain", "seizure"}}, {"indications": {"seizure", "sedation"}}),
        ({"history": {"maoi", "dialysis"}}, {"history": {"dialysis", "transplant"}}),
        ({"under_kg": 30, "from_days": 28}, {"under_kg": 20, "from_days": 10}),
        ({"under_kg": 1, "from_days": 28}, {"under_kg": 0.8, "from_days": 10}),
    ],
    ids=repr_of,
)
def test_an_edge_that_passes_the_other_or_a_word_in_two_lists_is_a_slip(
    one: dict[str, Any], other: dict[str, Any]
) -> None:
    assert faults(most("10 mcg", **one), most("20 mcg", **other)) == [".bands.1.most"]
    assert faults(most("10 mcg", **other), most("20 mcg", **one)) == [".bands.1.most"]
    assert faults(most("10 mcg", **one), most("10 mcg", **other)) == []


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ({}, CHILD),
        (CHILD, {**CHILD, "under_days": 365}),
        ({**CHILD, "under_days": 2190}, {**CHILD, "under_days": 365}),
        ({**CHILD, "under_days": 2190}, {**CHILD, "from_days": 2190}),
        ({"impressions": {"septic", "neurogenic"}}, {"impressions": {"septic"}}),
        ({"impressions": {"septic"}}, {"impressions": {"neurogenic"}}),
        (CHILD, {"impressions": {"hemorrhagic"}}),
        ({**CHILD, "under_days": 2190}, {**CHILD, "under_kg": 10}),
        ({"routes": {"IN"}}, {"pressure_low": True}),
        (CHILD, CHILD),
    ],
    ids=repr_of,
)
def test_the_general_then_the_special_the_apart_and_what_restricts_by_something_else_are_meant_so(
    first: dict[str, Any], then: dict[str, Any]
) -> None:
    assert faults(most("10 mcg", **first), most("20 mcg", **then)) == []


def test_a_band_after_both_may_say_what_holds_for_those_whom_they_share() -> None:
    young, older = most("10 mcg", **CHILD, under_days=2190), most("20 mcg", **CHILD, from_days=1825)
    between = most("15 mcg", **CHILD, from_days=1825, under_days=2190)

    assert faults(young, older, between) == []
    assert faults(young, older, most("15 mcg", **CHILD, from_days=1900, under_days=2190)) == [".bands.1.most"]
    assert faults(between, young, older) == [".bands.2.most"]


def test_only_a_limit_that_both_state_can_be_one() -> None:
    young = band({"most": "10 mcg", "hard": "5 mcg/kg"}, who="child", under_days=2190)
    older = band({"least": "2 mcg", "hard": "6 mcg/kg"}, who="child", from_days=1825)

    assert faults(young, older) == [".bands.1.hard"]


@pytest.mark.parametrize("end", ["at_most", "at_least"])
def test_limits_that_differ_in_their_ends_alone_differ(end: str) -> None:
    young, older, like_it = (
        replace(each, hard=replace(each.hard, **{end: Amount(most_mcg, "mcg")}))
        for each, most_mcg in (
            (band({"hard": "5 mcg/kg"}, who="child", under_days=2190), 100),
            (band({"hard": "5 mcg/kg"}, who="child", from_days=1825), 120),
            (band({"hard": "5 mcg/kg"}, who="child", from_days=1825), 100),
        )
    )

    assert faults(young, older) == [".bands.1.hard"]
    assert faults(young, like_it) == []


def test_it_is_told_by_what_they_meet() -> None:
    pair = (most("10 mcg", **CHILD, under_days=2190), most("20 mcg", **CHILD, from_days=1825))
    ((_, words),) = overlap_faults(replace(PUSH, bands=pair))

    assert words.startswith("most is another in band 1, and some patients fit both by days:")


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
def test_the_shipped_rules_have_none(name: str) -> None:
    assert [each for treatment in load_shipped(name).treatments.values() for each in overlap_faults(treatment)] == []
