"""What an allergy on record bars, by its generic, brand-like and spoken name; what is none, and what nobody recognizes.

Which drug a name stands for is in the trade's monographs; the names here are from memory.
"""

import pytest

from dosing.check.allergies import class_elsewhere, none_known
from tests.dosing.bedside import RULES, adult, check, codes, facts
from tests.dosing.bedside import given as dose

PUSH, DRIP, MUSCLE = "epinephrine-push-dose", "norepinephrine-infusion", "epinephrine-im"
DOSES = {
    PUSH: (10, "mcg"),
    DRIP: (0.1, "mcg/kg/min"),
    MUSCLE: (0.5, "mg"),
    "fentanyl": (20, "mcg"),
    "midazolam": (1, "mg"),
    "tranexamic-acid": (1, "g"),
    "hydrocortisone": (100, "mg"),
    "ketamine": (8, "mg"),
    "naloxone": (0.4, "mg"),
    "crystalloid-bolus": (100, "mL"),
    "rocuronium": (90, "mg"),
    "succinylcholine": (120, "mg"),
    "magnesium-sulfate": (2, "g"),
    "esmolol": (40, "mg"),
}


NONE_KNOWN = ["NKDA", "nka", "NKDA.", "none", "None known", "Nil known", "no known allergies", "no allergies known"]
NONE_KNOWN += ["no allergies", "denies allergies", "no known food or drug allergies", "No known drug allergies"]
SOME = ["sulfite", "no known sulfite allergy", "no allergy to morphine", "no morphine", "NKDA except latex", "unknown"]


@pytest.mark.parametrize(
    ("told", "none"),
    [
        *(((each,), True) for each in NONE_KNOWN),
        *(((each,), False) for each in SOME),
        (("NKDA", "no known allergies"), True),
        (("NKDA", "latex"), False),
        ((), False),
    ],
)
def test_that_none_is_known_is_told_from_an_allergy(told, none):
    assert none_known(told) == none


def level(allergy: str, treatment: str) -> str | None:
    """At which level an allergy is told with a treatment, None where it is not."""
    stocks = RULES.treatments[treatment].stocks
    known = facts(adult(allergies=(allergy,)), sbp=120, dbp=80, doses=(dose("crystalloid-bolus", 60, 1, "mL"),))
    found = check(treatment, *DOSES[treatment], known, stock=stocks[0].amount if stocks else None).findings
    return next((each.level for each in found if each.code == "allergy"), None)


@pytest.mark.parametrize(
    ("allergy", "treatment"),
    [
        *((name, "midazolam") for name in ("benzos", "Benzo", "Versed", "valium - hives", "BENZODIAZEPINES", "Ativan")),
        *(
            (name, "fentanyl")
            for name in ("tramadol", "Dilaudid", "narcotics", "opiates", "morphine sulfate", "Percocet")
        ),
        *((name, "tranexamic-acid") for name in ("TXA", "tranexamic acid", "Cyklokapron")),
        *((name, "hydrocortisone") for name in ("Solu-Medrol", "steroids", "dexamethasone")),
        *(
            (name, PUSH)
            for name in ("sulfites", "sulphites in wine", "sodium metabisulfite", "adrenaline", "epi", "EpiPen")
        ),
        *((name, DRIP) for name in ("sulfite", "Levophed", "noradrenaline")),
        # 31 of 51 who react to one relaxant react to another (2019 study of skin tests, second-hand)
        *((name, "rocuronium") for name in ("Anectine", "vecuronium", "muscle relaxants", "rocuronium")),
        *((name, "succinylcholine") for name in ("Zemuron", "pseudocholinesterase deficiency")),
        *((name, "esmolol") for name in ("metoprolol", "beta blockers", "Brevibloc")),
        ("Narcan", "naloxone"),
        ("no morphine", "fentanyl"),  # said so, it may be one
        ("no known allergies except benzos", "midazolam"),
        ("penicillin, Versed", "midazolam"),
        ("not sure, maybe fentanyl", "fentanyl"),
    ],
)
def test_it_bars_what_it_names_by_whatever_name(allergy, treatment):
    assert level(allergy, treatment) == "needs_order"


