"""Blood for somebody who is overloaded or does not bleed, and what slows the breathing of one who retains CO2.

TACO: transfusion guidelines. EtCO2: capnography under sedation, normal 35-45 mmHg, from 50 too little breath (both from
memory); that 60 needs an order is chosen.
"""

from __future__ import annotations

import pytest

from dosing.ground.airways import Airway
from dosing.ground.facts import Amount
from tests.dosing.bedside import adult, ago, check, facts

TUBE = Airway(id="tube", at=ago(3), site="Tube", outcome="done")
ORDER, CAUTION = "needs_order", "caution"


def blood(patient, lungs, impression):
    return check("blood-product", 1, "bag", facts(patient, signs={"lungs": lungs}, impression=impression))


@pytest.mark.parametrize(
    ("known", "lungs", "impression", "verdict"),
    [
        ({}, "crackles", "cardiogenic", ORDER),
        ({"fluid_restricted": True}, "clear", "undifferentiated", ORDER),
        ({}, "clear", "undifferentiated", CAUTION),
        ({}, "crackles", "hemorrhagic", "within"),
        ({"fluid_restricted": True}, "clear", "hemorrhagic", "within"),
        ({"bleeding_cause": "gut", "fluid_restricted": True}, "crackles", "undifferentiated", "within"),
    ],
)
def test_blood_in_a_full_circulation_waits_for_an_order(known, lungs, impression, verdict):
    assert blood(adult(**known), lungs, impression).verdict == verdict


@pytest.mark.parametrize(
    ("known", "impression", "told"),
    [({}, "cardiogenic", True), ({}, "hemorrhagic", False), ({"bleeding_cause": "postpartum"}, "cardiogenic", False)],
)
def test_blood_without_a_bleeding_on_record_is_told(known, impression, told):
    found = blood(adult(**known), "clear", impression).findings

    assert any("no bleeding on record" in each.text for each in found) == told


DOSES = {
    ("fentanyl", "pain"): (50, "mcg", Amount(50, "mcg/mL")),
    ("midazolam", "sedation"): (1, "mg", Amount(1, "mg/mL")),
    ("midazolam", "seizure"): (5, "mg", Amount(5, "mg/mL")),
    ("ketamine", "pain"): (10, "mg", Amount(10, "mg/mL")),
}


def on_breath(drug, etco2, **more):
    *dose, stock = DOSES[drug]
    known = facts(signs={"rr": 16, "hr": 80, "etco2": etco2}, sbp=130, dbp=80, **more)
    found = check(drug[0], *dose, known, indication=drug[1], stock=stock).findings
    return [each.level for each in found if "EtCO2" in each.text]


@pytest.mark.parametrize(
    ("drug", "etco2", "expected"),
    [
        *[(drug, 72, [ORDER]) for drug in (("fentanyl", "pain"), ("midazolam", "sedation"))],
        *[(drug, 60, [ORDER]) for drug in (("fentanyl", "pain"), ("midazolam", "sedation"))],
        *[(drug, 59, [CAUTION]) for drug in (("fentanyl", "pain"), ("midazolam", "sedation"))],
        (("ketamine", "pain"), 72, [CAUTION]),
        *[(drug, 50, [CAUTION]) for drug in DOSES if drug[1] != "seizure"],
        *[(drug, 49, []) for drug in DOSES],
        *[(drug, None, []) for drug in DOSES],
        (("midazolam", "seizure"), 72, []),
    ],
)
def test_who_breathes_too_little_gets_no_more_of_it_unasked(drug, etco2, expected):
    assert on_breath(drug, etco2) == expected


@pytest.mark.parametrize("drug", DOSES)
def test_through_a_tube_the_crew_breathes(drug):
    assert on_breath(drug, 72, airways=(TUBE,)) == []
