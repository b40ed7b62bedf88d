"""Drugs of arrest, rhythm, seizure, pain and intubation: each limit and volume of the published table.

A row names treatment, indication and route as ``midazolam/seizure/IM``, and the patient as ``adult 80 kg`` or
``child 5 years 18 kg``; ``low`` beside it is a pressure under the limits of sedation.
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Facts
from dosing.ground.phases import PhaseChange
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, child, codes, facts, given, told
from tests.dosing.dosing_values import ROWS

TABLE = [row for row in ROWS.values() if row["topic"] == "formulary-rhythm"]
IN_ARREST = (PhaseChange("arrest", "arrest", ago(10)),)
LIMITS = {"above_most", "above_hard_limit"}
BOTH = pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)


def of(*quantities: str) -> list[object]:
    return [pytest.param(row, id=row["id"]) for row in TABLE if row["quantity"] in quantities]


def patient(said: str) -> Facts:
    """The patient of a row, with a fresh pressure."""
    words, low = said.split(), "low" in said
    kilograms = None if "unknown" in words else float(words[words.index("kg") - 1])
    who = adult(kilograms) if words[0] == "adult" else child(float(words[1]), kilograms, words[2])
    pressure = (60, 30) if low else (125, 80)
    return facts(who, sbp=pressure[0], dbp=pressure[1], phases=IN_ARREST if "arrest" in words else ())


DOUBLED = "FRM-054"  # doubled until the lungs are dry: 1-75 mg were needed (Eddleston et al. 2004, read)


def drug(said: str) -> tuple[str, str | None, str]:
    slug, indication, route = said.split("/")
    return slug, indication or None, route


def found(row, value: float, unit: str, rules) -> set[str]:
    slug, indication, route = drug(row["input"].split()[0])
    strength = next((one.amount for one in RULES.treatments[slug].stocks), None)
    known = patient(row["population"])
    return codes(check(slug, value, unit, known, route=route, indication=indication, stock=strength, rules=rules))


@BOTH
@pytest.mark.parametrize("row", of("most"))
def test_the_standing_most_is_the_published_one_and_ten_times_it_is_over_the_hard_limit(row, rules):
    slug, indication, route = drug(row["input"])
    value, unit = float(row["expected"]), row["unit"]
    most = told(slug, patient(row["population"]), rules, indication, route)["most"]

    assert (pytest.approx(most["value"]), most["unit"]) == (value, unit)
    assert not found(row, most["value"], unit, rules) & LIMITS
    assert found(row, value * 1.01, unit, rules) & LIMITS
    tenfold = "above_most" if row["id"] == DOUBLED else "above_hard_limit"
    assert tenfold in found(row, value * 10, unit, rules)


@BOTH
@pytest.mark.parametrize("row", of("hard"))
def test_the_hard_limit_is_the_published_one(row, rules):
    value, unit = float(row["expected"]), row["unit"]

    assert "above_hard_limit" not in found(row, value * 0.999, unit, rules)
    assert "above_hard_limit" in found(row, value * 1.001, unit, rules)


@BOTH
@pytest.mark.parametrize("row", of("least"))
def test_less_than_the_published_least_is_told(row, rules):
    value, unit = float(row["expected"]), row["unit"]

    assert "below_least" in found(row, value * 0.99, unit, rules)
    assert "below_least" not in found(row, value * 1.001, unit, rules)


@pytest.mark.parametrize("row", of("volume"))
def test_a_dose_comes_to_the_volume_that_is_drawn_up(row):
    """A row says the dose and the strength behind the treatment: ``fentanyl/pain/IN 100 mcg of 50 mcg/mL``."""
    named, value, unit, _, strength, per = row["input"].split()
    slug, indication, route = drug(named)
    stock = Amount(float(strength), per)
    known = patient(row["population"])
    checked = check(slug, float(value), unit, known, route=route, indication=indication, stock=stock)

    assert checked.give.volume == Amount(pytest.approx(float(row["expected"])), row["unit"])
    assert not codes(checked) & {"unlisted_strength", "wrong_stock", "route_not_allowed"}


def test_the_table_is_of_use():
    assert len(TABLE) >= 60
    assert {row["how_obtained"] for row in TABLE} <= {"read-in-source", "worked-out-by-hand", "from-memory"}


# ---- what holds a dose back, and what does not


@pytest.mark.parametrize("known", [facts(sbp=None), facts(sbp=60, dbp=30), facts(sbp=60, dbp=30, readings=())])
def test_a_seizure_waits_for_no_pressure(known):
    """Common practice, no source: sedation does, a seizure does not."""
    stock = Amount(5, "mg/mL")
    seizure = check("midazolam", 10, "mg", known, indication="seizure", route="IM", stock=stock)
    sedation = check("midazolam", 2, "mg", known, indication="sedation", route="IV", stock=stock)

    assert seizure.verdict in ("within", "caution")
    assert codes(seizure) <= {"pressure_low"}
    assert codes(sedation) & {"pressure_low", "pressure_unknown"}


def test_atropine_for_organophosphates_has_no_total_and_doubles_by_order():
    """Quoted guidelines: the dose is doubled every 5 min until the lungs are dry."""
    before = tuple(given("atropine", 5 * number, 3, "mg") for number in range(1, 9))
    poisoned, stock = facts(doses=before), Amount(1, "mg/mL")
    again = check("atropine", 3, "mg", poisoned, indication="organophosphate", stock=stock)

    assert again.verdict == "within"
    assert codes(check("atropine", 6, "mg", poisoned, indication="organophosphate", stock=stock)) == {"above_most"}
    assert "above_hard_limit" in codes(check("atropine", 1, "mg", poisoned, indication="bradycardia", stock=stock))


def test_a_nasal_spray_is_for_the_nose_alone():
    """Naloxone nasal spray label: for use in the nose only."""
    spray = Amount(40, "mg/mL")

    assert check("naloxone", 4, "mg", route="IN", stock=spray).verdict == "within"
    vein = check("naloxone", 0.4, "mg", route="IV", stock=spray)
    assert (codes(vein), vein.give.volume) == ({"wrong_stock"}, None)
    offered = {one["strength"]["value"] for row in told("naloxone", route="IV")["usual"] for one in row["volumes"]}
    assert offered == {0.4, 1}


def test_two_sprays_then_an_order():
    after = facts(doses=(given("naloxone", 4, 4, "mg"),))
    third = facts(doses=(given("naloxone", 8, 4, "mg"), given("naloxone", 4, 4, "mg")))

    assert "total_reached" not in codes(check("naloxone", 4, "mg", after, route="IN", stock=Amount(40, "mg/mL")))
    assert "total_reached" in codes(check("naloxone", 4, "mg", third, route="IN", stock=Amount(40, "mg/mL")))


@pytest.mark.parametrize("indication", ["induction", "agitation"])
def test_what_takes_consciousness_is_by_order(indication):
    found = check("ketamine", 1, "mg/kg", facts(sbp=125, dbp=80), indication=indication, stock=Amount(50, "mg/mL"))

    assert "starts_by_order" in codes(found)


@pytest.mark.parametrize(("days", "barred"), [(10, True), (90, True), (91, False)])
def test_no_ketamine_under_three_months(days, barred):
    """Green et al., 2011: an absolute contraindication."""
    newborn = facts(child(days, 4, "days"), sbp=80, dbp=50)

    assert ("contraindicated" in codes(check("ketamine", 1, "mg", newborn, stock=Amount(10, "mg/mL")))) is barred


@pytest.mark.parametrize(
    ("slug", "indications"),
    [
        ("midazolam", ["sedation", "seizure", "intubated"]),
        ("fentanyl", ["pain", "intubated"]),
        ("ketamine", ["pain", "induction", "intubated", "agitation"]),
        ("atropine", ["bradycardia", "organophosphate"]),
    ],
)
def test_the_usual_indication_stands_first(slug, indications):
    assert list(RULES.treatments[slug].indications) == indications


# Diltiazem label, contraindication 7 (read).
@pytest.mark.parametrize(
    ("rhythm", "barred"),
    [("VT", True), ("wide, v-tach", True), ("SVT", False), ("not VT, SVT with aberrancy", False), (None, False)],
)
def test_no_diltiazem_in_ventricular_tachycardia(rhythm, barred):
    known = facts(sbp=125, dbp=80, signs={"hr": 180, "rhythm": rhythm})

    assert ("contraindicated" in codes(check("diltiazem", 20, "mg", known))) is barred


# Life support, children: usually 220 and more in infants, 180 and more in children (from memory); adults 150.
@pytest.mark.parametrize(
    ("patient", "rate", "told_so"),
    [
        *[(child(6, 7, "months"), 190, True), (child(6, 7, "months"), 219, True), (child(6, 7, "months"), 220, False)],
        *[(child(), 160, True), (child(), 180, False)],
        *[(adult(), 149, True), (adult(), 150, False)],
    ],
)
def test_adenosine_asks_for_a_rate_that_is_fast_for_the_age(patient, rate, told_so):
    known = facts(patient, sbp=95, dbp=60, signs={"hr": rate})

    assert ("signs_missing" in codes(check("adenosine", 0.7, "mg", known))) is told_so


@pytest.mark.parametrize(("lungs", "told_so"), [("wheeze", True), ("clear", False), ("crackles", False)])
def test_adenosine_and_a_wheeze_are_told(lungs, told_so):
    found = check("adenosine", 6, "mg", facts(sbp=125, dbp=80, signs={"hr": 180, "lungs": lungs})).findings

    assert any("close the airways" in each.text for each in found) is told_so


# Amiodarone label (read): hypotension is the most common adverse reaction. The 90 is chosen.
@pytest.mark.parametrize(("systolic", "told_so"), [(85, True), (89, True), (90, False), (125, False)])
def test_amiodarone_with_a_pulse_asks_for_a_pressure_that_bears_it(systolic, told_so):
    known = facts(sbp=systolic, dbp=50, signs={"hr": 180, "sbp": systolic})
    found = check("amiodarone", 150, "mg", known, indication="tachycardia", stock=Amount(50, "mg/mL")).findings

    assert any("cardioversion rather" in each.text for each in found) is told_so


@pytest.mark.parametrize(("treatment", "dose"), [("adenosine", 6), ("diltiazem", 20), ("etomidate", 24)])
def test_what_slows_a_heart_or_brings_sleep_is_for_a_patient_with_a_pulse(treatment, dose):
    assert "phase" in codes(check(treatment, dose, "mg", facts(sbp=None, phases=IN_ARREST)))
    assert "phase" not in codes(check(treatment, dose, "mg", facts(sbp=125, dbp=80)))
