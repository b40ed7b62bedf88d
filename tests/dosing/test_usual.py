"""The amounts that are offered: usual ones, each with its volume, none beyond the standing limits of this patient."""

from __future__ import annotations

import pytest

from dosing import rule_set
from dosing.facts import Amount
from dosing.text import amount_text
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, check, child, codes, facts, told

FLUID, PUSH, MUSCLE = "crystalloid-bolus", "epinephrine-push-dose", "epinephrine-im"
NOREPINEPHRINE = "norepinephrine-infusion"
NEWBORN = child(10, 3.4, "days")
RATES = ["0.05 mcg/kg/min = 15 mL/h", "0.2 mcg/kg/min = 60 mL/h", "0.5 mcg/kg/min = 150 mL/h"]
PATIENTS = [adult(), adult(None), adult(43.7), child(), child(3, 13.7), child(0.5, 7), child(5, None), NEWBORN]


def in_words(amount: dict) -> str:
    return amount_text(Amount(**amount))


def offered(treatment, patient, rules=RULES, **more):
    """Each amount as it is said, with its first volume where the amount is none itself."""
    rows = told(treatment, facts(patient, **more), rules)["usual"]
    return [" = ".join(map(in_words, [row["amount"], *(one["volume"] for one in row["volumes"][:1])])) for row in rows]


# Fluid of a child: 10 and 20 mL/kg (Surviving Sepsis Campaign, children 2020) and the most of the rules, 30 mL/kg.
# Push dose 10 and 20 mcg of 10 mcg per mL (critical-care transport regimen); by weight 1 mcg/kg (REBEL EM).
# Others: the least and most of the rule set, and between them the geometric middle in one digit, worked by hand.
@pytest.mark.parametrize(
    ("treatment", "patient", "amounts"),
    [
        (FLUID, child(5, 18), ["180 mL", "360 mL", "540 mL"]),
        (FLUID, child(3, 13.7), ["135 mL", "270 mL", "410 mL"]),  # 137, 274, 411
        (FLUID, NEWBORN, ["8 mL", "17 mL", "34 mL"]),  # 10 mL/kg is the most of a newborn
        (FLUID, adult(80), ["250 mL", "500 mL", "1,000 mL"]),
        (PUSH, adult(80), ["10 mcg = 1 mL", "20 mcg = 2 mL"]),
        (PUSH, child(0.5, 7), ["1 mcg = 0.1 mL", "7 mcg = 0.7 mL", "10 mcg = 1 mL"]),
        (PUSH, child(5, 18), ["1 mcg = 0.1 mL", "3 mcg = 0.3 mL", "10 mcg = 1 mL"]),
        (PUSH, child(5, None), []),
        ("phenylephrine-push-dose", adult(80), ["50 mcg = 0.5 mL", "100 mcg = 1 mL", "200 mcg = 2 mL"]),
        (MUSCLE, adult(None), ["0.3 mg = 0.3 mL", "0.5 mg = 0.5 mL"]),
        (MUSCLE, child(3, 13.7), ["0.13 mg = 0.13 mL"]),  # 0.137 mL: a 1 mL syringe reads 0.01 mL
        # 80 kg at 16 mcg per mL: 0.05 x 80 x 60 / 16 = 15 mL/h
        (NOREPINEPHRINE, adult(80), RATES),
        (NOREPINEPHRINE, adult(None), ["2 mcg/min = 7.5 mL/h", "8 mcg/min = 30 mL/h", "30 mcg/min = 113 mL/h"]),
        ("tranexamic-acid", child(0.5, 7), ["100 mg = 1 mL"]),  # 15 mg/kg: 1.05 mL, a 3 mL syringe reads 0.1 mL
        ("blood-product", adult(80), ["1 bag"]),
    ],
)  # fmt: skip
def test_the_usual_amounts_with_their_volumes(treatment, patient, amounts):
    assert offered(treatment, patient) == amounts


def test_in_bleeding_the_steps_are_small():
    assert offered(FLUID, adult(80), impression="hemorrhagic") == ["60 mL", "125 mL", "250 mL"]


def test_every_strength_has_its_pump_rate():
    first = told(NOREPINEPHRINE, facts(adult(80)))["usual"][0]["volumes"]

    assert [(in_words(one["strength"]), in_words(one["volume"])) for one in first] == [
        ("16 mcg per mL", "15 mL/h"),
        ("32 mcg per mL", "7.5 mL/h"),
        ("64 mcg per mL", "3.75 mL/h"),
    ]


def test_a_childs_bolus_names_the_sources_of_the_childs_numbers():
    shown = told(FLUID, facts(child(5, 18)))

    assert [(in_words(row["per_kg"]), row["source"].split(":")[0]) for row in shown["usual"]] == [
        ("10 mL/kg", "Surviving Sepsis Campaign, children 2020"),
        ("20 mL/kg", "Surviving Sepsis Campaign, children 2020"),
        ("30 mL/kg", "Chosen"),
    ]
    assert not any("adults" in source for source in shown["limit_sources"])


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("patient", PATIENTS, ids=lambda who: f"{who.age.value:g} {who.age.unit} {who.weight}")
def test_what_is_offered_is_never_beyond_the_standing_limits(patient, rules: rule_set.RuleSet):
    beyond = {"above_most", "above_hard_limit", "below_least", "weight_unknown"}
    for treatment in rules.treatments:
        known = facts(patient)
        for row in told(treatment, known, rules)["usual"]:
            amount = row["amount"]
            found = codes(check(treatment, amount["value"], amount["unit"], known, rules=rules))
            assert not found & beyond, (treatment, amount)
