"""Doses that would harm are never within the rules; the usual ones beside them are not held back.

Of each case the dose that must not pass, and two neighbors that may.
"""

from __future__ import annotations

import pytest

from tests.dosing.bedside import adult, check, child, codes, facts

FINE = {"sbp": 120, "dbp": 80}
HARD, ORDER = "over_hard_limit", "needs_order"


def judged(treatment, dose, known, **how):
    """The verdict on a dose."""
    value, unit = dose
    return check(treatment, value, unit, known, **how).verdict


def unweighed(years, unit="years"):
    """A child whom nobody has weighed, with a good pressure."""
    return facts(child(years, None, unit), **FINE)


@pytest.mark.parametrize(
    ("age", "route", "too_much", "usual"),
    [
        # 0.2 mg/kg IM or IN, 0.1 mg/kg IV of a usual weight; 5 mg IM from 13 kg, 10 mg over 40 kg (RAMPART, read)
        ((8, "years"), "IM", 10, (5, 4)),
        ((5, "years"), "IM", 10, (5, 3)),
        ((2, "years"), "IM", 10, (2, 1)),
        ((6, "months"), "IM", 5, (1.5, 1)),
        ((1, "years"), "IM", 5, (2, 1)),
        ((10, "days"), "IM", 2, (0.6, 0.5)),
        ((13, "years"), "IM", 15, (10, 5)),
        ((8, "years"), "IN", 10, (5, 4)),
        ((5, "years"), "IN", 10, (3, 2)),
        ((5, "years"), "IV", 4, (1.5, 1)),
        ((8, "years"), "IV", 5, (2, 1)),
        ((10, "days"), "IO", 1, (0.3, 0.2)),
    ],
)
def test_an_unweighed_child_in_a_seizure_gets_the_dose_of_the_age(age, route, too_much, usual):
    how = {"indication": "seizure", "route": route}
    assert judged("midazolam", (too_much, "mg"), unweighed(*age), **how) == HARD
    for value in usual:
        checked = check("midazolam", value, "mg", unweighed(*age), **how)
        assert checked.verdict == "caution"
        assert "weight_unknown" in codes(checked)


@pytest.mark.parametrize(
    ("age", "too_much", "verdict", "usual"),
    [
        # 0.2-0.5 g/kg of a usual weight (Merck Manual and an EMS guideline, read)
        ((5, "years"), 25, HARD, (10, 5)),
        ((1, "years"), 10, ORDER, (5, 4)),
        ((1, "years"), 11, HARD, (5, 2)),
        ((2, "months"), 4, HARD, (1.2, 1)),
    ],
)
def test_an_unweighed_child_gets_the_sugar_of_the_age(age, too_much, verdict, usual):
    assert judged("dextrose", (too_much, "g"), unweighed(*age)) == verdict
    for value in usual:
        checked = check("dextrose", value, "g", unweighed(*age))
        assert checked.verdict == "caution"
        assert "weight_unknown" in codes(checked)


def test_a_weighed_child_is_told_of_no_unknown_weight():
    known = facts(child(5, 18), **FINE)
    assert "weight_unknown" not in codes(check("midazolam", 3, "mg", known, route="IM", indication="seizure"))
    assert "weight_unknown" not in codes(check("dextrose", 9, "g", known))
    assert "weight_unknown" not in codes(check("dextrose", 25, "g", facts(adult(None), **FINE)))
