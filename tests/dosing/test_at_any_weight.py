"""Which treatments are the same at any weight, so that a corrected one takes nothing away from a page kept before."""

import pytest

from dosing.check.bands import at_any_weight
from dosing.ground.facts import Age, Patient, Weight
from dosing.ground.patient import weight_decides
from dosing.tell.guidance import guidance
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, child, facts

AMOUNTS = ("least", "guide", "start", "most", "volumes", "usual", "by_route", "left", "interval", "cautions", "held")


@pytest.mark.parametrize(
    ("treatment", "indication", "who", "same"),
    [
        ("epinephrine-push-dose", "", "adult", True),  # 10 to 20 mcg: common practice, no source
        ("epinephrine-push-dose", "", "child", False),  # 1 mcg/kg: common practice, no source
        ("crystalloid-bolus", "", "adult", False),  # 30 mL/kg in all: Surviving Sepsis, from memory
        ("norepinephrine-infusion", "", "adult", False),
        ("vasopressin-infusion", "", "adult", True),  # 0.03 units/min: label, from memory
        ("midazolam", "sedation", "adult", True),
        ("midazolam", "seizure", "adult", False),  # 10 mg IM above 40 kg, 5 mg to 40 kg: RAMPART, from memory
        ("adenosine", "", "adult", False),  # by the kg under 50 kg: label, from memory
    ],
)
def test_what_has_neither_an_amount_per_kg_nor_an_edge_of_weight(treatment, indication, who, same):
    assert at_any_weight(RULES.treatment(treatment, indication or None), who) is same


@pytest.mark.parametrize(("years", "decides"), [(11, False), (12, True), (17, True), (18, False), (None, False)])
def test_from_12_to_18_years_the_weight_says_whose_doses_they_are(years, decides):
    """50 kg make an adult of them: common practice, no source."""
    assert weight_decides(Patient(age=years and Age(years, "years"))) is decides


@pytest.mark.parametrize("patient", [adult(), child(18, 5)], ids=["adult", "child"])
def test_of_such_a_treatment_guidance_says_the_same_at_every_weight(patient):
    who = "adult" if patient.age.value > 17 else "child"

    def told(kg):
        weight = kg and Weight(kg)
        rows = guidance(replace(facts(patient), patient=replace(patient, weight=weight)), RULES, TEN)
        rows = [row for each in rows for row in (each["indications"] or [each])]
        of = [(RULES.treatment(row["treatment"], row["indication"] or None), row) for row in rows]
        same = [row for treatment, row in of if at_any_weight(treatment, who)]
        return {(row["treatment"], row["indication"]): {name: row.get(name) for name in AMOUNTS} for row in same}

    first = told(80)
    assert len(first) > (30 if who == "adult" else 0)
    assert [told(kg) for kg in (8, 39, 49, 51, 160, None)] == [first] * 6