@pytest.mark.parametrize(
    "allergy",
    [
        *("no known sulfite allergy", "NKDA", "NKA", "none", "none known", "no known drug allergies", "Nil known"),
        *(
            "denies allergies",
            "no allergy to morphine",
            "not allergic to epinephrine",
            "no reactions",
            "without known allergies",
        ),
    ],
)
@pytest.mark.parametrize("treatment", [PUSH, "fentanyl", "midazolam"])
def test_a_denial_is_no_allergy(allergy, treatment):
    assert level(allergy, treatment) is None


@pytest.mark.parametrize(
    "allergy",
    ["penicillin", "sulfa", "Bactrim", "shellfish", "bee stings", "latex", "NSAIDs", "contrast dye", "peanuts"],
)
@pytest.mark.parametrize("treatment", [PUSH, "fentanyl", "tranexamic-acid"])
def test_another_allergy_is_recognized_and_bars_nothing(allergy, treatment):
    assert level(allergy, treatment) is None


@pytest.mark.parametrize("allergy", ["zorbaflex", "that blue pill", "unknown"])
def test_what_nobody_recognizes_is_to_be_checked_by_eye(allergy):
    assert level(allergy, "fentanyl") == "caution"
    assert level(allergy, "crystalloid-bolus") is None  # of which a rule set names nothing

    found = check("fentanyl", 20, "mcg", facts(adult(allergies=(allergy,)), sbp=120, dbp=80)).findings
    assert f"allergy on record: {allergy}: not recognized, check it yourself" in [each.text for each in found]


@pytest.mark.parametrize("allergy", ["adrenaline", "sulfite", "zorbaflex"])
def test_nothing_holds_epinephrine_into_the_muscle_back(allergy):
    assert "allergy" not in codes(
        check(MUSCLE, 0.5, "mg", facts(adult(allergies=(allergy,)), impression="anaphylactic"))
    )


@pytest.mark.parametrize(
    ("allergy", "treatment"),
    [("benzoin", "midazolam"), ("oxygen", "fentanyl"), ("non-steroidal", "hydrocortisone"), ("episode of hives", PUSH)],
)
def test_a_part_of_a_word_is_no_name(allergy, treatment):
    assert level(allergy, treatment) in (None, "caution")


@pytest.mark.parametrize(("allergy", "treatment"), [("malignant hyperthermia", "rocuronium"), ("diltiazem", "esmolol")])
def test_what_speaks_against_one_leaves_the_other(allergy, treatment):
    assert level(allergy, treatment) is None


# Succinylcholine label, contraindications (read).
@pytest.mark.parametrize(
    ("told", "treatment", "barred"),
    [
        ("malignant hyperthermia", "succinylcholine", True),
        ("mother: MH", "succinylcholine", True),
        ("latex, malignant hyperthermia", "succinylcholine", True),
        ("malignant hyperthermia", "rocuronium", False),
        *[("myasthenia gravis", "magnesium-sulfate", True), ("latex", "magnesium-sulfate", False)],  # ACOG, from memory
        ("melanoma", "succinylcholine", False),
    ],
)
def test_no_order_makes_right_what_a_disease_forbids(told, treatment, barred):
    known = facts(adult(allergies=(told,)), sbp=120, dbp=80)
    found = check(treatment, *DOSES[treatment], known, stock=RULES.treatments[treatment].stocks[0].amount).findings

    assert any(each.code == "contraindicated" and told in each.text for each in found) is barred


@pytest.mark.parametrize(
    ("name", "drug_class"),
    [("morphine", "opioid"), ("metoprolol", "beta-blocker"), ("penicillin", ""), ("water", ""), ("fentanyl", "")],
)
def test_of_which_class_a_drug_is_that_the_rules_lack(name, drug_class):
    """Monographs, from memory; a drug that the rule set has is its own to class."""
    assert class_elsewhere(name, RULES) == drug_class
