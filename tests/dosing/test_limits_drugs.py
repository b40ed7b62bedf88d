"""The other drugs: limits by weight and age against published doses, and the table of the demonstration rules."""

import pytest

from dosing.ground.facts import Amount, Dose
from tests.dosing.bedside import RULES, adult, ago, check, child, codes, facts, given, told
from tests.dosing.dosing_values import ROWS, numbers, rows

DEPENDENT = {"history": ("steroid_dependent",)}
INJURED = {"onset_at": ago(30), "bleeding_cause": "trauma"}


def most(treatment, patient, **more):
    return told(treatment, facts(patient, **more))["most"]["value"]


# ---- epinephrine into the muscle


@pytest.mark.parametrize("row", rows("ANA-008", "ANA-011", "ANA-012", "ANA-013"))
def test_epinephrine_into_the_muscle_by_the_published_volumes(row):
    """Volumes of 1 mg/mL from a hospital's flowchart: each may be given; the most is that or the dose of the age."""
    kg, age = numbers(row["input"])[0], {"ANA-008": 1, "ANA-011": 8, "ANA-012": 11}.get(row["id"], 14)
    known = facts(child(age, kg + (1 if age == 14 else 0)), impression="anaphylactic")
    volume, of_age = float(row["expected"]), {1: 0.15, 8: 0.3, 11: 0.3, 14: 0.5}[age]

    assert check("epinephrine-im", volume, "mg", known).verdict == "within"
    assert told("epinephrine-im", known)["volumes"]["most"]["value"] == pytest.approx(max(volume, of_age))


@pytest.mark.parametrize("row", rows("ANA-019", "ANA-020"))
def test_half_a_milligram_is_the_most(row):
    kg = numbers(row["input"])[0]

    assert most("epinephrine-im", child(11, kg), impression="anaphylactic") == float(row["expected"])


@pytest.mark.parametrize(
    ("years", "kg", "milligrams"),
    [
        pytest.param(8, 29.9, 0.3, id="6 years and more: 0.3 mg"),
        pytest.param(8, 36, 0.36, id="0.01 mg/kg where that is more"),
        pytest.param(11, 60, 0.5, id="never more than 0.5 mg"),
        pytest.param(3, 12, 0.15, id="6 months to 5 years: 0.15 mg"),
        pytest.param(5, 21, 0.21, id="5 years, 0.01 mg/kg"),
        pytest.param(13, 40, 0.5, id="12 years and more: 0.5 mg"),
    ],
)
def test_into_the_muscle_the_greater_of_the_dose_of_the_age_and_of_the_weight(years, kg, milligrams):
    """Resuscitation Council UK 2021 by age; 0.01 mg/kg of the label (ANA-002)."""
    assert most("epinephrine-im", child(years, kg), impression="anaphylactic") == pytest.approx(milligrams)


@pytest.mark.parametrize(
    ("age", "unit", "milligrams", "kg"),
    [
        (13, "years", 0.5, 40),
        (12, "years", 0.5, 30),
        (11, "years", 0.3, 28),
        (6, "years", 0.3, 20),
        (5, "years", 0.15, 12),
        (6, "months", 0.15, 7),
        (5, "months", 0.1, 6),
        (3, "days", 0.1, 3),
    ],
)
def test_into_the_muscle_the_same_dose_of_the_age_with_and_without_a_weight(age, unit, milligrams, kg):
    """ANA-003, ANA-005 and, under 6 months, the lower of the 0.1-0.15 mg that the same table gives."""
    for weight in (kg, None):
        known = facts(child(age, weight, unit), impression="anaphylactic")

        assert told("epinephrine-im", known)["most"]["value"] == milligrams
        assert check("epinephrine-im", milligrams, "mg", known).verdict == "within"


