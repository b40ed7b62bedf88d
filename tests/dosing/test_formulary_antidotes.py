"""Glucagon, insulin, lipid emulsion, hydroxocobalamin and hypertonic saline: the dose hangs on what it is for."""

import pytest

from dosing.ground.facts import Amount, Order
from dosing.mix import dilution
from dosing.patient.reassess import opened_by
from dosing.rules.names import named, treatment_told
from dosing.tell.guidance import guidance
from tests.dosing.bedside import RULES, TEN, adult, check, child, codes, facts, given

STRENGTH = {"insulin-infusion": Amount(1, "units/mL"), "insulin-high-dose": Amount(10, "units/mL")}
FINE = {"glucose_mg_dl": 300, "hr": 50, "rr": 16, "sbp": 80}


def put(treatment, value, unit, patient=None, *, indication=None, route=None, ordered=False, **more):
    """The dose as it would be recorded, perhaps with its order read back."""
    by = route or ("IM" if treatment == "glucagon" and indication != "beta-blocker" else "IV")
    order = Order(
        id="o", treatment=treatment, state="read_back", amount=Amount(value, unit), route=by, indication=indication
    )
    known = facts(patient, **{"signs": FINE} | more)
    return check(
        *(treatment, value, unit, known),
        route=by,
        indication=indication,
        concentration=STRENGTH.get(treatment),
        order=order if ordered else None,
    )


@pytest.mark.parametrize(
    ("treatment", "indication", "value", "unit"),
    [
        ("glucagon", "beta-blocker", 10, "mg"),
        ("insulin", "potassium", 10, "units"),
        ("insulin", "poisoning", 1, "units/kg"),
        ("insulin-infusion", None, 0.1, "units/kg/h"),
        ("insulin-high-dose", None, 10, "units/kg/h"),
        ("lipid-emulsion", None, 1.25, "mL/kg"),
        ("hydroxocobalamin", None, 5, "g"),
        ("hypertonic-saline", "herniation", 250, "mL"),
        ("hypertonic-saline", "hyponatremia", 150, "mL"),
    ],
)
@pytest.mark.parametrize("kg", [60, 80, 150])
def test_the_largest_usual_dose_by_order_and_ten_times_it_by_nobody(treatment, indication, value, unit, kg):
    if treatment == "lipid-emulsion" and kg > 80:
        value = 100 / kg
    who = adult(kg)

    assert put(treatment, value, unit, who, indication=indication).verdict == "needs_order"
    assert put(treatment, value, unit, who, indication=indication, ordered=True).verdict == "caution"
    assert put(treatment, 10 * value, unit, who, indication=indication, ordered=True).verdict == "over_hard_limit"


# ---- glucagon


@pytest.mark.parametrize(
    ("patient", "value", "verdict"),
    [
        (adult(), 1, "within"),
        (adult(), 1.5, "needs_order"),
        (adult(), 2.1, "over_hard_limit"),
        (adult(None), 1, "within"),
        (child(6, 20), 1, "within"),
        (child(5, 18), 0.5, "within"),
        (child(5, 18), 1, "needs_order"),
        (child(5, 18), 1.1, "over_hard_limit"),
        (child(1, 4, "months"), 0.5, "within"),
        (child(1, 4, "months"), 0.6, "over_hard_limit"),
        (child(5, None), 0.5, "within"),
        (child(5, None), 1.1, "over_hard_limit"),
    ],
)
def test_glucagon_where_the_sugar_is_low_and_there_is_no_vein(patient, value, verdict):
    known = {"signs": {"glucose_mg_dl": 35}, "sbp": None}

    assert put("glucagon", value, "mg", patient, **known).verdict == verdict


def test_a_low_sugar_brings_glucagon_forward_and_nothing_holds_it_back():
    low = guidance(facts(signs={"glucose_mg_dl": 35}, sbp=None), RULES, TEN)
    fine = guidance(facts(signs={"glucose_mg_dl": 120}), RULES, TEN)

    assert [row["relevant"] for rows in (low, fine) for row in rows if row["treatment"] == "glucagon"] == [True, False]
    assert "signs_missing" in codes(put("glucagon", 1, "mg"))


