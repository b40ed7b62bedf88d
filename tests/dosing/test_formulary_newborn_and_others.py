"""Alprostadil, ceftriaxone, dexamethasone, methylprednisolone and phentolamine: for whom, by which route, how much."""

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount, Order
from dosing.ground.phases import PhaseChange
from dosing.mix import dilution
from dosing.rules.names import treatment_told
from tests.dosing.bedside import RULES, adult, ago, check, child, codes, facts, given, told

NEWBORN = child(2, 3, "days")
STRENGTH = {"dexamethasone": Amount(4, "mg/mL"), "methylprednisolone": Amount(62.5, "mg/mL")}


def put(treatment, value, unit, patient=None, *, route=None, ordered=False, **more):
    """The dose as it would be recorded, perhaps with its order read back."""
    routes = RULES.treatments[treatment].routes
    by = route or ("IV" if "IV" in routes else min(routes))
    order = Order(id="o", treatment=treatment, state="read_back", amount=Amount(value, unit), route=by)
    return check(
        *(treatment, value, unit, facts(patient, sbp=more.pop("sbp", 110), dbp=60, **more)),
        route=by,
        stock=STRENGTH.get(treatment),
        order=order if ordered else None,
    )


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "patient"),
    [
        ("alprostadil-infusion", 0.1, "mcg/kg/min", NEWBORN),
        ("ceftriaxone", 2, "g", adult()),
        ("ceftriaxone", 50, "mg/kg", child(6, 20)),
        ("dexamethasone", 10, "mg", adult()),
        ("dexamethasone", 0.6, "mg/kg", child(1, 10)),
        ("methylprednisolone", 125, "mg", adult()),
        ("methylprednisolone", 2, "mg/kg", child(6, 20)),
        ("phentolamine", 10, "mg", adult()),
        ("phentolamine", 0.1, "mg/kg", child(6, 20)),
    ],
)
def test_the_largest_usual_dose_by_order_and_ten_times_it_by_nobody(treatment, value, unit, patient):
    assert put(treatment, value, unit, patient).verdict == "needs_order"
    assert put(treatment, value, unit, patient, ordered=True).verdict == "caution"
    assert put(treatment, 10 * value, unit, patient, ordered=True).verdict == "over_hard_limit"


@pytest.mark.parametrize(
    ("patient", "code"),
    [
        (NEWBORN, "starts_by_order"),
        (child(27, 4, "days"), "starts_by_order"),
        (child(28, 4, "days"), "age_not_covered"),
        (child(5, 18), "age_not_covered"),
        (adult(), "contraindicated"),
    ],
)
def test_alprostadil_is_for_newborns(patient, code):
    found = codes(put("alprostadil-infusion", 0.01, "mcg/kg/min", patient))

    assert code in found
    assert ("age_not_covered" in found) is (code == "age_not_covered")


def test_what_is_offered_of_alprostadil_begins_low():
    """From 0.01 to 0.05 mcg/kg/min, at 0.02 in between: at 3 kg by a pump of 10 mcg per mL."""
    usual = told("alprostadil-infusion", facts(NEWBORN))["usual"]

    assert [each["amount"]["value"] for each in usual] == [0.01, 0.02, 0.05]
    assert [each["volumes"][0]["volume"]["value"] for each in usual] == pytest.approx([0.18, 0.36, 0.9])


@pytest.mark.parametrize(
    ("slug", "strength"), [("alprostadil-infusion", (10, "mcg/mL")), ("phentolamine", (1, "mg/mL"))]
)
def test_each_syringe_is_as_strong_as_its_label(slug, strength):
    """500 mcg in 50 mL; 10 mg in 10 mL."""
    recipes = RULES.treatments[slug].recipes
    made = [dilution.contents(steps)[-1].strength for recipe in recipes for steps in recipe.ways.values()]

    assert made == [units.quantity(Amount(*strength))]


@pytest.mark.parametrize(("days", "forbidden"), [(2, True), (27, True), (28, False), (200, False)])
def test_ceftriaxone_is_not_for_newborns(days, forbidden):
    assert ("contraindicated" in codes(put("ceftriaxone", 0.1, "g", child(days, 4, "days")))) is forbidden


@pytest.mark.parametrize("allergy", ["ceftriaxone", "Rocephin", "Keflex", "cephalosporins"])
def test_an_allergy_to_a_cephalosporin_holds_it_back(allergy):
    assert "allergy" in codes(put("ceftriaxone", 2, "g", adult(allergies=(allergy,))))


def test_ceftriaxone_is_relevant_in_sepsis_alone():
    relevant = {
        impression: told("ceftriaxone", facts(impression=impression))["relevant"]
        for impression in ("septic", "hemorrhagic", "undifferentiated")
    }
    assert relevant == {"septic": True, "hemorrhagic": False, "undifferentiated": False}


@pytest.mark.parametrize("treatment", ["dexamethasone", "methylprednisolone", "ceftriaxone", "phentolamine"])
def test_once(treatment):
    dose = {"ceftriaxone": (2, "g"), "phentolamine": (5, "mg")}.get(treatment, (10, "mg"))

    assert "count_reached" in codes(put(treatment, *dose, doses=(given(treatment, 30, *dose),)))


