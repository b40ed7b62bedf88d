"""Nitroglycerin, furosemide, dobutamine, milrinone, nicardipine and esmolol: all by order, none on a low pressure."""

import pytest

from dosing.check import infusion
from dosing.ground import text, units
from dosing.ground.facts import Amount, Order
from dosing.mix import dilution
from dosing.patient.reassess import is_pressor, opened_by
from dosing.rules.names import treatment_told
from dosing.tell.guidance import guidance
from tests.dosing.bedside import RULES, TEN, adult, check, child, codes, facts, given

FAST = {"hr": 110, "rr": 28, "sbp": 190}
STRENGTH = {
    "nitroglycerin-infusion": (200, "mcg/mL"),
    "dobutamine-infusion": (1000, "mcg/mL"),
    "milrinone-infusion": (200, "mcg/mL"),
    "nicardipine-infusion": (0.1, "mg/mL"),
    "esmolol-infusion": (10, "mg/mL"),
}


def high(patient=None, **more):
    """Ada at 190/110 with a fast heart, a minute ago."""
    return facts(patient, **{"sbp": 190, "dbp": 110, "signs": FAST} | more)


def put(treatment, value, unit, known=None, *, ordered=False, **more):
    """The dose as it would be recorded, perhaps with its order read back."""
    route = RULES.treatments[treatment].routes
    by = "IV" if "IV" in route else min(route)
    order = Order(id="o", treatment=treatment, state="read_back", amount=Amount(value, unit), route=by)
    strength = STRENGTH.get(treatment)
    return check(
        *(treatment, value, unit, known or high()),
        route=by,
        order=order if ordered else None,
        concentration=Amount(*strength) if strength else None,
        **more,
    )


LARGEST = [
    ("nitroglycerin-tongue", 0.4, "mg"),
    ("nitroglycerin-infusion", 200, "mcg/min"),
    ("furosemide", 80, "mg"),
    ("dobutamine-infusion", 15, "mcg/kg/min"),
    ("milrinone-infusion", 0.75, "mcg/kg/min"),
    ("nicardipine-infusion", 15, "mg/h"),
    ("esmolol", 500, "mcg/kg"),
    ("esmolol-infusion", 200, "mcg/kg/min"),
]


@pytest.mark.parametrize(("treatment", "value", "unit"), LARGEST)
def test_the_largest_usual_dose_by_order_and_ten_times_it_by_nobody(treatment, value, unit):
    assert put(treatment, value, unit).verdict == "needs_order"
    assert put(treatment, value, unit, ordered=True).verdict == "caution"
    assert put(treatment, 10 * value, unit, ordered=True).verdict == "over_hard_limit"


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "over"),
    [
        ("nitroglycerin-tongue", 0.8, "mg", False),
        ("nitroglycerin-tongue", 1.2, "mg", True),
        ("nitroglycerin-infusion", 400, "mcg/min", False),
        ("nitroglycerin-infusion", 401, "mcg/min", True),
        ("furosemide", 160, "mg", False),
        ("furosemide", 161, "mg", True),
        ("dobutamine-infusion", 40, "mcg/kg/min", False),
        ("dobutamine-infusion", 41, "mcg/kg/min", True),
        ("milrinone-infusion", 0.76, "mcg/kg/min", True),
        ("nicardipine-infusion", 15.1, "mg/h", True),
        ("esmolol", 80, "mg", False),
        ("esmolol", 81, "mg", True),
        ("esmolol-infusion", 300, "mcg/kg/min", False),
        ("esmolol-infusion", 301, "mcg/kg/min", True),
    ],
)
def test_hard_limits(treatment, value, unit, over):
    assert (put(treatment, value, unit, ordered=True).verdict == "over_hard_limit") is over


@pytest.mark.parametrize("treatment", ["nitroglycerin-tongue", "nitroglycerin-infusion", "nicardipine-infusion"])
@pytest.mark.parametrize(("sbp", "dbp", "forbidden"), [(89, 60, True), (120, 80, False), (100, 45, True)])
def test_a_vasodilator_is_forbidden_on_a_low_pressure(treatment, sbp, dbp, forbidden):
    """Under systolic 90 or MAP 65: 100/45 has a MAP of 63."""
    dose = {"nitroglycerin-tongue": (0.4, "mg"), "nitroglycerin-infusion": (20, "mcg/min")}
    known = facts(sbp=sbp, dbp=dbp, signs={**FAST, "sbp": sbp})

    assert ("contraindicated" in codes(put(treatment, *dose.get(treatment, (5, "mg/h")), known))) is forbidden