def test_glucagon_for_a_low_sugar_goes_by_muscle_or_skin_and_for_poisoning_by_vein():
    assert "route_not_allowed" in codes(put("glucagon", 1, "mg", route="IV"))
    assert "route_not_allowed" in codes(put("glucagon", 5, "mg", indication="beta-blocker", route="IM"))
    assert "route_not_allowed" not in codes(put("glucagon", 5, "mg", indication="beta-blocker"))


@pytest.mark.parametrize(("indication", "minutes"), [("hypoglycemia", 15), ("beta-blocker", 5)])
def test_the_next_glucagon_waits_as_long_as_its_use_asks(indication, minutes):
    early, due = ((given("glucagon", minutes - gone, 1, "mg"),) for gone in (1, 0))

    assert "too_soon" in codes(put("glucagon", 1, "mg", indication=indication, doses=early))
    assert "too_soon" not in codes(put("glucagon", 1, "mg", indication=indication, doses=due))


@pytest.mark.parametrize(
    ("indication", "needs"), [("hypoglycemia", {"glucose"}), ("beta-blocker", {"pressure_or_pulses", "hr"})]
)
def test_what_is_read_after_glucagon(indication, needs):
    assert set(opened_by(given("glucagon", 0, 1, "mg", indication=indication), RULES).needs) == needs


# ---- insulin


@pytest.mark.parametrize("kg", [20, 45, 80])
def test_a_rate_for_poisoning_is_over_the_hard_limit_for_diabetes(kg):
    """The least for poisoning is five times what may ever run for diabetes, so they are two treatments."""
    who = adult(kg) if kg >= 50 else child(9, kg)

    assert put("insulin-infusion", 1, "units/kg/h", who, ordered=True).verdict == "over_hard_limit"
    assert put("insulin-high-dose", 1, "units/kg/h", who, ordered=True).verdict == "caution"


def test_the_strong_bag_in_place_of_the_weak_one_is_told():
    """8 mL/h for 0.1 units/kg/h at 80 kg would be 80 units/h, not 8."""
    known = facts(signs=FINE)
    checked = check("insulin-infusion", 8, "mL/h", known, route="IV", concentration=Amount(10, "units/mL"))

    assert {"above_hard_limit", "unlisted_strength"} <= codes(checked)


@pytest.mark.parametrize(
    ("treatment", "indication", "glucose", "missing"),
    [
        ("insulin", "potassium", 249, True),
        ("insulin", "potassium", 250, False),
        ("insulin", "poisoning", 199, True),
        ("insulin", "poisoning", 200, False),
        ("insulin-infusion", None, 199, True),
        ("insulin-infusion", None, 200, False),
        ("insulin-high-dose", None, 99, True),
        ("insulin-high-dose", None, 100, False),
    ],
)
def test_insulin_asks_for_sugar_beside_it(treatment, indication, glucose, missing):
    dose = (1, "units/kg") if treatment == "insulin" else (1, "units/kg/h")
    checked = put(treatment, *dose, indication=indication, signs={**FINE, "glucose_mg_dl": glucose})

    assert ("signs_missing" in codes(checked)) is missing


# High-dose insulin guidance: dextrose first under 70 mg/dL (from memory); no order makes sugar of it.
@pytest.mark.parametrize("indication", ["poisoning", "potassium"])
@pytest.mark.parametrize(
    ("signs", "stopped"),
    [
        ({"glucose_mg_dl": 45}, True),
        ({"glucose_mg_dl": 69}, True),
        ({"glucose_mg_dl": None, "glucose_flag": "low"}, True),
        ({"glucose_mg_dl": 70}, False),
        ({"glucose_mg_dl": None}, False),
    ],
)
def test_no_insulin_bolus_before_sugar(indication, signs, stopped):
    dose = {"poisoning": (1, "units/kg"), "potassium": (5, "units")}[indication]
    checked = put("insulin", *dose, indication=indication, ordered=True, signs=FINE | signs)

    assert (checked.verdict == "over_hard_limit") == stopped


@pytest.mark.parametrize(("indication", "second"), [("poisoning", True), ("potassium", False)])
def test_two_physicians_stand_for_insulin_by_the_hundred(indication, second):
    assert (RULES.treatment("insulin", indication).cosign is not None) == second


