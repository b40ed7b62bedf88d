"""A disease that forbids a drug, told as an allergy, in the complaint or as a rhythm, and how old an injury must be.

After the acute phase of a burn or a stroke the potassium can stop the heart (succinylcholine prescribing information,
from memory); from a day on and up to two years is chosen.
"""

from __future__ import annotations

import pytest

from dosing.check import limits
from dosing.check.how_long_ago import A_WEEK_H, hours_ago
from dosing.ground.facts import Amount
from tests.dosing.bedside import RULES, adult, check, facts

OVER, ORDER = "over_hard_limit", "needs_order"
TOLD = [
    ("burn", ORDER),
    ("burns 3 days ago", OVER),
    ("burn 40 % TBSA, day 3", OVER),
    ("burn 40 % TBSA 4 days ago", OVER),
    ("3-day-old burn", OVER),
    ("old burn", OVER),
    ("stroke 2 weeks ago", OVER),
    ("burn yesterday", ORDER),
    ("burn 10 years ago", ORDER),
    ("burn in a house fire", ORDER),
    ("burn 2 h ago", ""),
    ("40 yo, burn today", ""),
    ("acute stroke", ""),
    ("no burn", ""),
    ("denies previous stroke", ""),
    ("no history of stroke or burn", ""),
    ("no pulse burn 3 days ago", OVER),
    ("without pain, burn 3 days ago", OVER),
    ("heat stroke", ""),
    ("sunburn", ""),
    ("hyperkalemia", OVER),
    ("muscular dystrophy", OVER),
]
AGAINST = ("contraindicated", "allergy")


def level(treatment, dose, patient=None, **known):
    """How grave the worst is of what is on record against it; a text that nobody recognizes aside."""
    checked = check(
        treatment,
        *dose,
        facts(patient, sbp=150, dbp=95, **known),
        over_min=OVER_MIN.get(treatment),
        stock=STOCK.get(treatment),
    )
    against = [each.level for each in checked.findings if each.code in AGAINST and each.text.startswith("on record")]
    return next((each for each in (OVER, ORDER) if each in against), "")


OVER_MIN = {"magnesium-sulfate": 20, "tranexamic-acid": 10}
STOCK = {
    "succinylcholine": Amount(20, "mg/mL"),
    "rocuronium": Amount(10, "mg/mL"),
    "magnesium-sulfate": Amount(40, "mg/mL"),
}
SUX = ("succinylcholine", (120, "mg"))


@pytest.mark.parametrize(("told", "grave"), TOLD)
def test_no_succinylcholine_some_time_after_an_injury_told_among_the_allergies(told, grave):
    assert level(*SUX, adult(allergies=(told,))) == grave


@pytest.mark.parametrize(("told", "grave"), [*TOLD, ("ALS intercept, chest pain", ""), ("MH crisis team", "")])
def test_nor_where_the_complaint_tells_it(told, grave):
    assert level(*SUX, complaint=told) == grave


@pytest.mark.parametrize(
    ("rhythm", "grave"),
    [("sine wave, hyperkalemia", OVER), ("peaked T waves", OVER), ("sinus, no peaked T waves", ""), ("sinus", "")],
)
def test_nor_with_a_rhythm_of_high_potassium(rhythm, grave):
    assert level(*SUX, signs={"rhythm": rhythm}) == grave


@pytest.mark.parametrize("told", ["burn 40 % TBSA 4 days ago", "hyperkalemia", "stroke 2 weeks ago"])
def test_rocuronium_is_left(told):
    assert level("rocuronium", (90, "mg"), adult(allergies=(told,)), complaint=told) == ""


@pytest.mark.parametrize(
    ("complaint", "grave"), [("myasthenia crisis", OVER), ("no myasthenia", ""), ("preeclampsia", "")]
)
def test_magnesium_never_meets_myasthenia_in_the_complaint(complaint, grave):
    """Contraindicated (ACOG, from memory)."""
    assert level("magnesium-sulfate", (2, "g"), adult(pregnancy_weeks=36), complaint=complaint) == grave


# Prescribing information, from memory: the muscles of breathing are weak already.
@pytest.mark.parametrize(
    ("treatment", "dose", "words"),
    [
        ("midazolam", (2, "mg"), "breathing fails sooner"),
        ("fentanyl", (50, "mcg"), "breathing fails sooner"),
        ("rocuronium", (90, "mg"), "far stronger and longer"),
        ("ketamine", (20, "mg"), ""),
    ],
)
@pytest.mark.parametrize(
    ("allergies", "complaint", "told"),
    [
        (("myasthenia gravis",), "", True),
        (("NKDA. Myasthenia",), "", True),
        ((), "myasthenia crisis", True),
        (("no myasthenia",), "", False),
        (("penicillin",), "chest pain", False),
    ],
)
def test_myasthenia_is_told_before_what_weakens_the_breathing(treatment, dose, words, allergies, complaint, told):
    known = facts(adult(allergies=allergies), sbp=150, dbp=95, complaint=complaint)
    found = check(treatment, *dose, known, stock=STOCK.get(treatment)).findings
    of_it = [(each.code, each.level) for each in found if each.text.startswith("Myasthenia: ") and words in each.text]

    assert of_it == ([("history", "caution")] if told and words else [])


