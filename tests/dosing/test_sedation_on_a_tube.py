"""Sedation after intubation is for a tube that is on record; what holds the airway open by hand is none."""

from __future__ import annotations

import pytest

from dosing.check.case import bedside
from dosing.ground.airways import Airway
from dosing.ground.facts import Amount, Order
from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, facts, told

FINE = {"sbp": 120, "dbp": 80}
BAD = {"rr": 6, "spo2": 84, "gcs": 6, "avpu": None}
WELL = {"rr": 16, "spo2": 97}
DOSES = {"midazolam": (2, "mg", "1 mg/mL"), "ketamine": (60, "mg", "50 mg/mL"), "fentanyl": (60, "mcg", "50 mcg/mL")}
OVER = "over_hard_limit"


def airway(site, minutes_ago=3, outcome="done"):
    return Airway(id=f"{site} {minutes_ago}", at=ago(minutes_ago), site=site, outcome=outcome)


def sedated(treatment, known, **more):
    """The verdict on a usual dose after intubation."""
    value, unit, strength = DOSES[treatment]
    number, of = strength.split()
    return check(treatment, value, unit, known, indication="intubated", stock=Amount(float(number), of), **more)


# Midazolam label, boxed warning: breathing can stop; National Model EMS Clinical Guidelines (both from memory).
@pytest.mark.parametrize("treatment", DOSES)
@pytest.mark.parametrize(
    ("patient", "signs", "airways", "stopped"),
    [
        (adult(), BAD, (), True),
        (adult(), WELL, (), True),
        (adult(care_limits="no_intubation"), BAD, (), True),
        (child(6, 20), WELL, (), True),
        (adult(), BAD, (airway("Bag and mask"),), True),
        (adult(), BAD, (airway("OPA size 3"),), True),
        (adult(), BAD, (airway("Tube", outcome="failed"),), True),
        (adult(), BAD, (airway("Tube", -1),), True),
        (adult(), BAD, (airway("Tube", 9), airway("Bag and mask", 2)), True),
        (adult(), BAD, (airway("Tube"),), False),
        (adult(), BAD, (airway("tube 7.5, 22 cm, placed at the hospital", 300),), False),
        (adult(), BAD, (airway("Supraglottic"),), False),
        (adult(), BAD, (airway("laryngeal mask 4"),), False),
        (adult(), BAD, (airway(None),), False),  # a question, below
        (adult(), BAD, (airway("Bag and mask", 9), airway("nasal tube", 2)), False),
    ],
)
def test_nobody_is_sedated_as_on_a_tube_without_one(treatment, patient, signs, airways, stopped):
    known = facts(patient, signs=signs, airways=airways, **FINE)
    found = sedated(treatment, known).findings

    assert any(each.level == OVER and "record it first" in each.text for each in found) == stopped


# Said of an airway in the field: ours, no source.
NONE = [
    "airway patent", "airway opened", "no tube", "tube not placed", "unable to intubate", "intubation planned",
    "extubated", "tube pulled", "self-extubated", "NG tube", "Guedel + NG tube", "chest tube", "tube out",
    "esophageal tube", "nasogastric tube", "feeding tube", "ETT 7.5, removed", "couldn\u2019t place ETT",
    "no ETT or LMA", "ETT?", "i-gel came out", "ETT 7.5, withdrawn", "laryngeal mask not tolerated", "tube, chest",
]  # fmt: skip
UNCLEAR = [
    None, "", "placed", "stoma", "tube xyz", "failed ETT, i-gel in", "laryngeal edema", "ETT available", "have LMA",
    "trach collar", "Dr. King", "preparing, Tube",
]  # fmt: skip
SECURED = [
    "Tube", "Supraglottic", "Tube, 7.5, 22 cm", "ETT 7.5 confirmed by capnography", "i-gel 4", "i gel size 4", "LMA",
    "trach", "King LT", "intubated prior to arrival", "ETT 7.5, NG tube placed", "ETT, OPA as a bite block",
    "oral tube 7.0", "re-intubated", "Tube, 7.5, first attempt, no complications", "surgical cricothyrotomy",
    "tracheostomy 6.0 cuffed", "intubation successful",
]  # fmt: skip


