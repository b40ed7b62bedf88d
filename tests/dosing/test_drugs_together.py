"""Two drugs that must not act together, whoever gave the first and by whatever name it was told."""

from __future__ import annotations

import pytest

from dosing.ground.airways import Airway
from dosing.ground.facts import Amount, Dose
from tests.dosing.bedside import adult, ago, check, child, facts, given

FINE = {"sbp": 130, "dbp": 80}
FAST = {"hr": 160, "rr": 16, "sbp": 190, "dbp": 115}
ORDER, OVER, CAUTION = "needs_order", "over_hard_limit", "caution"
TUBE = Airway(id="tube", at=ago(3), site="Tube", outcome="done")


def other(name, minutes_ago, route="IV"):
    """A dose of a drug that the rule set lacks."""
    return Dose(id=name, treatment="other", name=name, given_at=ago(minutes_ago), route=route)


def of_rules(treatment, minutes_ago, value, unit, **more):
    return given(treatment, minutes_ago, value, unit, route="IV", **more)


def grave(code, treatment, dose, before, **more):
    """How grave a finding is after these doses; empty where there is none."""
    known = facts(adult(), **FINE, signs=FAST, doses=before, airways=more.pop("airways", ()))
    found = check(treatment, *dose, known, **more).findings
    return max((each.level for each in found if each.code == code), default="")


# Diltiazem label (read): no beta-blocker into a vein within a few hours. Esmolol label (read): no such calcium-channel
# blocker while it acts. Three hours are chosen.
@pytest.mark.parametrize(
    ("treatment", "dose", "before", "level"),
    [
        ("diltiazem", (20, "mg"), of_rules("esmolol", 10, 40, "mg"), OVER),
        ("diltiazem", (20, "mg"), of_rules("labetalol", 180, 20, "mg"), OVER),
        ("diltiazem", (20, "mg"), of_rules("esmolol", 181, 40, "mg"), ""),
        ("diltiazem", (20, "mg"), of_rules("esmolol-infusion", 300, 50, "mcg/kg/min", status="running"), OVER),
        ("diltiazem", (20, "mg"), of_rules("esmolol-infusion", 300, 50, "mcg/kg/min", ended_at=ago(60)), OVER),
        ("diltiazem", (20, "mg"), of_rules("esmolol-infusion", 300, 50, "mcg/kg/min", ended_at=ago(190)), ""),
        ("diltiazem", (20, "mg"), other("metoprolol 5 mg", 20), OVER),
        ("diltiazem", (20, "mg"), other("Lopressor", 20), OVER),
        ("diltiazem", (20, "mg"), other("metroprolol", 20), OVER),
        ("diltiazem", (20, "mg"), other("Toprol", 20), OVER),
        ("diltiazem", (20, "mg"), other("landiolol", 20), OVER),
        ("diltiazem", (20, "mg"), other("metoprolol 50 mg", 20, route="PO"), ""),
        ("diltiazem", (20, "mg"), other("ondansetron", 20), ""),
        ("esmolol", (40, "mg"), of_rules("diltiazem", 10, 20, "mg"), OVER),
        ("esmolol", (40, "mg"), other("verapamil", 10), OVER),
        ("esmolol", (40, "mg"), of_rules("labetalol", 10, 20, "mg"), ""),
    ],
)
def test_no_beta_blocker_meets_diltiazem_in_the_blood(treatment, dose, before, level):
    assert grave("contraindicated", treatment, dose, (before,)) == level


@pytest.mark.parametrize(
    ("treatment", "dose", "before", "level"),
    [
        ("labetalol", (20, "mg"), of_rules("diltiazem", 10, 20, "mg"), ORDER),
        ("labetalol", (20, "mg"), other("verapamil", 10), ORDER),
        ("labetalol", (20, "mg"), of_rules("diltiazem", 181, 20, "mg"), ""),
        ("labetalol", (20, "mg"), other("nicardipine", 10), ""),
        ("amiodarone", (150, "mg"), of_rules("lidocaine", 5, 100, "mg"), CAUTION),
        ("amiodarone", (150, "mg"), of_rules("lidocaine", 61, 100, "mg"), ""),
        ("amiodarone", (150, "mg"), of_rules("amiodarone", 12, 150, "mg"), ""),
        ("lidocaine", (80, "mg"), of_rules("amiodarone", 5, 300, "mg"), CAUTION),
    ],
)
def test_what_only_adds_up_is_told(treatment, dose, before, level):
    assert grave("history", treatment, dose, (before,)) == level