@pytest.mark.parametrize(
    ("told", "hours"),
    [
        ("burn 45 min ago", 0.75),
        ("burn 3 hrs", 3),
        ("an hour ago", 1),
        ("two weeks ago", 14 * 24),
        ("5d", 120),
        ("day 3", 72),
        ("2 mo ago", 60 * 24),
        ("last week", A_WEEK_H),
        ("history of stroke", A_WEEK_H),
        ("57 year old", None),
        ("3rd degree, 2 hands", None),
        ("a house fire", None),
        ("this morning", 0),
    ],
)
def test_how_long_ago_it_was(told, hours):
    assert hours_ago(told) == hours


# No nitrate within a day of sildenafil, two of tadalafil, never with riociguat; an infarct of the right ventricle asks.
@pytest.mark.parametrize(
    ("told", "grave"),
    [
        ("sildenafil taken this morning", OVER),
        ("Viagra this morning", OVER),
        ("chest pain, Viagra 3 h ago", OVER),
        ("Cialis 30 h ago", OVER),
        ("Viagra 30 h ago", ""),
        ("Cialis 3 days ago", ""),
        ("sidenafil", ORDER),
        ("Adempas", ORDER),
        ("no Viagra", ""),
        ("denies taking sildenafil today", ""),
        ("aspirin this morning", ""),
    ],
)
@pytest.mark.parametrize(
    ("treatment", "dose"), [("nitroglycerin-tongue", (0.4, "mg")), ("nitroglycerin-infusion", (10, "mcg/min"))]
)
def test_no_nitrate_after_its_partners_however_they_are_told(treatment, dose, told, grave):
    assert level(treatment, dose, adult(allergies=(told,))) == grave
    assert level(treatment, dose, complaint=told) == grave


@pytest.mark.parametrize(
    ("rhythm", "grave"),
    [
        ("inferior STEMI with right ventricular infarct", ORDER),
        ("inferior STEMI", ORDER),
        ("anterior STEMI", ""),
        ("sinus, no RV infarct", ""),
    ],
)
def test_an_infarct_of_the_right_ventricle_is_told_before_a_nitrate(rhythm, grave):
    assert level("nitroglycerin-tongue", (0.4, "mg"), signs={"rhythm": rhythm}) == grave


# Bronchial asthma is a contraindication of labetalol (prescribing information); a wheeze alone asks, which is chosen.
@pytest.mark.parametrize(
    ("treatment", "dose", "told", "grave"),
    [
        ("labetalol", (20, "mg"), "asthma", OVER),
        ("labetalol", (20, "mg"), "history of asthma", OVER),
        ("labetalol", (20, "mg"), "no asthma", ""),
        ("labetalol", (20, "mg"), "cardiac asthma", ""),
        ("hydralazine", (5, "mg"), "asthma", ""),
        ("esmolol", (40, "mg"), "asthma", ""),
    ],
)
def test_no_labetalol_in_asthma(treatment, dose, told, grave):
    assert level(treatment, dose, complaint=told) == grave
    assert level(treatment, dose, adult(allergies=(told,))) == grave


@pytest.mark.parametrize(("lungs", "grave"), [("wheeze", [ORDER]), ("clear", []), ("diminished", [])])
@pytest.mark.parametrize("indication", ["hypertension", "stroke"])
def test_labetalol_and_a_wheeze_need_an_order(indication, lungs, grave):
    known = facts(sbp=200, dbp=115, signs={"lungs": lungs, "hr": 90, "sbp": 200, "dbp": 115})
    found = check("labetalol", 20, "mg", known, indication=indication).findings

    assert [each.level for each in found if "wheeze" in each.text] == grave


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("zorblaxin 5 mg", True),
        ("xyzzy", True),
        ("metoprolol", False),
        ("Levophed", False),
        ("ondansetron", False),
        ("morphine", False),
    ],
)
def test_of_a_name_that_is_not_recognized_it_is_told_that_nothing_was_checked(name, told):
    (found,) = limits.outside_rule_set(RULES, name=name).findings

    assert ("not recognized" in found.text) == told


# Contraindicated with subarachnoid hemorrhage and an active clot (prescribing information, from memory); three months
# for a clot are chosen.
@pytest.mark.parametrize(
    ("told", "grave"),
    [
        ("fall after subarachnoid hemorrhage", ORDER),
        ("known pulmonary embolism", ORDER),
        ("stroke 2 h ago", ORDER),
        ("inferior STEMI, fell", ORDER),
        ("STEMI", ORDER),
        ("old stroke", ORDER),
        ("stroke 5 years ago", ""),
        ("no stroke", ""),
        ("heat stroke", ""),
        ("stab to the chest", ""),
    ],
)
def test_tranexamic_acid_with_a_clot_or_a_bleeding_round_the_brain_waits_for_an_order(told, grave):
    assert level("tranexamic-acid", (1000, "mg"), complaint=told) == grave
    assert level("tranexamic-acid", (1000, "mg"), adult(allergies=(told,))) == grave
