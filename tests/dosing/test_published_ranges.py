"""The rule set's own limits against published ranges: what a crew may give lies within what somebody has published."""

import pytest

from dosing.check.bands import DoseLimits, Person
from dosing.ground import units
from dosing.ground.facts import Amount
from tests.dosing.bedside import RULES, adult, check, child, facts, told
from tests.dosing.dosing_values import ROWS, numbers, rows
from tests.error_prone import find

SEPTIC = {"impression": "septic"}


def limit(treatment: str, name: str, unit: str, *, years: float | None = None, kg: float | None = 70) -> float:
    """A limit of the rule set for one person, in ``unit``; a limit per kg for one kg of them."""
    weight = None if kg is None else units.quantity(Amount(kg, "kg"))
    person = Person(adult=years is None, days=None if years is None else years * 365, weight=weight)
    exact = DoseLimits(RULES.treatment(treatment), person).exact(name)
    if units.per_kg(unit) and not units.is_per_kg(exact):
        exact = exact / weight
    return units.amount(exact, unit).value


@pytest.mark.parametrize(
    ("row", "treatment", "unit", "years", "kg"),
    [
        pytest.param(*case, id=case[0])
        for case in (
            ("RNG-001", "epinephrine-infusion", "mcg/kg/min", None, 70),
            ("RNG-002", "epinephrine-infusion", "mcg/min", None, None),
            ("RNG-010", "dopamine-infusion", "mcg/kg/min", None, 70),
            ("RNG-011", "phenylephrine-infusion", "mcg/kg/min", None, 70),
            ("RNG-012", "phenylephrine-infusion", "mcg/kg/min", None, 70),
            ("RNG-018", "vasopressin-infusion", "units/kg/min", 5, 18),
            ("RNG-019", "dopamine-infusion", "mcg/kg/min", 5, 18),
            ("DRG-040", "ketamine", "mg/kg", None, 70),
        )
    ],
)
def test_the_standing_most_lies_in_the_published_range(row, treatment, unit, years, kg):
    lowest, highest = numbers(ROWS[row]["expected"])[0], numbers(ROWS[row]["expected"])[-1]

    assert lowest <= limit(treatment, "most", unit, years=years, kg=kg) <= highest


@pytest.mark.parametrize(
    ("row", "treatment", "unit", "years"),
    [
        pytest.param("RNG-001", "epinephrine-infusion", "mcg/kg/min", None, id="RNG-001"),
        pytest.param("RNG-003", "epinephrine-infusion", "mcg/kg/min", 5, id="RNG-003"),
        pytest.param("RNG-008", "norepinephrine-infusion", "mcg/kg/min", 5, id="RNG-008"),
        pytest.param("RNG-009", "dopamine-infusion", "mcg/kg/min", None, id="RNG-009"),
        pytest.param("RNG-010", "dopamine-infusion", "mcg/kg/min", None, id="RNG-010"),
        pytest.param("RNG-011", "phenylephrine-infusion", "mcg/kg/min", None, id="RNG-011"),
        pytest.param("RNG-014", "vasopressin-infusion", "units/min", None, id="RNG-014"),
        pytest.param("RNG-017", "norepinephrine-infusion", "mcg/kg/min", 5, id="RNG-017"),
        pytest.param("RNG-018", "vasopressin-infusion", "units/kg/min", 5, id="RNG-018"),
        pytest.param("RNG-019", "dopamine-infusion", "mcg/kg/min", 5, id="RNG-019"),
    ],
)
def test_no_hard_limit_exceeds_the_published_most(row, treatment, unit, years):
    kg = 70 if years is None else 18

    assert limit(treatment, "hard", unit, years=years, kg=kg) <= numbers(ROWS[row]["expected"])[-1]


@pytest.mark.parametrize(
    ("treatment", "row"), [("dopamine-infusion", "CON-015"), ("phenylephrine-infusion", "CON-017")]
)
def test_the_standard_strengths_of_the_pharmacists_are_listed(treatment, row):
    listed = {units.number(each.exact, "mcg/mL") for each in RULES.treatments[treatment].concentrations}

    assert set(map(int, numbers(ROWS[row]["expected"])[:2])) <= listed