@pytest.mark.parametrize(
    ("treatment", "allowed"),
    [("dexamethasone", {"IV", "IO", "IM", "PO"}), ("methylprednisolone", {"IV", "IO", "IM"}), ("phentolamine", {"SC"})],
)
def test_routes(treatment, allowed):
    for route in ("IV", "IO", "IM", "IN", "SC", "PO"):
        refused = "route_not_allowed" in codes(put(treatment, 5, "mg", route=route))
        assert refused is (route not in allowed), route


@pytest.mark.parametrize("allergy", ["steroids", "Solu-Medrol"])
@pytest.mark.parametrize("treatment", ["dexamethasone", "methylprednisolone"])
def test_an_allergy_to_a_steroid_holds_both_back(treatment, allergy):
    assert "allergy" in codes(put(treatment, 10, "mg", adult(allergies=(allergy,))))


@pytest.mark.parametrize(
    ("told_as", "amount", "route", "slug"),
    [
        ("Decadron", (10, "mg"), "PO", "dexamethasone"),
        ("Solu-Medrol", (125, "mg"), "IV", "methylprednisolone"),
        ("Rocephin", (2, "g"), "IM", "ceftriaxone"),
        ("PGE1", (0.05, "mcg/kg/min"), "IV", "alprostadil-infusion"),
    ],
)
def test_other_names_lead_to_the_treatment(told_as, amount, route, slug):
    assert treatment_told(told_as, Amount(*amount), route, RULES).slug == slug


# Front Pediatr 2017;5:97, table 1: 0.01-0.03 mg/kg into vein or bone; J Perinatol 2021;41:1769: 0.02 first (both read).
@pytest.mark.parametrize(
    ("patient", "milligrams", "verdict"),
    [
        (NEWBORN, 0.03, "within"),
        (NEWBORN, 0.06, "within"),
        (NEWBORN, 0.09, "caution"),
        (NEWBORN, 0.1, "needs_order"),
        (NEWBORN, 0.9, "over_hard_limit"),  # a slip of ten times
        (child(28, 3, "days"), 0.03, "within"),
        (child(28, 3, "days"), 0.06, "needs_order"),
    ],
)
def test_a_newborn_in_arrest_gets_what_newborn_resuscitation_gives(patient, milligrams, verdict):
    arrest = (PhaseChange("arrest", "arrest", ago(5)),)

    assert check("epinephrine-arrest", milligrams, "mg", facts(patient, sbp=None, phases=arrest)).verdict == verdict


@pytest.mark.parametrize(("patient", "warned"), [(NEWBORN, True), (child(28, 3, "days"), False), (adult(), False)])
def test_naloxone_for_a_newborn_comes_with_a_warning(patient, warned):
    assert any("can seize" in each for each in told("naloxone", facts(patient))["cautions"]) == warned


# Midazolam label, boxed warning (from memory): no rapid injection in newborns, at least 2 min.
@pytest.mark.parametrize(
    ("days", "route", "minutes", "found"),
    [
        (5, "IV", None, {"starts_by_order"}),
        (5, "IO", None, {"starts_by_order"}),
        (5, "IV", 1, {"starts_by_order", "too_fast"}),
        (28, "IV", 2, {"starts_by_order"}),
        (29, "IV", 1, set()),
        (5, "IM", None, set()),
    ],
)
def test_midazolam_into_the_vein_of_a_newborn_is_by_order_and_slow(days, route, minutes, found):
    known = facts(child(days, 3.5, "days"), sbp=75, dbp=45, signs={"rr": 40})
    how = {"indication": "seizure", "route": route, "over_min": minutes, "stock": Amount(1, "mg/mL")}
    checked = check("midazolam", 0.3, "mg", known, **how)

    assert codes(checked) & {"starts_by_order", "too_fast"} == found
    assert all(each.level == "needs_order" for each in checked.findings if each.code in found)


@pytest.mark.parametrize(("rate", "told_so"), [(10, True), (29, True), (30, False), (45, False)])
def test_slow_breathing_before_alprostadil_is_told(rate, told_so):
    """Newborns breathe 30 to 60 a minute; apnea is the boxed warning of the label (both from memory)."""
    found = check("alprostadil-infusion", 0.02, "mcg/kg/min", facts(NEWBORN, signs={"rr": rate})).findings

    assert [each.level for each in found if "breathing is slow" in each.text] == (["caution"] if told_so else [])


@pytest.mark.parametrize(
    ("age", "strength", "level"),
    [
        ((2, "years"), 500, "needs_order"),
        ((7, "years"), 500, "needs_order"),
        ((8, "years"), 500, ""),
        ((2, "years"), 250, ""),
        ((2, "years"), 100, ""),
        ((6, "months"), 500, "over_hard_limit"),
    ],
)
def test_strong_sugar_for_a_small_child_needs_an_order(age, strength, level):
    """Dextrose 10 % first in small children: common practice; under 8 years is chosen."""
    known = facts(child(age[0], 12, age[1]), sbp=95, dbp=60)
    found = check("dextrose", 3, "g", known, stock=Amount(strength, "mg/mL")).findings
    levels = [each.level for each in found if each.code in ("unlisted_strength", "wrong_stock")]

    assert levels == ([level] if level else [])