@pytest.mark.parametrize("kg", [0.5, 1, 1.9])
def test_into_the_muscle_of_the_smallest_a_volume_that_can_be_read(kg):
    """Two marks of a 1 mL syringe."""
    assert most("epinephrine-im", child(1, kg, "days"), impression="anaphylactic") == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("patient", "milligrams", "verdict"),
    [
        (adult(), 0.5, "within"),
        (adult(), 0.51, "over_hard_limit"),
        (child(5, 18), 0.18, "within"),
        (child(5, 18), 0.3, "needs_order"),
        (child(5, 18), 0.37, "over_hard_limit"),
        (child(5, None), 0.3, "needs_order"),
        (child(4, 5, "months"), 0.15, "needs_order"),
        (child(4, 5, "months"), 0.21, "over_hard_limit"),
        (child(3, 12), 0.15, "within"),
        (child(3, 12), 0.16, "needs_order"),
        (child(9, 8, "months"), 0.15, "within"),
        (child(2, 1.4, "days"), 0.14, "over_hard_limit"),
    ],
)
def test_limits_into_the_muscle(patient, milligrams, verdict):
    assert check("epinephrine-im", milligrams, "mg", facts(patient, impression="anaphylactic")).verdict == verdict


def test_three_doses_five_minutes_apart():
    """ANA-024: after 5 minutes, up to 3 in all."""
    allowed = int(numbers(ROWS["ANA-024"]["expected"])[1])
    doses = tuple(given("epinephrine-im", 5 * number, 0.5, "mg") for number in range(allowed, 0, -1))

    assert "count_reached" in codes(check("epinephrine-im", 0.5, "mg", facts(doses=doses)))
    assert "too_soon" in codes(
        check("epinephrine-im", 0.5, "mg", facts(doses=(given("epinephrine-im", 4, 0.5, "mg"),)))
    )


@pytest.mark.parametrize("route", ["IV", "IO", "SC"])
def test_never_into_a_vein(route):
    assert "route_not_allowed" in codes(check("epinephrine-im", 0.5, "mg", route=route))


# ---- by weight, against published examples


@pytest.mark.parametrize(
    ("row", "treatment", "age"),
    [
        pytest.param("DRG-006", "tranexamic-acid", 8, id="DRG-006"),
        pytest.param("DRG-012", "calcium-chloride", 0.5, id="DRG-012"),
        pytest.param("DRG-013", "calcium-chloride", 1, id="DRG-013"),
        pytest.param("DRG-023", "atropine", 0.1, id="DRG-023"),
        pytest.param("DRG-024", "atropine", 0.5, id="DRG-024"),
        pytest.param("DRG-025", "atropine", 1, id="DRG-025"),
        pytest.param("DRG-027", "atropine", 8, id="DRG-027"),
        pytest.param("DRG-043", "naloxone", 4, id="DRG-043"),
    ],
)
def test_published_examples_by_weight(row, treatment, age):
    kg = numbers(ROWS[row]["input"] if "kg" in ROWS[row]["input"] else ROWS[row]["population"])[-1]
    published = numbers(ROWS[row]["expected"])
    expected = 2 if row == "DRG-043" else published[0]

    assert most(treatment, child(age, kg)) == pytest.approx(expected)


def test_volumes_of_the_published_examples():
    """DRG-012, DRG-013: 20 mg/kg of 100 mg/mL; DRG-032: 0.5 g/kg of dextrose 10 % for 20 kg is 100 mL."""
    ten_percent = Amount(100, "mg/mL")
    sugar = check("dextrose", 10, "g", facts(child(6, 20)), stock=ten_percent)
    calcium = [check("calcium-chloride", 20 * kg, "mg", facts(child(1, kg))).give.volume.value for kg in (5, 10)]

    assert sugar.give.volume.value == float(ROWS["DRG-032"]["expected"])
    assert calcium == [numbers(ROWS[row]["expected"])[1] for row in ("DRG-012", "DRG-013")]