@pytest.mark.parametrize(
    ("row", "treatment", "patient", "milligrams"),
    [
        pytest.param("DRG-001", "tranexamic-acid", adult(), 1000, id="DRG-001: 1 g"),
        pytest.param("DRG-004", "tranexamic-acid", child(11, 40), 600, id="DRG-004: 15 mg/kg"),
        pytest.param("DRG-004", "tranexamic-acid", child(17, 49.9), 748.5, id="DRG-004: under 1,000 mg"),
        pytest.param("DRG-009", "calcium-chloride", adult(), 1000, id="DRG-009: 10 mL of 10 %"),
        pytest.param("DRG-009", "calcium-gluconate", adult(), 3000, id="DRG-009: 30 mL of 10 %"),
        pytest.param("DRG-010", "calcium-chloride", child(8, 25), 500, id="DRG-010: 20 mg/kg"),
        pytest.param("DRG-011", "calcium-gluconate", child(8, 25), 1500, id="DRG-011: the list's 60 mg/kg"),
        pytest.param("DRG-034", "naloxone", child(4, 15), 1.5, id="DRG-034: 0.1 mg/kg"),
        pytest.param("DRG-034", "naloxone", child(6, 20), 2, id="DRG-034: at 20 kg both branches give 2 mg"),
        pytest.param("DRG-034", "naloxone", child(9, 30), 2, id="DRG-034: older"),
    ],
)
def test_the_most_is_the_published_dose(row, treatment, patient, milligrams):
    most = told(treatment, facts(patient, **SEPTIC))["most"]

    assert ROWS[row]["source"]
    assert units.same(Amount(most["value"], most["unit"]), Amount(milligrams, "mg"))


@pytest.mark.parametrize("row", ["DRG-017", "DRG-019", "DRG-021"])
def test_hydrocortisone_by_other_rules_is_within_the_standing_limit(row):
    """50 mg from 3 to 12 years, also for the lightest; 2 mg/kg up to 100 mg; 32, 50 and 34 mg at 4 years and 16 kg."""
    by_rule = {
        "DRG-017": [(child(3, 12), 50), (child(11, 25), 50)],
        "DRG-019": [(child(0.5, 7), 14), (child(3, 14), 28), (child(8, 25), 50), (child(13, 49), 98)],
        "DRG-021": [(child(4, 16), each) for each in numbers(ROWS[row]["expected"]) if each in (32, 50, 34)],
    }[row]

    for patient, milligrams in by_rule:
        found = check("hydrocortisone", milligrams, "mg", facts(patient, **SEPTIC)).findings
        assert not {"above_most", "above_hard_limit"} & {each.code for each in found}


def test_fentanyl_by_weight_and_at_most_100_mcg():
    """DRG-041: 1 mcg/kg, single dose at most 100 mcg."""
    per_kg, most = numbers(ROWS["DRG-041"]["expected"])[:2]

    assert told("fentanyl", facts(adult(80), sbp=120, dbp=80))["most"]["value"] == 80 * per_kg
    assert told("fentanyl", facts(adult(130), sbp=120, dbp=80))["most"]["value"] == most


@pytest.mark.parametrize(
    ("row", "patient"),
    [
        pytest.param("ANA-001", adult(), id="ANA-001: 0.3 to 0.5 mg"),
        pytest.param("ANA-005", child(8, None, "months"), id="ANA-005: 0.15 mg from 6 months"),
        pytest.param("ANA-007", child(5, None, "months"), id="ANA-007: 0.1 mL of 1 mg/mL"),
    ],
)
def test_epinephrine_into_the_muscle(row, patient):
    published = numbers(ROWS[row]["expected"])

    assert told("epinephrine-im", facts(patient, impression="anaphylactic"))["most"]["value"] in published


def test_a_childs_push():
    """PDP-006: 1 mcg/kg is the guide; PDP-007: 10 mcg the most."""
    per_kg, most = (numbers(ROWS[row]["expected"])[0] for row in ("PDP-006", "PDP-007"))

    assert told("epinephrine-push-dose", facts(child(1, 4, "months")))["guide"]["value"] == 4 * per_kg
    assert told("epinephrine-push-dose", facts(child(4, 16)))["most"]["value"] == most


@pytest.mark.parametrize(("row", "treatment"), [("PDP-003", "epinephrine"), ("PDP-024", "phenylephrine")])
def test_no_push_sooner_than_published(row, treatment):
    soonest = numbers(ROWS[row]["expected"])[0]

    assert RULES.treatments[f"{treatment}-push-dose"].interval.value >= soonest


