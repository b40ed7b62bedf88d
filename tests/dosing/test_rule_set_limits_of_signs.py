"""What is wrong with the limits of a vital sign, of a pressure too high, or of a procedure: each told at its entry."""

from __future__ import annotations

from typing import Any

import pytest

from dosing.load.sense import FAULTS
from dosing.rules.parts import Figure
from dosing.rules.procedures import ProcedureRule
from dosing.rules.rule_set import Source
from dosing.rules.vital_signs import HighPressureRule, VitalSignRule

LABEL = Source("label", "the label", "read")


def number(value: float, unit: str) -> Figure:
    return Figure(value=value, unit=unit, source=LABEL)


def beats(value: float) -> Figure:
    return number(value, "beats per min")


def mmhg(value: float) -> Figure:
    return number(value, "mmHg")


@pytest.mark.parametrize(
    ("rule", "faults"),
    [
        ({"danger_low": beats(40), "warning_low": beats(50), "warning_high": beats(150)}, []),
        ({"danger_low": beats(50), "warning_low": beats(50)}, []),
        ({"danger_low": beats(51), "warning_low": beats(50)}, [("danger_low", "exceeds warning_low")]),
        ({"danger_low": beats(60), "danger_high": beats(59)}, [("danger_low", "exceeds danger_high")]),
        ({"warning_high": beats(181), "danger_high": beats(180)}, [("warning_high", "exceeds danger_high")]),
        ({"danger_low": number(40, "%")}, [("danger_low", "is stated in %, hr in beats per min")]),
        ({"clear": number(5, "")}, [("clear", "is stated in nothing, hr in beats per min")]),
        ({"danger": frozenset("U")}, [("danger", "is stated in letters, hr in beats per min")]),
        ({"warning": frozenset("P")}, [("danger", "is stated in letters, hr in beats per min")]),
        ({"measurement": "avpu", "danger": frozenset("U"), "warning": frozenset("P")}, []),
        (
            {"measurement": "avpu", "danger_low": beats(1)},
            [("danger_low", "is stated in beats per min, avpu in letters")],
        ),
        ({"from_days": 1, "under_days": 2}, []),
        ({"from_days": 2, "under_days": 2}, [("under_days", "is 2, not above from_days: it is for nobody")]),
        ({"under_days": 0}, [("under_days", "is 0, not above from_days: it is for nobody")]),
    ],
)
def test_the_limits_of_a_vital_sign(rule: dict[str, Any], faults: list[tuple[str, str]]) -> None:
    assert list(FAULTS[VitalSignRule](VitalSignRule(**{"measurement": "hr", **rule}))) == faults


@pytest.mark.parametrize(
    ("rule", "faults"),
    [
        ({"danger_sbp": mmhg(220)}, []),
        ({"danger_dbp": mmhg(140)}, []),
        ({"danger_sbp": mmhg(220), "warning_sbp": mmhg(220), "warning_dbp": mmhg(300)}, []),
        (
            {"warning_sbp": mmhg(200)},
            [("danger_sbp", "is missing, as danger_dbp is: say from where on it is a danger")],
        ),
        ({"danger_sbp": mmhg(220), "warning_sbp": mmhg(221)}, [("warning_sbp", "exceeds danger_sbp")]),
        ({"danger_dbp": mmhg(140), "warning_dbp": mmhg(141)}, [("warning_dbp", "exceeds danger_dbp")]),
        ({"danger_sbp": mmhg(220), "from_days": 28, "under_days": 365}, []),
        (
            {"danger_sbp": mmhg(220), "from_days": 28, "under_days": 28},
            [("under_days", "is 28, not above from_days: it is for nobody")],
        ),
        (
            {"danger_sbp": mmhg(220), "under_days": 0},
            [("under_days", "is 0, not above from_days: it is for nobody")],
        ),
    ],
)
def test_the_limits_of_a_pressure_too_high(rule: dict[str, Any], faults: list[tuple[str, str]]) -> None:
    assert list(FAULTS[HighPressureRule](HighPressureRule(**rule))) == faults


def test_in_which_unit_a_sign_is_read() -> None:
    assert [VitalSignRule(measurement=name).unit for name in ("hr", "spo2", "avpu")] == ["beats per min", "%", ""]


def test_a_pressure_too_high_tells_its_numbers_by_name() -> None:
    rule = HighPressureRule(danger_sbp=mmhg(220), warning_dbp=mmhg(120), clear=mmhg(10))

    assert list(rule.figures()) == [("danger_sbp", mmhg(220)), ("warning_dbp", mmhg(120)), ("clear", mmhg(10))]


MIXED = "is {}, of which the settings are missing, or others stand here"
JOULES = {"first_j": number(200, "J"), "next_j": number(360, "J")}
PER_KG = {"first_j_per_kg": number(2, "J/kg"), "next_j_per_kg": number(4, "J/kg")}
PACED = {"rate": beats(80), "output_ma": number(70, "mA")}


@pytest.mark.parametrize(
    ("procedure", "rule", "faults"),
    [
        ("defibrillation", JOULES, []),
        ("defibrillation", PER_KG, []),
        ("pacing", PACED, []),
        ("pacing", JOULES, [("procedure", MIXED.format("pacing"))]),
        ("pacing", {"rate": beats(80)}, [("procedure", MIXED.format("pacing"))]),
        ("defibrillation", PACED, [("procedure", MIXED.format("defibrillation"))]),
        ("defibrillation", {**JOULES, "rate": beats(80)}, [("procedure", MIXED.format("defibrillation"))]),
        ("defibrillation", {"first_j": number(200, "J")}, [("procedure", MIXED.format("defibrillation"))]),
        ("defibrillation", {**JOULES, "next_j": number(200, "J")}, []),
        ("defibrillation", {**JOULES, "next_j": number(199, "J")}, [("next_j", "is less than the first shock")]),
        (
            "defibrillation",
            {**PER_KG, "next_j_per_kg": number(1, "J/kg")},
            [("next_j_per_kg", "is less than the first shock")],
        ),
    ],
)
def test_the_settings_of_a_procedure(procedure: str, rule: dict[str, Any], faults: list[tuple[str, str]]) -> None:
    told = {"who": "adult", "title": "shock", "source": LABEL, **rule}

    assert list(FAULTS[ProcedureRule](ProcedureRule(procedure=procedure, **told))) == faults
