"""What a crew is offered in arrest: doses and energies for this patient, as published, and lists with their sources.

Epinephrine 1 mg, children 0.01 mg/kg to 1 mg, every 3-5 min; a child's shocks 2, then 4 J/kg (life support, children).
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Age, Amount, Patient, Weight
from dosing.load import reader
from dosing.tell import arrest
from tests.copying import replace
from tests.dosing.cast import ADA, BEN, UNKNOWN, at, case, child

RULES = reader.load_shipped("demonstration")
HEAVY = Patient(age=Age(9, "years"), weight=Weight(110))


@pytest.mark.parametrize(
    ("patient", "amount", "energies"),
    [
        (ADA, Amount(1, "mg"), [200, 360]),
        (UNKNOWN, Amount(1, "mg"), [200, 360]),
        (BEN, Amount(0.18, "mg"), [36, 72]),
        (HEAVY, Amount(1, "mg"), [200]),
        (child(5), None, []),
    ],
)
def test_the_dose_and_the_energies_are_those_for_the_patient(patient, amount, energies):
    (dose,) = arrest.doses(case(patient=patient), RULES, at(5))
    assert (dose.treatment, dose.amount, dose.every_min) == ("epinephrine-arrest", amount, 3)
    assert arrest.energies(patient, RULES) == energies


def test_without_a_rule_for_shocks_no_energy_is_offered():
    assert arrest.energies(ADA, replace(RULES, procedures=())) == []


def test_what_is_drawn_up_stands_beside_it():
    (dose,) = arrest.doses(case(patient=BEN), RULES, at(5))
    assert (dose.volumes, dose.routes) == ("1.8 mL of 0.1 mg per mL", ["IV", "IO"])


def test_two_rhythms_are_shocked_and_two_are_not():
    """Ventricular fibrillation and ventricular tachycardia without a pulse (life support guidelines, from memory)."""
    assert {short: shocked for short, _, shocked in arrest.RHYTHMS} == {
        "VF": True,
        "VT, no pulse": True,
        "PEA": False,
        "Asystole": False,
    }


def test_each_reversible_cause_stands_once():
    assert len(arrest.CAUSES) == len(set(arrest.CAUSES)) == 10
