"""The units in which a physician may state a dose: a rate stays in its own time, for an hour is sixty minutes."""

import pytest

from consult.screens.crew_dose_form import dose_units
from consult.screens.offered import offered
from dosing.load.reader import load_shipped

RULES = load_shipped("demonstration")


@pytest.mark.parametrize(
    ("treatment", "units"),
    [
        ("norepinephrine-infusion", ["mcg/kg/min", "mcg/min", "mL/h"]),
        ("nicardipine-infusion", ["mg/h", "mL/h"]),
        ("insulin-high-dose", ["units/kg/h", "units/h", "mL/h"]),
        ("magnesium-sulfate", ["g", "mcg", "mg", "mcg/kg", "mg/kg"]),
        ("oxytocin", ["units", "units/kg"]),
        ("hypertonic-saline", ["mL", "L", "mL/kg"]),
    ],
)
def test_the_own_unit_first_then_its_like(treatment, units):
    assert offered(RULES.treatments[treatment])["units"] == units


@pytest.mark.parametrize(
    ("treatment", "unit"), [("norepinephrine-infusion", "mcg/mL"), ("nicardipine-infusion", "mg/mL")]
)
def test_a_strength_in_the_unit_of_that_which_is_checked_first(treatment, unit):
    assert (
        offered(RULES.treatments[treatment])["per_ml"][0]
        == unit
        == RULES.treatments[treatment].concentrations[0].amount.unit
    )


@pytest.mark.parametrize(
    ("treatment", "units"),
    [
        ("norepinephrine-infusion", ["mcg/kg/min", "mcg/min", "mL/h"]),
        ("nicardipine-infusion", ["mg/h", "mL/h"]),
        ("insulin-infusion", ["units/kg/h"]),
    ],
)
def test_a_crew_states_a_rate_in_its_own_time_too(treatment, units):
    assert dose_units(RULES.treatments[treatment]) == units
