"""Paralyzed and not sedated: an alarm after 15 min; and a score that means nothing under a tube or a relaxant.

Of the intubated 3-4 % are awake while paralyzed; ketamine and etomidate wear off before rocuronium, which lasts up to
60-90 min (University of Maryland, pearl of 12 August 2025, read). The 15 min, and 2 min more, are chosen.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from dosing.ground.airways import Airway
from dosing.ground.facts import Dose, Latest
from dosing.ground.phases import PhaseChange
from dosing.load.reader import load_shipped
from dosing.watch.causes import Cause, watch
from dosing.watch.vital_signs import alarming
from tests.copying import replace
from tests.dosing.cast import at, case, reading

RULES = load_shipped("demonstration")
TUBE = Airway(id="tube", at=at(3), site="Tube", outcome="done")
ARREST = PhaseChange(id="arrest", phase="arrest", at=at(20))


def dose(treatment: str, minute: float, **more: Any) -> Dose:
    return Dose(id=f"{treatment} {minute}", treatment=treatment, given_at=at(minute), **more)


def named(name: str, minute: float, **more: Any) -> Dose:
    return dose("other", minute, name=name, route="IV", **more)


KETAMINE, ROCURONIUM, SUCCINYLCHOLINE = dose("ketamine", 0), dose("rocuronium", 1), dose("succinylcholine", 1)


def alarms(minute: float, *doses: Dose, **more: Any) -> list[Cause]:
    known = case(doses=doses, airways=(TUBE,), last_contact_at=at(minute), heard_of_at=at(minute), **more)
    return [each for each in watch(known, RULES, at(minute)).causes if each.kind == "no_sedation"]


@pytest.mark.parametrize(
    ("minute", "doses", "stands"),
    [
        (48, (KETAMINE, ROCURONIUM), True),
        (17, (KETAMINE, ROCURONIUM), True),
        (16.9, (KETAMINE, ROCURONIUM), False),
        (48, (KETAMINE, ROCURONIUM, dose("fentanyl", 35)), False),
        (48, (KETAMINE, ROCURONIUM, dose("midazolam", 31)), True),
        (48, (KETAMINE, ROCURONIUM, named("morphine", 40)), False),
        (48, (KETAMINE, ROCURONIUM, named("propofol", 5, status="running")), False),
        (48, (KETAMINE, ROCURONIUM, named("propofol", 5, status="stopped", ended_at=at(20))), True),
        (48, (KETAMINE, ROCURONIUM, named("propofol", 5, status="held", changed_at=at(40))), False),
        (48, (KETAMINE, ROCURONIUM, named("propofol", 5, status="held", changed_at=at(20))), True),
        (48, (KETAMINE, ROCURONIUM, named("enalaprilat", 40)), True),
        (48, (KETAMINE,), False),
        (90, (KETAMINE, ROCURONIUM), True),
        (91, (KETAMINE, ROCURONIUM), False),  # the relaxant has worn off
        (91, (KETAMINE, ROCURONIUM, dose("rocuronium", 60)), True),
        (48, (replace(ROCURONIUM, prior=True),), True),
        (3, (ROCURONIUM,), True),
        (2.9, (ROCURONIUM,), False),
        (5, (SUCCINYLCHOLINE,), True),
        (10, (KETAMINE, SUCCINYLCHOLINE), False),  # it wears off before the ketamine is old
        (25, (KETAMINE, SUCCINYLCHOLINE), False),
    ],
)
def test_who_is_paralyzed_is_sedated_by_the_clock(minute: float, doses: tuple[Dose, ...], stands: bool):
    assert bool(alarms(minute, *doses)) == stands


def test_it_says_since_when_and_by_what():
    (alarm,) = alarms(48, KETAMINE, ROCURONIUM)

    assert (alarm.priority, alarm.cause, alarm.since) == ("high", "sedation", at(17))
    assert alarm.text == "No sedative or opioid since 10:00 UTC, paralyzed by rocuronium 10:01 UTC: perhaps awake"


def test_it_waits_for_a_pulse():
    assert not alarms(48, KETAMINE, ROCURONIUM, phases=(ARREST,))


def test_time_alone_raises_and_ends_it():
    """Nothing else of this case changes between 12 and 17 min after it, or until the relaxant has worn off at 91."""
    known = case(reading(12, 120, 70), doses=(KETAMINE, ROCURONIUM), airways=(TUBE,))

    def next_at(minute: float, heard: float) -> datetime | None:
        return watch(replace(known, last_contact_at=at(heard)), RULES, at(minute)).next_at

    assert next_at(16, 15) == at(17)
    assert next_at(90, 89) == at(91)


@pytest.mark.parametrize(
    ("airways", "doses", "stands"),
    [
        ((TUBE,), (), False),
        ((replace(TUBE, at=at(30)),), (), False),  # told after the score was taken
        ((replace(TUBE, outcome="failed"),), (), True),
        ((replace(TUBE, site="Bag and mask"),), (), True),
        ((replace(TUBE, site=None),), (), True),  # nobody said what guards it
        ((TUBE, replace(TUBE, id="out", at=at(15), site="extubated")), (), True),
        ((TUBE, replace(TUBE, id="mask", at=at(15), site="Bag and mask")), (), True),
        ((), (ROCURONIUM,), False),
        ((), (SUCCINYLCHOLINE,), True),  # worn off ten minutes after it, before the score
        ((), (dose("rocuronium", 25),), True),  # the score was taken before it
        ((), (KETAMINE,), True),  # a sedative without a tube: that is the danger
        ((), (), True),
    ],
)
def test_an_unresponsive_patient_with_a_tube_alarms_nobody(
    airways: tuple[Airway, ...], doses: tuple[Dose, ...], stands: bool
):
    known = case(reading(20, 120, 70, gcs=3, avpu="U"), airways=airways, doses=doses)
    known = replace(known, latest={"gcs": Latest(3, at(20)), "avpu": Latest("U", at(20)), "spo2": Latest(80, at(20))})
    told = {each.cause for each in watch(known, RULES, at(40)).causes}

    assert ("alertness" in told) == stands
    assert set(alarming(known, RULES)) == {"spo2"} | ({"gcs", "avpu"} if stands else set())