@pytest.mark.parametrize(("treatment", "dose"), [("esmolol", (20, "mg")), ("esmolol-infusion", (50, "mcg/kg/min"))])
def test_esmolol_is_for_no_low_pressure_failing_heart_or_slow_one(treatment, dose):
    assert "contraindicated" not in codes(put(treatment, *dose))
    assert "contraindicated" in codes(put(treatment, *dose, facts(sbp=80, dbp=50)))
    assert "contraindicated" in codes(put(treatment, *dose, high(impression="cardiogenic")))
    assert "signs_missing" in codes(put(treatment, *dose, high(signs={**FAST, "hr": 59})))


@pytest.mark.parametrize("treatment", ["nitroglycerin-tongue", "nitroglycerin-infusion"])
def test_nitroglycerin_wants_a_systolic_of_100(treatment):
    dose = (0.4, "mg") if treatment == "nitroglycerin-tongue" else (20, "mcg/min")

    missing = {sbp: put(treatment, *dose, high(signs={**FAST, "sbp": sbp})) for sbp in (99, 100)}
    assert {sbp: "signs_missing" in codes(each) for sbp, each in missing.items()} == {99: True, 100: False}


@pytest.mark.parametrize(("pressure", "asks"), [((80, 50), True), ((120, 80), False)])
def test_milrinone_and_furosemide_say_why_a_low_pressure_comes_first(pressure, asks):
    known = facts(sbp=pressure[0], dbp=pressure[1])
    for treatment, dose in (("milrinone-infusion", (0.25, "mcg/kg/min")), ("furosemide", (40, "mg"))):
        (told,) = (each.text for each in put(treatment, *dose, known).findings if each.code == "starts_by_order")
        assert ("pressure is low" in told) is asks


def test_furosemide_is_not_for_somebody_who_lacks_volume():
    assert "signs_missing" in codes(put("furosemide", 40, "mg", high(impression="hypovolemic")))
    assert "signs_missing" not in codes(put("furosemide", 40, "mg", high(impression="cardiogenic")))


@pytest.mark.parametrize("allergy", ["furosemide", "sulfa drugs", "Sulfonamides"])
def test_an_allergy_to_a_sulfonamide_holds_furosemide_back(allergy):
    assert "allergy" in codes(put("furosemide", 40, "mg", high(adult(allergies=(allergy,)))))


@pytest.mark.parametrize(
    ("patient", "treatment", "dose", "code"),
    [
        (child(8, 25), "furosemide", (25, "mg"), "starts_by_order"),
        (child(8, 25), "furosemide", (26, "mg"), "above_most"),
        (child(8, 25), "furosemide", (51, "mg"), "above_hard_limit"),
        (child(8, 25), "dobutamine-infusion", (10, "mcg/kg/min"), "starts_by_order"),
        (child(8, 25), "nitroglycerin-infusion", (1, "mcg/kg/min"), "age_not_covered"),
        (child(8, 25), "nicardipine-infusion", (1, "mcg/kg/min"), "age_not_covered"),
        (child(8, 25), "nicardipine-infusion", (3.1, "mcg/kg/min"), "above_hard_limit"),
        (child(8, 25), "esmolol", (12.5, "mg"), "age_not_covered"),
        (child(8, 25), "esmolol", (13, "mg"), "above_hard_limit"),
        (child(8, 25), "esmolol-infusion", (201, "mcg/kg/min"), "above_hard_limit"),
    ],
)
def test_children(patient, treatment, dose, code):
    assert code in codes(put(treatment, *dose, facts(patient, sbp=130, dbp=80, signs=FAST)))


def test_dialysis_lowers_milrinone():
    known = high(adult(history=("dialysis",)))

    assert "above_most" not in codes(put("milrinone-infusion", 0.2, "mcg/kg/min", known))
    assert "above_most" in codes(put("milrinone-infusion", 0.3, "mcg/kg/min", known))