@pytest.mark.parametrize(
    ("treatment", "patient", "value", "unit", "verdict"),
    [
        ("tranexamic-acid", adult(**INJURED), 1, "g", "within"),
        ("tranexamic-acid", adult(**INJURED), 2, "g", "needs_order"),
        ("tranexamic-acid", adult(**INJURED), 2.1, "g", "over_hard_limit"),
        ("tranexamic-acid", child(8, 30, **INJURED), 15, "mg/kg", "within"),
        ("tranexamic-acid", child(8, 30, **INJURED), 901, "mg", "over_hard_limit"),
        ("calcium-chloride", adult(), 1, "g", "within"),
        ("calcium-chloride", adult(), 2001, "mg", "over_hard_limit"),
        ("calcium-gluconate", adult(), 3, "g", "within"),
        ("calcium-gluconate", child(1, 10), 600, "mg", "within"),
        ("calcium-gluconate", child(1, 10), 1201, "mg", "over_hard_limit"),
        ("hydrocortisone", adult(**DEPENDENT), 100, "mg", "within"),
        ("hydrocortisone", adult(**DEPENDENT), 101, "mg", "over_hard_limit"),
        ("hydrocortisone", child(11, 8, "months", **DEPENDENT), 25, "mg", "within"),
        ("hydrocortisone", child(11, 8, "months", **DEPENDENT), 26, "mg", "needs_order"),
        ("hydrocortisone", child(11, 8, "months", **DEPENDENT), 51, "mg", "over_hard_limit"),
        ("hydrocortisone", child(1, 9, **DEPENDENT), 50, "mg", "within"),
        ("hydrocortisone", child(2, 12, **DEPENDENT), 50, "mg", "within"),
        ("hydrocortisone", child(5, None, **DEPENDENT), 50, "mg", "within"),
        ("hydrocortisone", child(5, 18, **DEPENDENT), 51, "mg", "needs_order"),
        ("hydrocortisone", child(5, 18, **DEPENDENT), 101, "mg", "over_hard_limit"),
        ("hydrocortisone", child(6, 20, **DEPENDENT), 100, "mg", "within"),
        ("hydrocortisone", child(13, 40, **DEPENDENT), 100, "mg", "within"),
        ("hydrocortisone", child(6, 20, **DEPENDENT), 101, "mg", "over_hard_limit"),
        ("atropine", adult(), 1, "mg", "within"),
        ("atropine", adult(), 1.1, "mg", "over_hard_limit"),
        ("atropine", child(1, 10), 0.41, "mg", "over_hard_limit"),
        ("dextrose", adult(), 25, "g", "within"),
        ("dextrose", adult(), 51, "g", "over_hard_limit"),
        ("dextrose", child(6, 20), 11, "g", "needs_order"),
        ("dextrose", child(6, 20), 21, "g", "over_hard_limit"),
        ("dextrose", child(1, 10), 5, "g", "within"),
        ("dextrose", child(11, 9, "months"), 1.8, "g", "within"),
        ("dextrose", child(11, 9, "months"), 1.9, "g", "caution"),
        ("dextrose", child(11, 9, "months"), 4.6, "g", "needs_order"),
        ("dextrose", child(3, 3, "days"), 0.6, "g", "within"),
        ("dextrose", child(3, 3, "days"), 3.1, "g", "over_hard_limit"),
        ("naloxone", adult(), 2, "mg", "within"),
        ("naloxone", adult(), 2.1, "mg", "needs_order"),
        ("naloxone", adult(), 10.1, "mg", "over_hard_limit"),
        ("naloxone", child(8, 25), 2.1, "mg", "over_hard_limit"),
        ("ketamine", adult(), 1, "mg/kg", "needs_order"),
        ("ketamine", adult(), 1.1, "mg/kg", "over_hard_limit"),
        ("fentanyl", adult(), 201, "mcg", "over_hard_limit"),
        ("fentanyl", child(5, 18), 37, "mcg", "over_hard_limit"),
        ("midazolam", adult(), 5.1, "mg", "over_hard_limit"),
        ("midazolam", child(5, 18), 1.9, "mg", "over_hard_limit"),
        ("epinephrine-infusion", adult(), 2.1, "mcg/kg/min", "over_hard_limit"),
        ("epinephrine-infusion", adult(170), 1.2, "mcg/kg/min", "over_hard_limit"),
        ("epinephrine-infusion", child(5, 18), 1.1, "mcg/kg/min", "over_hard_limit"),
        ("norepinephrine-infusion", adult(70), 1.1, "mcg/kg/min", "over_hard_limit"),
        ("norepinephrine-infusion", adult(100), 81, "mcg/min", "over_hard_limit"),
        ("dopamine-infusion", adult(), 20.1, "mcg/kg/min", "over_hard_limit"),
        ("phenylephrine-infusion", adult(), 6.1, "mcg/kg/min", "over_hard_limit"),
        ("vasopressin-infusion", adult(), 0.071, "units/min", "over_hard_limit"),
        ("vasopressin-infusion", child(5, 18), 0.0021, "units/kg/min", "over_hard_limit"),
        ("vasopressin-infusion", child(11, 30), 0.0015, "units/kg/min", "over_hard_limit"),
    ],
    ids=lambda value: str(value)[:18] if isinstance(value, (str, int, float)) else "",
)
def test_limits_of_the_table(treatment, patient, value, unit, verdict):
    stocks = RULES.treatments[treatment].stocks
    stock = stocks[0].amount if stocks else None
    known = facts(patient, doses=(*facts().doses, given("blood-product", 60, 1, "bag")))

    assert check(treatment, value, unit, known, stock=stock).verdict == verdict


