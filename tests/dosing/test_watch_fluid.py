"""New crackles on fluid: contract, `crackles_on_fluid`, "new crackles within 30 min of fluid", high.

The 30 min are the contract's and the demonstration's own choice; no source. A bolus of 500 mL begins at ten o'clock.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Dose, Reading
from dosing.ground.phases import PhaseChange
from dosing.load.reader import load_shipped
from dosing.watch.causes import Cause, watch
from tests.dosing.cast import at, case, push, reading

RULES = load_shipped("demonstration")


def bolus(treatment: str = "crystalloid-bolus", **more: Any) -> Dose:
    return Dose(id="bolus", treatment=treatment, given_at=at(0), amount=Amount(500, "mL"), route="IV", **more)


def heard(*sounds: tuple[float, str]) -> tuple[Reading, ...]:
    return tuple(reading(minutes, lungs=lungs) for minutes, lungs in sounds)


def alarms(readings: tuple[Reading, ...], *doses: Dose, minutes: float = 60, **more: Any) -> list[Cause]:
    known = case(*readings, doses=doses, last_contact_at=at(minutes), **more)
    return [each for each in watch(known, RULES, at(minutes)).causes if each.kind == "crackles_on_fluid"]


RUNS, ENDED_AT_15 = bolus(status="running", over_min=15), bolus(status="finished", ended_at=at(15), over_min=15)
CLEAR, NEW = (-5, "clear"), (10, "crackles")
CASES: dict[str, tuple[tuple[tuple[float, str], ...], tuple[Dose, ...], bool]] = {
    "heard while it runs": ((CLEAR, NEW), (RUNS,), True),
    "the moment it begins": ((CLEAR, (0, "crackles")), (RUNS,), True),
    "30 min after its end": ((CLEAR, (45, "crackles")), (ENDED_AT_15,), True),
    "later than that": ((CLEAR, (45.1, "crackles")), (ENDED_AT_15,), False),
    "of fluid that still runs after an hour": ((CLEAR, (59, "crackles")), (RUNS,), True),
    "the first time that anybody listens": ((NEW,), (RUNS,), True),
    "there before the fluid": (((-5, "crackles"), NEW), (RUNS,), False),
    "there before, gone, and back": (((-5, "crackles"), (5, "clear"), NEW), (RUNS,), True),
    "heard again and again": ((CLEAR, NEW, (20, "crackles")), (RUNS,), True),
    "gone again": ((CLEAR, NEW, (20, "clear")), (RUNS,), False),
    "a wheeze": ((CLEAR, (10, "wheeze")), (RUNS,), False),
    "no fluid": ((CLEAR, NEW), (), False),
    "a pressor is none": ((CLEAR, NEW), (push(5),), False),
    "blood is none of it": ((CLEAR, NEW), (bolus("blood-product", status="running"),), False),
    "before any fluid": ((CLEAR, (-1, "crackles")), (RUNS,), False),
}


@pytest.mark.parametrize(("sounds", "doses", "alarms_then"), CASES.values(), ids=CASES)
def test_new_crackles_within_half_an_hour_of_fluid(
    sounds: tuple[tuple[float, str], ...], doses: tuple[Dose, ...], alarms_then: bool
):
    assert bool(alarms(heard(*sounds), *doses)) == alarms_then


def test_it_says_when_they_began_and_after_what():
    (cause,) = alarms(heard(CLEAR, NEW, (20, "crackles")), RUNS)

    assert (cause.cause, cause.priority, cause.since) == ("lungs", "high", at(10))
    assert cause.text == "New crackles 10:10 UTC, crystalloid bolus given 10:00 UTC"


def test_of_several_fluids_it_names_the_newest_before_the_crackles():
    before, after = (Dose(id="other", treatment="crystalloid-bolus", given_at=at(minutes)) for minutes in (-8, 12))

    for doses in ((before, RUNS, after), (after, RUNS, before)):
        (cause,) = alarms(heard(CLEAR, NEW), *doses)
        assert cause.text.endswith("crystalloid bolus given 10:00 UTC")


def test_without_a_pulse_it_waits():
    assert alarms(heard(CLEAR, NEW), RUNS, phases=(PhaseChange("arrest", "arrest", at(11)),)) == []
