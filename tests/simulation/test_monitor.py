"""What is measured on a simulated body fits the contract and itself."""

from __future__ import annotations

from random import Random

import pytest

from consult.simulation import monitor
from tests.simulation import contract
from tests.simulation.bodies import dry_adult, failing_adult, settled, warm_adult


@pytest.mark.parametrize("map_mmhg", range(16, 190, 6))
def test_a_set_lies_within_what_the_contract_can_hold(map_mmhg: int) -> None:
    body, chance = settled(warm_adult(), map_mmhg, 100), Random(map_mmhg)
    reading = (
        {"taken_at": "2030-01-05T10:00:00+00:00"}
        | monitor.quick(body, chance)
        | monitor.pressure(body, chance)
        | monitor.examination(body, chance)
    )

    assert contract.faults("vitals", reading) == []
    assert reading["dbp"] < reading["sbp"]


@pytest.mark.parametrize("map_mmhg", [45, 61, 75, 93, 120])
def test_systolic_and_diastolic_make_the_map(map_mmhg: int) -> None:
    """MAP-001 (read, second-hand): MAP = (SBP + 2 × DBP) / 3."""
    body, chance = settled(warm_adult(), map_mmhg, 100), Random(1)
    for _ in range(50):
        reading = monitor.pressure(body, chance)

        computed = (reading["sbp"] + 2 * reading["dbp"]) / 3
        assert abs(computed - reading["map_reported"]) <= 1.5
        assert abs(computed - map_mmhg) < 8


def test_a_palpated_pressure_has_no_diastolic_and_is_even() -> None:
    reading = monitor.pressure(dry_adult(), Random(1), "palpated")

    assert reading.keys() == {"sbp", "bp_method"}
    assert reading["sbp"] % 2 == 0


def test_a_sicker_body_looks_sicker() -> None:
    well, ill = settled(warm_adult(), 90, 75), settled(dry_adult(), 38, 140)
    seen_well, seen_ill = (monitor.examination(body, Random(1)) for body in (well, ill))

    assert (seen_well["avpu"], seen_well["cap_refill_s"]) == ("A", 2)
    assert seen_ill["avpu"] in ("V", "P")
    assert seen_ill["cap_refill_s"] >= 3


def test_lungs_tell_water_and_reaction() -> None:
    wet, stung = failing_adult(), warm_adult()
    wet.lung_water_ml, stung.reaction = 90, 0.8

    assert monitor.examination(wet, Random(1))["lungs"] == "crackles"
    assert monitor.examination(stung, Random(1))["lungs"] == "wheeze"
    assert monitor.examination(warm_adult(), Random(1))["lungs"] == "clear"


def test_the_same_seed_measures_the_same() -> None:
    one, other = (monitor.pressure(warm_adult(), Random(7)) for _ in range(2))

    assert one == other