# Casualty care guidelines: calcium after the first blood (from memory).
@pytest.mark.parametrize(("treatment", "grams"), [("calcium-chloride", 1), ("calcium-gluconate", 3)])
@pytest.mark.parametrize(
    ("before", "indication", "told"),
    [
        ((), "blood", True),
        (("crystalloid-bolus", 250, "mL"), "blood", True),
        (("blood-product", 1, "bag"), "blood", False),
        ((), "hyperkalemia", False),
    ],
)
def test_calcium_for_blood_asks_for_blood(treatment, grams, before, indication, told):
    known = facts(doses=(given(before[0], 20, *before[1:]),) if before else ())
    found = check(treatment, grams, "g", known, indication=indication).findings

    assert any("no blood on record" in each.text for each in found) == told


# ---- with a low pressure


@pytest.mark.parametrize(
    ("sbp", "dbp", "micrograms", "expected"),
    [(120, 80, 80, set()), (70, 40, 40, {"pressure_low"}), (70, 40, 41, {"pressure_low", "above_most"})],
    ids=["not low", "low, half", "low, more"],
)
def test_fentanyl_halves_with_a_low_pressure_and_wants_an_order(sbp, dbp, micrograms, expected):
    found = codes(check("fentanyl", micrograms, "mcg", facts(sbp=sbp, dbp=dbp)))

    assert found & {"pressure_low", "above_most"} == expected


@pytest.mark.parametrize(("sbp", "dbp", "milligrams"), [(120, 80, 24), (70, 40, 16)], ids=["not low", "low"])
def test_ketamine_is_less_with_a_low_pressure(sbp, dbp, milligrams):
    assert told("ketamine", facts(sbp=sbp, dbp=dbp))["most"]["value"] == milligrams


def test_midazolam_is_by_order_with_a_low_pressure():
    """DRG-042: only if the pressure is adequate."""
    stock = Amount(1, "mg/mL")

    assert "pressure_low" in codes(check("midazolam", 1, "mg", facts(sbp=70, dbp=40), stock=stock))
    breathes = facts(sbp=120, dbp=80, signs={"rr": 14})
    assert check("midazolam", 1, "mg", breathes, stock=stock).verdict == "within"


# ---- counts and totals


def test_atropine_three_milligrams_in_all():
    doses = tuple(given("atropine", 5 * number, 1, "mg") for number in (3, 2, 1))
    stock = Amount(0.1, "mg/mL")
    checked = check("atropine", 1, "mg", facts(doses=doses), stock=stock)

    assert {"count_reached", "above_hard_limit"} <= codes(checked)
    assert check("atropine", 1, "mg", facts(doses=doses[:2]), stock=stock).verdict == "within"


@pytest.mark.parametrize(
    ("patient", "each", "in_all"),
    [(child(0.1, 4), 0.1, 0.2), (child(1, 10), 0.2, 0.4), (child(6, 20), 0.4, 0.8), (child(9, 30), 0.5, 1)],
    ids=["4 kg", "10 kg", "20 kg", "30 kg"],
)
def test_atropine_of_a_child_twice_its_dose_in_all(patient, each, in_all):
    """0.02 mg/kg (0.1-0.5 mg), repeated once, 1 mg in all (life support, children)."""
    first = facts(patient, doses=(given("atropine", 10, each, "mg"),))

    assert "above_hard_limit" not in codes(check("atropine", in_all - each, "mg", first))
    assert "above_hard_limit" in codes(check("atropine", in_all - each + 0.01, "mg", first))