# Morphine, lorazepam and propofol are what they are whether or not a rule set has them (monographs, from memory).
@pytest.mark.parametrize(
    ("treatment", "dose", "before", "code", "level"),
    [
        ("fentanyl", (50, "mcg"), other("morphine", 4), "too_soon", ORDER),
        ("fentanyl", (50, "mcg"), other("Dilaudid 1 mg", 4), "too_soon", ORDER),
        ("fentanyl", (50, "mcg"), other("morphine", 11), "too_soon", ""),
        ("fentanyl", (50, "mcg"), other("acetaminophen", 4), "too_soon", ""),
        ("midazolam", (2, "mg"), other("lorazepam 2 mg", 3), "too_soon", ORDER),
        ("midazolam", (2, "mg"), other("propofol", 3), "too_soon", ORDER),
        ("midazolam", (2, "mg"), other("hydromorphone", 3), "opioid_with_sedative", CAUTION),
        ("fentanyl", (50, "mcg"), other("Ativan", 3), "opioid_with_sedative", CAUTION),
        ("fentanyl", (50, "mcg"), other("haloperidol", 3), "opioid_with_sedative", ""),
    ],
)
def test_an_opioid_or_sedative_that_the_rules_lack_counts_as_one(treatment, dose, before, code, level):
    assert grave(code, treatment, dose, (before,)) == level


# Midazolam label, boxed warning (from memory): with an opioid the breathing stops. That it acts for 60 min, 120 by
# mouth or into a muscle, is chosen. Within 10 min another finding tells it.
@pytest.mark.parametrize("airways", [(), (TUBE,)])
@pytest.mark.parametrize(
    ("treatment", "dose", "before", "level"),
    [
        ("fentanyl", (50, "mcg"), of_rules("midazolam", 11, 5, "mg"), CAUTION),
        ("fentanyl", (50, "mcg"), of_rules("midazolam", 10, 5, "mg"), ""),
        ("fentanyl", (50, "mcg"), of_rules("midazolam", 60, 5, "mg"), CAUTION),
        ("fentanyl", (50, "mcg"), of_rules("midazolam", 61, 5, "mg"), ""),
        ("fentanyl", (50, "mcg"), given("midazolam", 119, 10, "mg", route="IM"), CAUTION),
        ("fentanyl", (50, "mcg"), given("midazolam", 121, 10, "mg", route="IM"), ""),
        ("fentanyl", (50, "mcg"), other("lorazepam 2 mg", 30), CAUTION),
        ("fentanyl", (50, "mcg"), other("morphine 10 mg", 30), CAUTION),
        ("fentanyl", (50, "mcg"), other("methadone", 110, route="PO"), CAUTION),
        ("fentanyl", (50, "mcg"), other("fentanyl patch", 110, route=""), CAUTION),
        ("fentanyl", (50, "mcg"), other("haloperidol", 30), ""),
        ("fentanyl", (50, "mcg"), of_rules("fentanyl", 15, 50, "mcg"), ""),
        ("midazolam", (2, "mg"), of_rules("fentanyl", 30, 100, "mcg"), CAUTION),
        ("midazolam", (2, "mg"), other("hydromorphone", 59), CAUTION),
        ("midazolam", (2, "mg"), of_rules("midazolam", 30, 2, "mg"), ""),
        ("ketamine", (20, "mg"), other("morphine", 30), CAUTION),
    ],
)
def test_an_opioid_or_sedative_that_still_acts_is_told_without_a_tube(treatment, dose, before, level, airways):
    known = facts(adult(), **FINE, signs=FAST, doses=(before,), airways=airways)
    found = check(treatment, *dose, known, stock=Amount(50, "mg/mL") if treatment == "ketamine" else None).findings
    of_it = [each.level for each in found if "it still acts; together they can stop the breathing" in each.text]

    assert of_it == ([level] if level and not airways else [])


# Who is paralyzed may be awake (pharmacists' airway series, read): a sedative before, and again by the clock.
@pytest.mark.parametrize(
    ("before", "told"),
    [
        ((), True),
        ((of_rules("fentanyl", 2, 80, "mcg"),), True),
        ((of_rules("etomidate", 1, 24, "mg"),), False),
        ((of_rules("ketamine", 1, 160, "mg", indication="induction"),), False),
        ((other("propofol", 1),), False),
    ],
)
@pytest.mark.parametrize(("relaxant", "dose"), [("rocuronium", (90, "mg")), ("succinylcholine", (120, "mg"))])
def test_a_relaxant_asks_for_a_sedative_first(relaxant, dose, before, told):
    found = check(relaxant, *dose, facts(adult(), **FINE, doses=before), stock=Amount(20, "mg/mL")).findings

    assert any(each.code == "signs_missing" and "may be awake" in each.text for each in found) == told