@pytest.mark.parametrize("treatment", DOSES)
@pytest.mark.parametrize(
    ("sites", "level"),
    [
        *(([site], OVER) for site in NONE),
        *(([site], "needs_order") for site in UNCLEAR),
        *(([site], "") for site in SECURED),
        *((["ETT 7.5", site], OVER) for site in ("extubated", "Bag and mask", "airway patent")),
        *((["extubated", site], "") for site in ("Tube", "i-gel")),
        (["Bag and mask", None], "needs_order"),
    ],
)
def test_only_words_that_name_a_tube_secure_an_airway(treatment, sites, level):
    """The newest entry decides; what nobody can tell is asked, and a physician may answer it."""
    airways = tuple(airway(site, 30 - 20 * number) for number, site in enumerate(sites))
    known = facts(signs=BAD, airways=airways, **FINE)
    found = sedated(treatment, known)
    of_it = [each.level for each in found.findings if "record it first" in each.text or "which airway" in each.text]

    assert of_it == ([level] if level else [])
    assert (found.verdict == OVER) == (level == OVER)


# Done beside a tube, which stays; what speaks of breathing without it, or of another, does not leave it. From memory.
BESIDE = [
    "NG tube", "OG tube", "suction", "oral suction", "Guedel as bite block", "cuff checked", "EtCO2 confirmed",
    "bite block", None, "", "OPA", "chest tube left", "ETT suctioned", "tube rechecked", "tube, suction",
]  # fmt: skip
GONE = [
    "NG tube, ETT out", "suction, tube pulled", "extubated", "bag and mask", "BVM, suction", "own airway",
    "tube in stomach", "dislodged", "Guedel, bagged", "nasal cannula", "NG tube, not intubated", "CPAP mask",
]  # fmt: skip


@pytest.mark.parametrize("treatment", DOSES)
@pytest.mark.parametrize(
    ("sites", "secured"),
    [
        *((["ETT 7.5", site], True) for site in BESIDE),
        (["ETT 7.5", "NG tube", None, "suction"], True),
        *((["ETT 7.5", site], False) for site in GONE),
        (["ETT 7.5", "extubated", "suction"], False),
        (["ETT 7.5", "bag and mask", "NG tube"], False),
        *(([site], False) for site in BESIDE if site in {"NG tube", "OPA", "suction", None}),
        (["ETT 7.5", "tube xyz"], False),
    ],
)
def test_what_is_done_beside_a_tube_leaves_it_in_place(treatment, sites, secured):
    airways = tuple(airway(site, 20 - 4 * number) for number, site in enumerate(sites))
    known = facts(signs=BAD, airways=airways, **FINE)
    found = sedated(treatment, known)

    assert bedside(known, RULES, TEN).airway_secured == secured
    assert (found.verdict in (OVER, "needs_order")) != secured


@pytest.mark.parametrize(("outcome", "level"), [("failed", "needs_order"), ("attempted", "needs_order"), ("done", "")])
def test_an_airway_that_fails_after_a_tube_leaves_open_what_is_in_place(outcome, level):
    known = facts(signs=BAD, airways=(airway("i-gel", 9), airway("Tube", 2, outcome)), **FINE)
    found = [each.level for each in sedated("fentanyl", known).findings if "which airway" in each.text]

    assert found == ([level] if level else [])


@pytest.mark.parametrize("treatment", DOSES)
def test_an_order_does_not_put_the_tube_in(treatment):
    value, unit, _ = DOSES[treatment]
    ordered = Order(id="1", treatment=treatment, amount=Amount(value, unit), state="read_back", indication="intubated")

    assert sedated(treatment, facts(signs=BAD, **FINE), order=ordered).verdict == OVER
    assert sedated(treatment, facts(signs=BAD, airways=(airway("Tube"),), **FINE), order=ordered).verdict != OVER


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("treatment", DOSES)
def test_it_is_offered_once_the_tube_is_on_record(treatment, rules):
    """What it will be is told before, for a phone without a link: told as for another phase."""
    without, with_tube = facts(signs=WELL, **FINE), facts(signs=WELL, airways=(airway("Tube"),), **FINE)
    before, after = (told(treatment, each, rules, "intubated") for each in (without, with_tube))

    assert [each["code"] for each in before["findings"] if each["level"] == OVER] == ["phase"]
    assert not any(each["level"] == OVER for each in after["findings"])
    assert before["most"] == after["most"] is not None


def test_the_other_uses_ask_for_no_tube():
    known = facts(signs=WELL, **FINE)
    rows = {row["treatment"]: row for row in guidance.guidance(known, RULES, TEN)}
    asking = {
        (slug, row["indication"])
        for slug in DOSES
        for row in rows[slug]["indications"]
        if any("record it first" in each["text"] for each in row["findings"])
    }

    assert asking == {(slug, "intubated") for slug in DOSES}
    assert check("fentanyl", 60, "mcg", known, indication="pain").verdict == "within"
    assert not bedside(known, RULES, TEN).airway_secured