def test_naloxone_four_milligrams_in_all():
    stock = Amount(1, "mg/mL")
    of_unknown_size = Dose(id="by others", treatment="naloxone", given_at=ago(9), prior=True)
    doses = (of_unknown_size, given("naloxone", 6, 2, "mg"), given("naloxone", 3, 1, "mg"))

    assert "total_reached" not in codes(check("naloxone", 1, "mg", facts(doses=doses), stock=stock))
    assert "total_reached" in codes(check("naloxone", 1.1, "mg", facts(doses=doses), stock=stock))


@pytest.mark.parametrize(("bags", "reached"), [(0, True), (4, True), (5, False)])
def test_calcium_once_for_each_four_bags_whichever_salt(bags, reached):
    blood = tuple(given("blood-product", 60 - number, 1, "bag") for number in range(bags))
    chloride = given("calcium-chloride", 30, 1, "g")

    assert ("count_reached" in codes(check("calcium-gluconate", 3, "g", facts(doses=(*blood, chloride))))) is reached


@pytest.mark.parametrize("treatment", ["tranexamic-acid", "hydrocortisone"])
def test_once_only(treatment):
    before = (given(treatment, 30, 100, "mg", prior=True),)

    assert "count_reached" in codes(check(treatment, 100, "mg", facts(doses=before)))


# ---- strengths and time


@pytest.mark.parametrize(
    ("treatment", "dose", "strength", "milliliters"),
    [
        ("ketamine", (20, "mg"), Amount(10, "mg/mL"), 2),
        ("ketamine", (20, "mg"), Amount(50, "mg/mL"), 0.4),
        ("midazolam", (2, "mg"), Amount(5, "mg/mL"), 0.4),
        ("hydrocortisone", (100, "mg"), None, 2),
        ("fentanyl", (40, "mcg"), None, 0.8),
        ("ketamine", (20, "mg"), None, None),
        ("midazolam", (2, "mg"), None, None),
        ("dextrose", (10, "g"), None, None),
    ],
)
def test_the_volume_follows_from_the_strength(treatment, dose, strength, milliliters):
    checked = check(treatment, *dose, stock=strength)

    assert checked.give.volume == (None if milliliters is None else Amount(milliliters, "mL"))
    assert ("strength_not_stated" in codes(checked)) is (milliliters is None)


def test_the_strength_is_shown_as_the_vial_says_it():
    assert check("dextrose", 10, "g", stock=Amount(100, "mg/mL")).give.shown == "10 g = 100 mL of 100 mg per mL"


@pytest.mark.parametrize(
    ("stock", "code"), [(Amount(500, "mg/mL"), "wrong_stock"), (Amount(100, "mg/mL"), "unlisted_strength")]
)
def test_a_vial_that_is_not_stocked(stock, code):
    assert code in codes(check("ketamine", 16, "mg", stock=stock))


@pytest.mark.parametrize(
    ("treatment", "dose", "minutes", "fast"),
    [
        ("tranexamic-acid", (1, "g"), 9, True),
        ("tranexamic-acid", (1, "g"), 10, False),
        ("calcium-chloride", (1, "g"), 4, True),
        ("calcium-chloride", (1, "g"), 5, False),
    ],
)
def test_too_fast(treatment, dose, minutes, fast):
    assert ("too_fast" in codes(check(treatment, *dose, over_min=minutes))) is fast


@pytest.mark.parametrize(
    ("salt", "grams", "stock", "shown"),
    [
        ("chloride", 1, None, "1 g = 10 mL of 100 mg per mL (272 mg elemental calcium) over at least 5 min"),
        ("gluconate", 3, None, "3 g = 30 mL of 100 mg per mL (279 mg elemental calcium) over at least 5 min"),
        ("gluconate", 3, 20, "3 g = 150 mL of 20 mg per mL (279 mg elemental calcium) over at least 5 min"),
    ],
)
def test_elemental_calcium_is_shown(salt, grams, stock, shown):
    """27.2 mg (CON-002) and 9.3 mg (gluconate prescribing information) in a mL of 10 %, however far it is thinned."""
    held = None if stock is None else Amount(stock, "mg/mL")

    assert check(f"calcium-{salt}", grams, "g", stock=held).give.shown == shown