@pytest.mark.parametrize(
    ("airways", "before", "level"),
    [
        ((TUBE,), of_rules("etomidate", 4, 24, "mg"), CAUTION),
        ((), of_rules("etomidate", 4, 24, "mg"), ORDER),
        ((TUBE,), of_rules("ketamine", 4, 80, "mg", indication="intubated"), ORDER),
        ((TUBE,), of_rules("etomidate", 11, 24, "mg"), ""),
    ],
)
def test_on_a_tube_sedation_does_not_wait_for_another_drug(airways, before, level):
    more = {"indication": "intubated", "stock": Amount(50, "mg/mL"), "airways": airways}

    assert grave("too_soon", "ketamine", (60, "mg"), (before,), **more) == level


def test_with_a_tube_a_pressor_still_waits_for_another():
    before = of_rules("phenylephrine-push-dose", 1, 100, "mcg")

    assert grave("too_soon", "epinephrine-push-dose", (10, "mcg"), (before,), airways=(TUBE,)) == ORDER


# Fentanyl label (from memory): not within 14 days of an MAO inhibitor.
@pytest.mark.parametrize(
    ("treatment", "dose", "history", "told"),
    [
        ("fentanyl", (50, "mcg"), ("maoi",), True),
        ("fentanyl", (50, "mcg"), ("beta_blocker",), False),
        ("midazolam", (2, "mg"), ("maoi",), False),
    ],
)
def test_an_opioid_and_an_mao_inhibitor_are_told(treatment, dose, history, told):
    known = facts(adult(history=history), **FINE, signs=FAST)

    assert any(each.code == "history" for each in check(treatment, *dose, known).findings) == told


def test_it_is_told_for_how_long_they_must_be_apart():
    before = of_rules("esmolol", 10, 40, "mg")
    (found,) = (
        each
        for each in check("diltiazem", 20, "mg", facts(**FINE, signs=FAST, doses=(before,))).findings
        if each.code == "contraindicated"
    )

    assert found.limit == Amount(180, "min")
    assert found.text.startswith("esmolol bolus at 09:50 UTC: ")


# To 28 days of age not where calcium is given by vein (ceftriaxone prescribing information); 48 h from an older label.
@pytest.mark.parametrize(
    ("days", "route", "minutes_ago", "level"),
    [
        (5, "IM", 30, OVER),
        (27, "IM", 30, OVER),
        (28, "IM", 30, OVER),
        (28, "IV", 30, OVER),
        (29, "IM", 30, ""),
        (28, "IM", 2881, ""),
    ],
)
@pytest.mark.parametrize("treatment", ["crystalloid-bolus", "calcium-gluconate", "calcium-chloride"])
def test_no_calcium_into_a_newborn_after_ceftriaxone_by_any_needle(treatment, days, route, minutes_ago, level):
    before = Dose(id="before", treatment="ceftriaxone", given_at=ago(minutes_ago), amount=Amount(0.2, "g"), route=route)
    known = facts(child(days, 4, "days"), sbp=50, dbp=30, doses=(before,))
    dose, product = ((40, "mL"), "Hartmann's") if treatment == "crystalloid-bolus" else ((80, "mg"), None)
    found = check(treatment, *dose, known, product=product).findings

    assert {each.level for each in found if "crystals" in each.text and each.level == OVER} == {level} - {""}


# An hour, about as long as rocuronium paralyzes, is chosen; vecuronium is a relaxant (monographs, from memory).
@pytest.mark.parametrize(
    ("treatment", "before", "level"),
    [
        ("rocuronium", of_rules("succinylcholine", 5, 100, "mg"), CAUTION),
        ("rocuronium", of_rules("rocuronium", 5, 80, "mg"), CAUTION),
        ("rocuronium", other("vecuronium", 5), CAUTION),
        ("rocuronium", of_rules("rocuronium", 61, 80, "mg"), ""),
        ("rocuronium", of_rules("ketamine", 5, 80, "mg"), ""),
        ("succinylcholine", of_rules("rocuronium", 5, 80, "mg"), CAUTION),
        ("succinylcholine", other("Anectine", 5), CAUTION),
        ("succinylcholine", of_rules("etomidate", 5, 20, "mg"), ""),
    ],
)
def test_a_relaxant_soon_after_a_relaxant_is_told(treatment, before, level):
    assert grave("history", treatment, (80, "mg"), (before,)) == level
