"""What stands at the top of what may be given, on calls where the wrong thing there would harm.

Rows name the source of the order; what no row names is not looked at.
"""

from __future__ import annotations

import pytest

from dosing.ground.phases import PULSE_BACK, PhaseChange
from dosing.tell.guidance import guidance
from tests.dosing.bedside import RULES, TEN, adult, ago, child, facts, told

PRESSORS = {"epinephrine-push-dose", "norepinephrine-infusion", "epinephrine-infusion", "dopamine-infusion"}
QUIET = {"hr": 90, "rr": 16, "glucose_mg_dl": 110}
MOTHER = adult(pregnancy_weeks=36)
NEWBORN = child(0, 3.2, "days")


def fitting(patient, signs, **more) -> list[str]:
    pressure = {name: more[name] for name in ("sbp", "dbp") if name in more}
    rows = guidance(facts(patient, signs=QUIET | pressure | signs, **more), RULES, TEN)
    return [row["treatment"] for row in rows if row["relevant"]]


@pytest.mark.parametrize(
    ("sbp", "dbp", "first"),
    [
        # EMS protocol on eclampsia: over 140 or 90 is high; ACOG: 160 or 110 is severe and lowered
        (178, 116, ["magnesium-sulfate", "labetalol", "hydralazine"]),
        (150, 112, ["magnesium-sulfate", "labetalol", "hydralazine"]),
        (150, 94, ["magnesium-sulfate"]),
        (128, 92, ["magnesium-sulfate"]),
    ],
)
def test_a_high_pressure_late_in_pregnancy_calls_for_magnesium_not_for_a_pressor(sbp, dbp, first):
    found = fitting(MOTHER, {}, sbp=sbp, dbp=dbp)

    assert found[: len(first)] == first
    if sbp >= 160:
        assert not PRESSORS & {*found}
        assert "crystalloid-bolus" not in found


@pytest.mark.parametrize("patient", [adult(), adult(pregnancy_weeks=12), child(8, 25)])
def test_the_same_pressure_in_others_opens_none_of_it(patient):
    assert not {"magnesium-sulfate", "labetalol", "hydralazine"} & {*fitting(patient, {}, sbp=178, dbp=116)}


def test_edema_of_the_lungs_with_a_high_pressure_calls_for_nitroglycerin():
    """Summaries of heart-failure guidelines: nitroglycerin from a systolic of 95-100 on; then furosemide."""
    found = fitting(adult(), {"lungs": "crackles"}, impression="cardiogenic", sbp=214, dbp=118)

    assert found[:3] == ["nitroglycerin-tongue", "nitroglycerin-infusion", "furosemide"]
    assert not PRESSORS & {*found}


@pytest.mark.parametrize(("sbp", "dbp"), [(84, 58), (102, 66)])
def test_in_cardiogenic_shock_it_is_not_offered(sbp, dbp):
    """European heart-failure guidelines (from memory): with a systolic above 110."""
    found = fitting(adult(), {"lungs": "crackles"}, impression="cardiogenic", sbp=sbp, dbp=dbp)

    assert not {"nitroglycerin-tongue", "nitroglycerin-infusion", "furosemide"} & {*found}
    assert {*found} >= PRESSORS


def test_a_pressor_still_fits_a_pressure_at_its_goal():
    """MAP 70 with a goal of 65: what runs is kept, so the line stays in reach; 15 mmHg above it is another matter."""
    assert "norepinephrine-infusion" in fitting(adult(), {}, impression="septic", sbp=100, dbp=55)
    assert "norepinephrine-infusion" not in fitting(adult(), {}, impression="septic", sbp=120, dbp=65)


def test_a_slow_heart_of_an_adult_gets_atropine_before_pressors():
    """Life support, adults: atropine, then pacing or an infusion."""
    assert fitting(adult(), {"hr": 32}, impression="cardiogenic", sbp=74, dbp=38)[0] == "atropine"


@pytest.mark.parametrize("patient", [child(2, 12), NEWBORN])
def test_a_slow_heart_of_a_child_does_not_call_for_atropine(patient):
    """Life support, children: oxygen and epinephrine first; newborns: none."""
    found = fitting(patient, {"hr": 48}, sbp=50, dbp=30)

    assert "atropine" not in found
    assert "epinephrine-push-dose" in found


def test_a_newborn_that_does_not_breathe_is_not_offered_naloxone():
    """Newborn resuscitation: not recommended at birth, the baby of a dependent mother can seize."""
    assert "naloxone" not in fitting(NEWBORN, {"rr": 0, "hr": 40}, sbp=50, dbp=30)
    assert fitting(child(2, 5, "months"), {"rr": 8}, sbp=80, dbp=50)[0] == "naloxone"


def test_after_cardiac_arrest_slow_breaths_are_those_of_the_bag():
    back = (PhaseChange("p", PULSE_BACK, ago(5)),)

    assert "naloxone" not in fitting(adult(), {"rr": 10}, phases=back)
    assert fitting(adult(), {"rr": 6})[0] == "naloxone"


def test_obstruction_gets_its_small_bolus_and_the_word_to_end_the_cause_first():
    """Trauma life support courses (from memory): a tension pneumothorax is decompressed at once."""
    rows = guidance(facts(impression="obstructive", signs=QUIET, doses=()), RULES, TEN)

    assert rows[0]["treatment"] == "crystalloid-bolus"
    assert rows[0]["most"] == {"value": 250, "unit": "mL"}
    assert any("decompress" in each for each in rows[0]["cautions"])


def test_a_childs_push_dose_says_when_compressions_come_first():
    """Life support, children (from memory): under 60 with poor perfusion, compressions and 0.01 mg/kg."""
    child_told, adult_told = (told("epinephrine-push-dose", facts(who))["cautions"] for who in (child(2, 12), adult()))

    assert any("ARREST" in each for each in child_told)
    assert not any("ARREST" in each for each in adult_told)
