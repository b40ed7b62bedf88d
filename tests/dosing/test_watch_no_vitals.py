"""No pressure for too long: contract, `no_vitals`, "no pressure for 5 min unstable, 15 stable", medium.

Unstable is while a low pressure alarms. The 2 min in which a set that was taken is typed and sent are our choice:
without them made-up transports that take a set every 5 min alarm at each.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from dosing.ground.facts import Dose, Reading
from dosing.ground.phases import PhaseChange
from dosing.load.reader import load_shipped
from dosing.patient.reassess import opened_by
from dosing.watch.causes import Cause, watch
from tests.dosing.cast import at, case, mean, push, reading

RULES = load_shipped("demonstration")
LOW, FINE = (mean(0, 60), mean(1, 60)), (mean(0, 90), mean(1, 90))
UNOBTAINABLE = (reading(1, bp_method="unobtainable"),)
PALPATED = (reading(1, 100, bp_method="palpated"),)


def alarms(readings: tuple[Reading, ...], minutes: float, **more: Any) -> list[Cause]:
    known = case(*readings, **{"last_contact_at": at(minutes), **more})
    return [each for each in watch(known, RULES, at(minutes)).causes if each.kind == "no_vitals"]


def looks_again(readings: tuple[Reading, ...], minutes: float) -> datetime | None:
    return watch(case(*readings, last_contact_at=at(60)), RULES, at(minutes)).next_at


@pytest.mark.parametrize(
    ("readings", "after"),
    [
        (LOW, 8),  # 5 min after 10:01, and 2
        (UNOBTAINABLE, 8),
        (FINE, 18),
        (PALPATED, 18),
        ((mean(0, 90), mean(1, 60)), 18),  # once below the goal raises no alarm of its own
        ((*LOW, mean(2, 90), mean(3, 90)), 20),
        ((*FINE, reading(9, hr=90)), 18),  # a heart rate is no pressure
    ],
    ids=["low", "unobtainable", "fine", "palpated", "low once", "fine again", "other measurements"],
)
def test_it_alarms_once_the_newest_pressure_is_too_old(readings: tuple[Reading, ...], after: float):
    assert alarms(readings, after - 0.01) == []
    assert looks_again(readings, after - 0.5) == at(after)
    (cause,) = alarms(readings, after)
    assert (cause.cause, cause.priority, cause.since) == ("pressure", "medium", at(after))


def test_it_says_since_when_and_how_it_was():
    assert [alarms(readings, 30)[0].text for readings in (LOW, FINE)] == [
        "No pressure since 10:01 UTC, when it was low",
        "No pressure since 10:01 UTC",
    ]


def test_a_pressure_ends_it():
    assert alarms((*LOW, mean(20, 62)), 21) == []


@pytest.mark.parametrize(
    ("heard", "until", "stands"),
    [(3, None, False), (3.01, None, True), (7, 8, True), (7, 8.01, False), (3, 8, False)],
    ids=["silent for just 5 min", "not quite", "the gap is just over", "not quite over", "over, but silent"],
)
def test_a_silent_unit_is_asked_for_no_pressure(heard: float, until: float | None, stands: bool):
    """At 10:08 the low pressure of 10:01 is too old; 5 min without a word are the alert `no_contact`'s."""
    gap = None if until is None else at(until)

    assert bool(alarms(LOW, 8, last_contact_at=at(heard), no_coverage_until=gap)) == stands


DUE = opened_by(push(2), RULES)
RUNS_LONG = Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(2), over_min=15)
ASKED_ELSEWHERE: dict[str, dict[str, Any]] = {
    "a reading after a dose is asked for": {"doses": (push(2),), "reassessments": (DUE,)},
    "nothing at all is heard of the unit": {"last_contact_at": at(1)},
    "its crew has said that it has no coverage": {"no_coverage_until": at(60), "last_contact_at": at(29)},
    "cardiac arrest": {"phases": (PhaseChange("arrest", "arrest", at(2)),)},
    "the case has ended": {"state": "closed", "ended_at": at(2)},
}


@pytest.mark.parametrize("more", ASKED_ELSEWHERE.values(), ids=ASKED_ELSEWHERE)
def test_one_alert_for_one_thing(more: dict[str, Any]):
    assert alarms(LOW, 30, **more) == []


@pytest.mark.parametrize(("dose", "stands"), [(push(6), False), (push(7.1), True), (RUNS_LONG, True)])
def test_a_reading_asked_for_only_later_tells_nothing_of_a_low_pressure_now(dose: Dose, stands: bool):
    """From 10:08 on; a push asks for a pressure from 1 min after it on, a bolus from its end on."""
    asked = opened_by(dose, RULES)
    assert bool(alarms(LOW, 8, doses=(dose,), reassessments=(asked,))) == stands


def test_a_patient_of_whom_no_pressure_is_ever_heard_is_told_though_the_unit_is():
    """The unit is heard of another patient of its own: 15 min after opening, and 2."""
    assert alarms((), 16.99) == []
    assert [each.text for each in alarms((reading(9, hr=90),), 17)] == ["No pressure yet, case open since 10:00 UTC"]
    back = (PhaseChange("arrest", "arrest", at(2)), PhaseChange("pulse", "pulse_back", at(16)))
    assert alarms((), 17, phases=back) == []  # the first set after an arrest is asked for by name