@pytest.mark.parametrize("kg", [150, 190, 240])
def test_no_weight_is_offered_more_than_the_absolute_limit(kg):
    for row in guidance(high(adult(kg)), RULES, TEN):
        for usual in row["usual"]:
            if row["treatment"] in dict.fromkeys(name for name, *_ in LARGEST):
                amount = usual["amount"]
                assert "above_hard_limit" not in codes(
                    put(row["treatment"], amount["value"], amount["unit"], high(adult(kg)))
                )


@pytest.mark.parametrize(
    ("slug", "strength"),
    [("dobutamine-infusion", 1000), ("milrinone-infusion", 200), ("nicardipine-infusion", 100)],
)
def test_each_bag_is_as_strong_as_its_label(slug, strength):
    """250 mg in 250 mL, 20 mg in 100 mL, 25 mg in 250 mL, exactly: as much is drawn out as goes in."""
    for mix in RULES.treatments[slug].mixes:
        for steps in mix.ways.values():
            made = dilution.contents(steps)[-1].strength
            assert made == mix.makes.exact
            assert dilution.strength_text(made) in (f"{strength:,} mcg per mL", f"{strength / 1000:g} mg per mL")


def test_dobutamine_counts_as_a_pressor_and_the_others_do_not():
    classes = {name: RULES.treatments[name].drug_class for name, *_ in LARGEST}

    assert {name for name, drug_class in classes.items() if drug_class == "pressor"} == {"dobutamine-infusion"}
    assert is_pressor(given("dobutamine-infusion", 0, 5, "mcg/kg/min"), RULES)


@pytest.mark.parametrize(("treatment", "value", "unit"), LARGEST)
def test_each_asks_for_a_pressure_afterward(treatment, value, unit):
    assert "pressure" in opened_by(given(treatment, 0, value, unit), RULES).needs


@pytest.mark.parametrize(
    ("told", "amount", "route", "slug"),
    [
        ("nitro", (0.4, "mg"), "PO", "nitroglycerin-tongue"),
        ("NTG drip", (20, "mcg/min"), "IV", "nitroglycerin-infusion"),
        ("Brevibloc", (40, "mg"), "IV", "esmolol"),
        ("Brevibloc", (50, "mcg/kg/min"), "IV", "esmolol-infusion"),
        ("Cardene", (5, "mg/h"), "IV", "nicardipine-infusion"),
        ("Lasix", (40, "mg"), "IV", "furosemide"),
    ],
)
def test_other_names_lead_to_the_treatment_of_that_unit_and_route(told, amount, route, slug):
    assert treatment_told(told, Amount(*amount), route, RULES).slug == slug


@pytest.mark.parametrize(("treatment", "minutes"), [("nitroglycerin-tongue", 5), ("furosemide", 60), ("esmolol", 4)])
def test_the_next_dose_waits(treatment, minutes):
    dose = {"nitroglycerin-tongue": (0.4, "mg"), "furosemide": (40, "mg"), "esmolol": (20, "mg")}[treatment]
    early, due = (high(doses=(given(treatment, minutes - gone, *dose),)) for gone in (1, 0))

    assert "too_soon" in codes(put(treatment, *dose, early))
    assert "too_soon" not in codes(put(treatment, *dose, due))


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "told"),
    [
        ("nicardipine-infusion", 5, "mg/h", ["0.0625 mg/kg/h", "5 mg/h", "50 mL/h"]),
        ("milrinone-infusion", 0.5, "mcg/kg/min", ["0.5 mcg/kg/min", "40 mcg/min", "12 mL/h"]),
    ],
)
def test_a_rate_is_told_in_the_time_in_which_it_is_ordered(treatment, value, unit, told):
    dose = units.quantity(Amount(value, unit))
    of_unit = RULES.treatments[treatment].unit
    strength = units.quantity(Amount(*STRENGTH[treatment]))

    said = infusion.every_way(dose, of_unit, units.quantity(Amount(80, "kg")), strength)
    assert [text.amount_text(each) for each in said] == told