@pytest.mark.parametrize(
    ("patient", "indication", "value", "code"),
    [
        (child(9, 30), "potassium", 3, "starts_by_order"),
        (child(9, 30), "potassium", 3.1, "above_most"),
        (child(9, 30), "potassium", 6.1, "above_hard_limit"),
        (child(9, 30), "poisoning", 30, "starts_by_order"),
        (child(9, 30), "poisoning", 31, "above_hard_limit"),
        (adult(200), "poisoning", 151, "above_hard_limit"),
    ],
)
def test_insulin_bolus_by_weight(patient, indication, value, code):
    assert code in codes(put("insulin", value, "units", patient, indication=indication))


def test_each_insulin_bag_is_as_strong_as_its_label():
    """100 units in 100 mL, 1,000 units in 100 mL, exactly: as much is drawn out as goes in."""
    made = [
        dilution.strength_text(dilution.contents(steps)[-1].strength)
        for slug in STRENGTH
        for mix in RULES.treatments[slug].mixes
        for steps in mix.ways.values()
    ]
    assert made == ["1 unit per mL", "10 units per mL"]


# ---- lipid emulsion, hydroxocobalamin


def test_three_boluses_of_lipid_and_no_more_than_the_whole():
    doses = tuple(given("lipid-emulsion", 10 * number, 100, "mL") for number in (1, 2, 3))
    eight = tuple(given("lipid-emulsion", 10 * number, 100, "mL") for number in range(1, 9))

    assert "count_reached" not in codes(put("lipid-emulsion", 100, "mL", doses=doses[:2]))
    assert "count_reached" in codes(put("lipid-emulsion", 100, "mL", doses=doses))
    assert "above_hard_limit" not in codes(put("lipid-emulsion", 100, "mL", adult(80), doses=eight))
    assert "above_hard_limit" in codes(put("lipid-emulsion", 100, "mL", adult(70), doses=eight))


@pytest.mark.parametrize("allergy", ["egg", "Eggs", "soy milk"])
def test_an_allergy_to_egg_or_soy_holds_lipid_back(allergy):
    assert "allergy" in codes(put("lipid-emulsion", 90, "mL", adult(allergies=(allergy,))))


@pytest.mark.parametrize(
    ("patient", "value", "code"),
    [
        (child(6, 20), 1.4, "starts_by_order"),
        (child(6, 20), 1.41, "above_most"),
        (child(6, 20), 2.81, "above_hard_limit"),
        (adult(), 10.1, "above_hard_limit"),
    ],
)
def test_hydroxocobalamin_by_weight(patient, value, code):
    assert code in codes(put("hydroxocobalamin", value, "g", patient))


# ---- hypertonic saline


@pytest.mark.parametrize(
    ("patient", "indication", "value", "code"),
    [
        (adult(), "herniation", 251, "above_most"),
        (adult(), "herniation", 501, "above_hard_limit"),
        (adult(), "hyponatremia", 151, "above_most"),
        (adult(), "hyponatremia", 251, "above_hard_limit"),
        (child(6, 20), "herniation", 100, "starts_by_order"),
        (child(6, 20), "herniation", 101, "above_most"),
        (child(6, 20), "herniation", 201, "above_hard_limit"),
        (child(6, 20), "hyponatremia", 41, "above_most"),
        (child(6, 20), "hyponatremia", 101, "above_hard_limit"),
    ],
)
def test_hypertonic_saline_by_what_it_is_for(patient, indication, value, code):
    assert code in codes(put("hypertonic-saline", value, "mL", patient, indication=indication))


def test_hypertonic_saline_is_no_crystalloid():
    for told in ("3 % saline", "hypertonic saline 3 %", "NaCl 3 %"):
        assert named(told, RULES).drugs == ("hypertonic saline",)
    assert named("normal saline", RULES).drugs == ("crystalloid",)
    assert RULES.treatments["hypertonic-saline"].drug_class == "other"


@pytest.mark.parametrize(
    ("told", "amount", "route", "slug"),
    [
        ("Cyanokit", (5, "g"), "IV", "hydroxocobalamin"),
        ("Intralipid", (100, "mL"), "IV", "lipid-emulsion"),
        ("regular insulin", (10, "units"), "IV", "insulin"),
        ("GlucaGen", (1, "mg"), "IM", "glucagon"),
    ],
)
def test_other_names_lead_to_the_treatment_of_that_unit_and_route(told, amount, route, slug):
    assert treatment_told(told, Amount(*amount), route, RULES).slug == slug
