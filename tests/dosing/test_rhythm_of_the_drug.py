"""A drug that the rhythm on record speaks against waits for an order, and its neighbor does not.

Magnesium with a heart block: its prescribing information. Amiodarone and lidocaine in an arrest: life support (from
memory), for ventricular fibrillation and tachycardia that shocks do not end.
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Latest
from dosing.ground.phases import PhaseChange
from tests.dosing.bedside import adult, ago, check, facts

ARREST = (PhaseChange("p", "arrest", ago(10)),)
BLOCK = "heart block: magnesium"


def levels(words, checked):
    return [each.level for each in checked.findings if words in each.text]


def magnesium(indication, rhythm, *, history=(), phases=()):
    known = facts(
        adult(pregnancy_weeks=36, history=history),
        signs={"hr": 80, "rr": 16, "sbp": 165, "dbp": 110, "rhythm": rhythm},
        sbp=None if phases else 165,
        dbp=110,
        phases=phases,
    )
    how = {"indication": indication, "stock": Amount(40, "mg/mL"), "over_min": 20}
    return check("magnesium-sulfate", 4 if indication == "eclampsia" else 2, "g", known, **how)


@pytest.mark.parametrize("indication", ["eclampsia", "torsades", "asthma"])
@pytest.mark.parametrize(
    ("rhythm", "history", "expected"),
    [
        ("3rd degree AV block", (), ["needs_order"]),
        ("Mobitz II", (), ["needs_order"]),
        ("complete heart block", ("pacemaker",), []),
        ("1st degree AV block", (), []),
        ("sinus", (), []),
        (None, (), []),
    ],
)
def test_magnesium_with_a_heart_block_waits_for_an_order(indication, rhythm, history, expected):
    assert levels(BLOCK, magnesium(indication, rhythm, history=history)) == expected


@pytest.mark.parametrize(("rhythm", "verdict"), [("complete heart block", "needs_order"), ("sinus", "within")])
def test_magnesium_for_eclampsia_is_standing_but_for_a_block(rhythm, verdict):
    assert magnesium("eclampsia", rhythm).verdict == verdict


def test_in_an_arrest_a_block_does_not_hold_magnesium_back():
    assert levels(BLOCK, magnesium("torsades", "torsades, complete heart block", phases=ARREST)) == []


DRUGS = {"amiodarone": (300, Amount(50, "mg/mL")), "lidocaine": (80, Amount(20, "mg/mL"))}


def in_arrest(drug, known):
    amount, stock = DRUGS[drug]
    return check(drug, amount, "mg", known, indication="arrest", stock=stock)


@pytest.mark.parametrize("drug", DRUGS)
@pytest.mark.parametrize(
    ("rhythm", "verdict"),
    [
        ("asystole", "needs_order"),
        ("PEA", "needs_order"),
        ("pulseless electrical activity", "needs_order"),
        ("VF", "within"),
        ("pulseless VT, no PEA", "within"),
        (None, "within"),
    ],
)
def test_what_ends_a_fibrillation_is_not_for_an_arrest_without_one(drug, rhythm, verdict):
    checked = in_arrest(drug, facts(signs={"rhythm": rhythm}, phases=ARREST, sbp=None))

    assert checked.verdict == verdict
    assert bool(levels("not a shockable rhythm", checked)) == (verdict == "needs_order")


@pytest.mark.parametrize("drug", DRUGS)
def test_the_newest_rhythm_decides(drug):
    known = facts(signs={"rhythm": None}, phases=ARREST, sbp=None)
    known.latest["rhythm"] = Latest("PEA", ago(6))
    assert in_arrest(drug, known).verdict == "needs_order"
    known = facts(signs={"rhythm": None}, phases=ARREST, sbp=None)
    known.latest["rhythm"] = Latest("VF", ago(1))
    assert in_arrest(drug, known).verdict == "within"
