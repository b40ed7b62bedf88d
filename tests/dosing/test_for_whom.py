"""Which strength is for whom and by which route, and whose breathing is slow."""

import pytest

from dosing.ground.facts import Amount
from dosing.rules.treatment import for_what, titled
from tests.copying import replace
from tests.dosing.bedside import RULES, adult, check, child, codes, facts, told


@pytest.mark.parametrize(
    ("treatment", "dose", "stock", "route", "milliliters"),
    [
        ("atropine", (1, "mg"), Amount(1, "mg/mL"), "IV", 1),
        ("atropine", (1, "mg"), Amount(0.4, "mg/mL"), "IV", 2.5),
        ("naloxone", (4, "mg"), Amount(40, "mg/mL"), "IN", 0.1),
    ],
)
def test_what_is_sold_is_no_wrong_vial(treatment, dose, stock, route, milliliters):
    """Vials of atropine, and the nasal spray of 4 mg in 0.1 mL (labels, from memory)."""
    checked = check(treatment, *dose, stock=stock, route=route)

    assert (checked.verdict, checked.give.volume) == ("within", Amount(milliliters, "mL"))


@pytest.mark.parametrize(("route", "barred"), [("IN", False), ("IM", True), ("IV", True)])
def test_the_nasal_spray_goes_into_the_nose_only(route, barred):
    assert ("wrong_stock" in codes(check("naloxone", 2, "mg", stock=Amount(40, "mg/mL"), route=route))) is barred


@pytest.mark.parametrize(
    ("patient", "percent", "barred"),
    [
        (child(11, 9, "months"), 10, False),
        (child(11, 9, "months"), 25, True),
        (child(3, 3, "days"), 50, True),
        (child(1, 10), 25, False),
        (child(12, 10, "months"), 25, False),
        (adult(), 50, False),
    ],
)
def test_under_a_year_dextrose_is_10_percent_alone(patient, percent, barred):
    """An EMS guideline for newborns, taken for the whole first year."""
    stock = Amount(percent * 10, "mg/mL")

    assert ("wrong_stock" in codes(check("dextrose", 1, "g", facts(patient), stock=stock))) is barred
    offered = told("dextrose", facts(patient))["usual"]
    assert any(one["strength"]["value"] == stock.value for row in offered for one in row["volumes"]) is not barred


@pytest.mark.parametrize(
    ("age", "unit", "breaths", "slow"),
    [
        (3, "months", 18, True),
        (3, "months", 20, False),
        (11, "months", 19, True),
        (1, "years", 18, False),
        (1, "years", 14, True),
        (40, "years", 14, False),
        (40, "years", 11, True),
    ],
)
def test_what_slow_breathing_is_goes_by_age(age, unit, breaths, slow):
    """Field triage: under 20 in an infant; triage of children: under 15; adults under 12 (all from memory)."""
    known = facts(child(age, 10, unit), signs={"rr": breaths})
    found = codes(check("naloxone", 0.4, "mg", known, stock=Amount(0.4, "mg/mL")))

    assert ("signs_missing" in found) is not slow
    assert told("naloxone", known)["relevant"] is slow


def test_what_has_one_indication_alone_needs_no_word_for_what():
    treatment = RULES.treatment("midazolam", "seizure")
    alone = replace(treatment, indications={"seizure": treatment.indications["seizure"]})

    assert (for_what(treatment), for_what(alone)) == (treatment.indications["seizure"].title, "")
    assert (titled(treatment), titled(alone)) == ("midazolam for a seizure", treatment.title)