def test_blood_for_a_child():
    """BLD-002: 10 mL/kg by one guideline, 20 by another: the first by standing rule, the second is the hard limit."""
    low, *_others, high = numbers(ROWS["BLD-002"]["expected"])
    known = facts(child(6, 20))

    assert limit("blood-product", "most", "mL", years=6, kg=20) == low * 20
    assert check("blood-product", high * 20, "mL", known).verdict != "over_hard_limit"
    assert check("blood-product", high * 20 + 1, "mL", known).verdict == "over_hard_limit"


@pytest.mark.parametrize(
    ("row", "treatment"),
    [
        pytest.param("REA-001", "norepinephrine-infusion", id="REA-001: every 5 min"),
        pytest.param("REA-002", "epinephrine-push-dose", id="REA-002: 1 to 2 min"),
        pytest.param("REA-002", "phenylephrine-push-dose", id="REA-002, the other push"),
        pytest.param("REA-003", "epinephrine-im", id="REA-003: 5 min"),
        pytest.param("REA-004", "vasopressin-infusion", id="REA-004: 10 to 15 min"),
        pytest.param("REA-005", "epinephrine-infusion", id="REA-005: 5 min"),
        pytest.param("REA-006", "crystalloid-bolus", id="REA-006: 5 to 15 min"),
        pytest.param("REA-008", "blood-product", id="REA-008: every 10 min"),
    ],
)
def test_a_reassessment_is_due_no_later_than_published(row, treatment):
    rule = RULES.treatments[treatment].reassessment
    published = numbers(ROWS[row]["expected"])

    assert rule.due_min <= max(published)
    if (
        RULES.treatments[treatment].form == "infusion"
    ):  # its first is ours, at 3 min; the label's minutes hold from then on
        assert min(numbers(ROWS["REA-001"]["expected"])) <= rule.due_min
        assert RULES.watch.pressor_again_min == max(numbers(ROWS["REA-001"]["expected"]))
    else:
        assert rule.due_min in published or rule.counts_from_end


@pytest.mark.parametrize("ratio", ["1:1,000", "1:10,000", "1:100,000", "1:200,000"])
def test_a_ratio_in_micrograms(ratio):
    """RAT-004, RAT-005: a gram in so many mL, so 1,000 mcg per mL at 1:1,000."""
    milliliters = int(ratio.split(":")[1].replace(",", ""))
    strength = units.quantity(Amount(1, "g")) / units.quantity(Amount(milliliters, "mL"))
    printed = dict(zip(("1:1,000", "1:10,000", "1:100,000"), numbers(ROWS["RAT-004"]["expected"]), strict=True))
    expected = printed.get(ratio, 1000 * float(ROWS["RAT-005"]["expected"]))

    assert units.amount(strength, "mcg/mL").value == pytest.approx(expected)


def test_the_volume_of_the_vial_for_the_muscle():
    """UNI-010: 0.3 mg of 1 mg/mL is 0.3 mL."""
    checked = check("epinephrine-im", 0.3, "mg", facts(impression="anaphylactic"))

    assert checked.give.volume == Amount(float(ROWS["UNI-010"]["expected"]), "mL")


@pytest.mark.parametrize("row", rows("ISMP-009", "ISMP-012"))
def test_unsafe_spellings_are_found(row):
    """A full stop after a unit, and a Roman numeral for a number of doses."""
    unsafe = {"ISMP-009": "10 mg. and wait", "ISMP-012": "V doses"}[row["id"]]

    assert [found.notation for found in find(unsafe)]
    assert not find(unsafe.replace("mg.", row["expected"]).replace("V", row["expected"]))


@pytest.mark.parametrize(("row", "kg"), [("FLU-003", 70), ("FLU-004", 80)])
def test_thirty_milliliters_per_kg(row, kg):
    """SSC 2021 (from summaries): before the cap of one bolus."""
    stated = DoseLimits(RULES.treatments["crystalloid-bolus"], Person(adult=True, days=None, weight=None)).per_kg(
        "most"
    )
    whole = stated.exact * units.quantity(Amount(kg, "kg"))

    assert units.amount(whole, "mL").value == float(ROWS[row]["expected"])


def test_ten_milliliters_per_kg_for_a_newborn():
    """FLU-011."""
    newborn = told("crystalloid-bolus", facts(child(9, 3.4, "days"), doses=()))["most"]

    assert newborn["value"] == pytest.approx(3.4 * numbers(ROWS["FLU-011"]["expected"])[0])
