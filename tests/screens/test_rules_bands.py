"""Rows of the rules page that hold for nobody: bands after theirs decide for all whom they fit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consult.screens.rules_bands import replaced
from consult.screens.rules_treatments import treatment_rows
from consult.screens.rules_words import BOUNDS, OTHERS
from dosing.check.bands import DoseLimits, Person
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.load.reader import load_shipped
from dosing.rules.words import BLEEDING_CAUSES, IMPRESSIONS

SETS = {name: load_shipped(name) for name in ("demonstration", "conservative")}
NAMES = [name for name, _ in (*BOUNDS, *OTHERS)]
weights = st.none() | st.floats(0.5, 150).map(lambda kg: units.quantity(Amount(kg, "kg")))
people = st.builds(
    Person,
    adult=st.just(False),
    days=st.floats(0, 6500),
    weight=weights,
    impression=st.sampled_from(sorted(IMPRESSIONS)),
    pressure_low=st.none() | st.booleans(),
    bleeding_cause=st.none() | st.sampled_from(sorted(BLEEDING_CAUSES)),
) | st.builds(
    Person,
    adult=st.just(True),
    days=st.none() | st.floats(6575, 40000),
    weight=weights,
    impression=st.sampled_from(sorted(IMPRESSIONS)),
)


@given(people)
def test_what_is_marked_decides_for_nobody(person: Person) -> None:
    for rules in SETS.values():
        for treatment in rules.treatments.values():
            limits = DoseLimits(treatment, person)
            deciding = {(treatment.bands.index(band), name) for name in NAMES if (band := limits.band(name))}
            assert not deciding & replaced(treatment, NAMES)


@pytest.mark.parametrize(
    ("what", "who", "value", "is_replaced"),
    [
        ("Total before an order", "adult", "90 mL/kg, at most 3,000 mL", True),
        ("Total before an order", "adult, hemorrhagic", "1,000 mL", False),
        ("Usual amount", "child", "20 mL/kg, at most 1,000 mL", True),
        ("Usual amount", "child, hemorrhagic", "10 mL/kg, at most 250 mL", False),
    ],
)
def test_the_conservative_rules_stand_upon_rows_that_they_replace(
    what: str, who: str, value: str, is_replaced: bool
) -> None:
    """Several bands together may replace one: all impressions but one here, that one there."""
    told = treatment_rows(SETS["conservative"].treatments["crystalloid-bolus"])
    assert is_replaced in [row.replaced for row in told if row[:3] == (what, who, value)]


def test_nothing_of_the_demonstration_rules_is_written_in_vain() -> None:
    assert not any(replaced(treatment, NAMES) for treatment in SETS["demonstration"].treatments.values())
