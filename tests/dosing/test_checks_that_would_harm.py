"""Doses that would harm, each beside two neighbors that may be given: the rule must tell them apart."""

from __future__ import annotations

import re

import pytest

from dosing.check.earlier import weighed, with_given
from dosing.ground import units
from dosing.ground.facts import Amount, Order, Rate, Weight
from dosing.ground.given_before import Earlier, GivenBefore, GivenFor
from dosing.ground.phases import PhaseChange
from tests.copying import replace
from tests.dosing.bedside import RULES, adult, ago, check, child, facts, given, told

OVER, BY_ORDER, CAUTION = "over_hard_limit", "needs_order", "caution"
NOREPINEPHRINE = ("norepinephrine-infusion", 0.1, "mcg/kg/min")
BAG = Amount(16, "mcg/mL")


def level(code, checked):
    """How grave the finding of a code is; empty where there is none."""
    return next((each.level for each in checked.findings if each.code == code), "")


def runs(treatment, value, unit, **more):
    return facts(doses=(given(treatment, 20, value, unit, status="running", **more),))


@pytest.mark.parametrize(
    ("known", "new_rate", "grave"),
    [
        (runs("norepinephrine-infusion", 8, "mcg/min"), False, BY_ORDER),
        (runs("norepinephrine-infusion", 8, "mcg/min"), True, ""),
        (runs("epinephrine-infusion", 8, "mcg/min"), False, ""),
        (facts(), False, ""),
    ],
)
def test_a_second_infusion_of_what_runs_needs_an_order_and_a_new_rate_none(known, new_rate, grave):
    checked = check(*NOREPINEPHRINE, known, concentration=BAG, new_rate=new_rate)

    assert level("infusion_running", checked) == grave
    assert (level("starts_by_order", checked) == "") is new_rate


FOUR = given("norepinephrine-infusion", 20, 4, "mcg/min", status="running", concentration=BAG)


@pytest.mark.parametrize(
    ("doses", "in_all"),  # 4 mcg/min are 15 mL/h of 16 mcg per mL, for 80 kg 0.05 mcg/kg/min
    [
        ((FOUR,), "0.15 mcg/kg/min"),
        ((FOUR, replace(FOUR, id="other")), "0.2 mcg/kg/min"),
        ((replace(FOUR, amount=Amount(15, "mL/h")),), "0.15 mcg/kg/min"),
        ((replace(FOUR, amount=Amount(15, "mL/h"), concentration=None),), None),
        ((FOUR, replace(FOUR, id="other", amount=None)), None),
        ((replace(FOUR, status="held"),), None),
        ((replace(FOUR, rates=(Rate(ago(20), Amount(8, "mcg/min")), Rate(ago(5), None))),), "0.2 mcg/kg/min"),
        ((replace(FOUR, rates=(Rate(ago(9), Amount(8, "mcg/min")), Rate(ago(-1), FOUR.amount))),), "0.2 mcg/kg/min"),
    ],
    ids=["one", "two", "as the pump shows it", "strength unknown", "one rate unknown", "held", "paused", "set later"],
)
def test_what_both_infusions_come_to_where_all_rates_are_known(doses, in_all):
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min", facts(doses=doses), concentration=BAG)
    told = [each.text for each in checked.findings if each.code == "infusion_running"]

    assert {re.split("a second one|one more", each)[1] for each in told} == {f", {in_all} in all" if in_all else ""}
    assert len(told) == len({each.amount for each in doses}), "those that run alike are told once"
    twice = [each for each in told if "2 times: this would be one more" in each]
    assert twice == (told if len(doses) > len(told) else [])


@pytest.mark.parametrize(
    ("dose", "grave"),  # what runs: 0.05 mcg/kg/min for 80 kg, 4 mcg/min, 15 mL/h of 16 mcg per mL
    [
        ((0.1, "mcg/kg/min"), ""),
        ((0.25, "mcg/kg/min"), ""),  # five times: the largest step of the epinephrine prescribing information
        ((0.26, "mcg/kg/min"), BY_ORDER),
        ((0.5, "mcg/kg/min"), BY_ORDER),  # the point slipped
        ((150, "mL/h"), BY_ORDER),
        ((40, "mcg/min"), BY_ORDER),
        ((0.01, "mcg/kg/min"), ""),
        ((1.5, "mL/h"), CAUTION),
        ((0.4, "mcg/min"), CAUTION),
    ],
)
def test_a_new_rate_ten_times_the_old_one_is_told(dose, grave):
    known = runs("norepinephrine-infusion", 0.05, "mcg/kg/min", concentration=BAG, weight=Weight(80, "kg", "measured"))

    assert level("leap", check("norepinephrine-infusion", *dose, known, concentration=BAG, new_rate=True)) == grave
    assert level("leap", check("norepinephrine-infusion", *dose, known, concentration=BAG)) == ""


@pytest.mark.parametrize(
    ("doses", "grave"),
    [
        ((FOUR,), BY_ORDER),
        ((replace(FOUR, amount=Amount(15, "mL/h"), concentration=None),), ""),
        ((FOUR, replace(FOUR, id="other", amount=None)), ""),
        ((FOUR, replace(FOUR, id="other", amount=Amount(38, "mcg/min"))), ""),
        ((FOUR, replace(FOUR, id="other", treatment="epinephrine-infusion", amount=Amount(38, "mcg/min"))), BY_ORDER),
        ((replace(FOUR, id="other", amount=Amount(38, "mcg/min"), ended_at=ago(9)), FOUR), BY_ORDER),
    ],
    ids=["known", "strength unknown", "one of two unknown", "near one of two", "near another drug", "near an old one"],
)
def test_a_leap_is_told_from_each_rate_that_runs_where_all_are_known(doses, grave):
    """40 mcg/min are ten times 4, but nearly 38."""
    checked = check("norepinephrine-infusion", 40, "mcg/min", facts(doses=doses), concentration=BAG, new_rate=True)

    assert level("leap", checked) == grave


@pytest.mark.parametrize(("dose", "grave"), [((0.1, "mcg/kg/min"), CAUTION), ((0.5, "mcg/kg/min"), "")])
def test_the_old_rate_counts_for_the_weight_by_which_it_was_set(dose, grave):
    """0.1 for 80 kg are 8 mcg/min; of a child that weighs 8 kg after all, 0.1 are 0.8 and 0.5 are 4 mcg/min."""
    doses = (
        given("norepinephrine-infusion", 20, 0.1, "mcg/kg/min", status="running", weight=Weight(80, "kg", "stated")),
    )
    known = facts(child(1, 8), doses=doses)

    assert level("leap", check("norepinephrine-infusion", *dose, known, new_rate=True)) == grave


def test_an_order_for_the_very_rate_makes_the_leap_a_caution():
    known = runs("norepinephrine-infusion", 0.05, "mcg/kg/min", weight=Weight(80, "kg", "measured"))
    rate = Amount(0.5, "mcg/kg/min")
    order = Order(id="order", treatment="norepinephrine-infusion", state="read_back", amount=rate, by="Dr. Merrin")

    checked = check("norepinephrine-infusion", 0.5, "mcg/kg/min", known, new_rate=True, order=order)

    assert level("leap", checked) == CAUTION


@pytest.mark.parametrize(
    ("treatment", "dose", "glucose", "grave"),
    [
        ("insulin-infusion", (0.1, "units/kg/h"), 40, OVER),
        ("insulin-infusion", (0.1, "units/kg/h"), 69, OVER),
        ("insulin-infusion", (0.1, "units/kg/h"), 70, CAUTION),
        ("insulin-infusion", (0.1, "units/kg/h"), 350, ""),
        ("insulin-infusion", (0.1, "units/kg/h"), None, BY_ORDER),
        ("insulin-high-dose", (2, "units/kg/h"), 40, OVER),
        ("insulin-high-dose", (2, "units/kg/h"), 120, ""),
        ("insulin", (5, "units"), 40, OVER),
        ("insulin", (5, "units"), 70, CAUTION),
        ("insulin", (5, "units"), None, BY_ORDER),
        ("insulin", (5, "units"), 120, CAUTION),
        ("insulin", (5, "units"), 300, ""),
    ],
)
def test_no_insulin_for_a_low_glucose(treatment, dose, glucose, grave):
    assert level("signs_missing", check(treatment, *dose, facts(signs={"glucose_mg_dl": glucose}))) == grave


@pytest.mark.parametrize(("flag", "grave"), [("low", OVER), ("high", ""), (None, BY_ORDER)])
def test_what_a_glucose_meter_says_without_a_number_counts(flag, grave):
    known = facts(signs={"glucose_mg_dl": None, "glucose_flag": flag})

    assert level("signs_missing", check("insulin-infusion", 0.1, "units/kg/h", known)) == grave


@pytest.mark.parametrize(
    ("signs", "grave"),
    [
        ({"rr": 8, "sbp": 160}, BY_ORDER),
        ({"rr": 16, "sbp": 70}, BY_ORDER),
        ({"rr": 16, "sbp": 120}, CAUTION),
        ({"rr": 16, "sbp": 160}, ""),
        ({"rr": None, "sbp": 160}, CAUTION),
    ],
)
def test_magnesium_for_slow_breathing_or_a_low_pressure_needs_an_order(signs, grave):
    pregnant = adult(bleeding_cause="postpartum")
    checked = check("magnesium-sulfate", 4, "g", facts(pregnant, signs=signs), stock=Amount(40, "mg/mL"))

    assert level("signs_missing", checked) == grave


@pytest.mark.parametrize(
    ("strength", "route", "grave"), [(500, "IV", OVER), (500, "IO", OVER), (500, "IM", ""), (40, "IV", "")]
)
def test_magnesium_goes_undiluted_into_no_vein(strength, route, grave):
    checked = check("magnesium-sulfate", 4, "g", facts(), route=route, stock=Amount(strength, "mg/mL"))

    assert level("wrong_stock", checked) == grave


@pytest.mark.parametrize("added_up", [False, True], ids=["one by one", "added up"])
@pytest.mark.parametrize(
    ("before", "code", "grave"),
    [
        ([(6, "organophosphate")], "above_hard_limit", ""),
        ([(3, "bradycardia")], "above_hard_limit", OVER),
        ([(3, None)], "above_hard_limit", OVER),  # untold: its usual one
        ([(1, "organophosphate")] * 3, "count_reached", ""),
        ([(0.1, "bradycardia")] * 3, "count_reached", BY_ORDER),
    ],
)
def test_what_was_given_for_something_else_uses_up_no_limit(before, code, grave, added_up):
    doses = tuple(given("atropine", 40 - 5 * n, each, "mg", indication=what) for n, (each, what) in enumerate(before))
    known = facts(doses=doses)
    if added_up:
        known = facts(doses=(), earlier=Earlier(until=ago(1), given=with_given({}, doses, RULES)))

    assert level(code, check("atropine", 1, "mg", known, indication="bradycardia")) == grave


def test_what_was_given_without_a_word_for_what_was_for_the_usual():
    """Ketamine for pain is the usual; one dose for induction, two for pain are standing."""
    known = facts(doses=(given("ketamine", 20, 20, "mg"),))
    left = {what: told("ketamine", known, indication=what)["left"]["count"] for what in ("pain", "induction")}

    assert left == {"pain": 1, "induction": 1}


def test_a_dose_per_kg_is_added_up_by_the_weight_that_was_known_then():
    kg30 = Weight(30, "kg", "measured")
    doses = (
        given("ketamine", 9, 20, "mg", weight=kg30),
        given("ketamine", 8, 1, "mg/kg", weight=kg30),
        given("ketamine", 7, 2, "mg/kg"),
    )
    found = with_given({}, doses, RULES)["ketamine"]

    assert (found.count, found.sums) == (3, {"mg": "50", "mg/kg": "2"})
    assert (found.first_at, found.last_at, found.units) == (ago(9), ago(7), ("mg", "mg/kg"))
    shown_per_kg = replace(RULES.treatments["ketamine"], unit="mg/kg")
    rules = replace(RULES, treatments={**RULES.treatments, "ketamine": shown_per_kg})
    assert with_given({}, doses, rules)["ketamine"] == found


def test_what_was_added_up_without_a_word_for_what_counts():
    before = GivenBefore(treatment="atropine", first_at=ago(40), last_at=ago(30), count=3, sums={"mg": "3"})
    known = facts(doses=(), earlier=Earlier(until=ago(1), given={"atropine": before}))

    assert level("above_hard_limit", check("atropine", 1, "mg", known, indication="bradycardia")) == OVER


def test_what_was_added_up_per_kg_counts_for_the_weight_that_is_known_then():
    """2 mg and, of two other doses, 0.1 mg/kg and 1 mg, for 30 kg: 6 mg."""
    of_each = {"pain": GivenFor(count=1, sums={"mg": "2"}), "": GivenFor(count=2, sums={"mg/kg": "0.1", "mg": "1"})}
    sums = {"mg": "3", "mg/kg": "0.1"}
    given_before = GivenBefore(
        treatment="ketamine", first_at=ago(9), last_at=ago(8), count=3, sums=sums, by_indication=of_each
    )
    found = weighed(Earlier(given={"ketamine": given_before}), units.quantity(Amount(30, "kg"))).given["ketamine"]

    assert (found.count, found.sums) == (3, {"mg": "6"})
    assert {what: each.sums for what, each in found.by_indication.items()} == {"pain": {"mg": "2"}, "": {"mg": "4"}}


@pytest.mark.parametrize(
    ("onset", "first", "grave"),
    [(240, 60, ""), (240, None, OVER), (400, 60, OVER), (120, 60, "")],
)
def test_the_window_is_for_the_first_dose_and_not_for_the_repeat(onset, first, grave):
    mother = adult(onset_at=ago(onset), bleeding_cause="postpartum")
    doses = () if first is None else (given("tranexamic-acid", first, 1000, "mg"),)

    assert level("window_closed", check("tranexamic-acid", 1000, "mg", facts(mother, doses=doses))) == grave


@pytest.mark.parametrize(
    ("treatment", "unit", "product", "grave"),
    [
        ("crystalloid-bolus", "mL", "3 % saline", OVER),
        ("crystalloid-bolus", "mL", "D5W", OVER),
        ("crystalloid-bolus", "mL", "red cells", OVER),
        ("crystalloid-bolus", "mL", "0.9 % saline", ""),
        ("crystalloid-bolus", "mL", "Plasma-Lyte", ""),
        ("crystalloid-bolus", "mL", "from the fridge", BY_ORDER),
        ("blood-product", "bag", "normal saline", OVER),
        ("blood-product", "bag", "packed red cells", ""),
    ],
)
def test_a_fluid_is_no_other_drug(treatment, unit, product, grave):
    assert level("wrong_stock", check(treatment, 1 if unit == "bag" else 250, unit, product=product)) == grave


@pytest.mark.parametrize(
    ("patient", "per_kg", "grave"),
    [
        (adult(None), 150, OVER),  # 4500 mg at 30 kg; hard limit 2000 mg
        (adult(None), 67, OVER),
        (adult(None), 66, ""),
        (adult(80), 15, ""),
        (child(5, None), 150, OVER),
    ],
)
def test_a_dose_per_kg_of_an_unknown_weight_is_held_against_a_light_adult(patient, per_kg, grave):
    checked = check("tranexamic-acid", per_kg, "mg/kg", facts(patient), over_min=10)

    assert level("above_hard_limit", checked) == grave


@pytest.mark.parametrize(
    ("treatment", "indication", "before", "grave"),
    [
        ("midazolam", "seizure", ("ketamine", 50, "mg"), CAUTION),
        ("midazolam", "seizure", ("midazolam", 5, "mg"), BY_ORDER),
        ("midazolam", "sedation", ("ketamine", 50, "mg"), BY_ORDER),
    ],
)
def test_a_seizure_does_not_wait_for_another_drug_of_the_class(treatment, indication, before, grave):
    known = facts(doses=(given(before[0], 2, *before[1:]),))

    assert level("too_soon", check(treatment, 2, "mg", known, indication=indication)) == grave


@pytest.mark.parametrize(("strength", "grave"), [(500, OVER), (100, ""), (10, "")])
def test_insulin_five_times_as_strong_is_another_vial(strength, grave):
    assert level("wrong_stock", check("insulin", 5, "units", stock=Amount(strength, "units/mL"))) == grave


@pytest.mark.parametrize(("sbp", "dbp", "grave"), [(150, 112, ""), (150, 110, ""), (150, 109, CAUTION), (165, 90, "")])
@pytest.mark.parametrize("treatment", ["labetalol", "hydralazine"])
def test_a_high_diastolic_pressure_is_reason_enough_in_pregnancy(treatment, sbp, dbp, grave):
    mother = adult(pregnancy_weeks=34)
    known = facts(mother, sbp=sbp, dbp=dbp, signs={"sbp": sbp, "dbp": dbp, "hr": 80})

    assert level("signs_missing", check(treatment, 10, "mg", known)) == grave


@pytest.mark.parametrize("kg", [3.3, 7.7, 13.7, 18.1, 61.3, 87.9])
def test_the_least_that_is_shown_passes_its_own_check(kg):
    patient = child(5, kg) if kg < 40 else adult(kg)
    for slug, treatment in RULES.treatments.items():
        entry = told(slug, facts(patient))
        for amount in filter(None, [entry["least"]]):
            checked = check(
                slug, amount["value"], amount["unit"], facts(patient), indication=treatment.indication or None
            )
            assert level("below_least", checked) == "", slug


@pytest.mark.parametrize(
    ("strength", "code"), [(30, ""), (234, "wrong_stock"), (75, "wrong_stock"), (9, "unlisted_strength")]
)
def test_hypertonic_saline_is_three_percent(strength, code):
    """3 g in 100 mL are 30 mg per mL."""
    checked = check("hypertonic-saline", 250, "mL", stock=Amount(strength, "mg/mL"))

    assert [each.code for each in checked.findings if each.code in ("wrong_stock", "unlisted_strength")] == [
        each for each in [code] if each
    ]
    assert checked.give.volume == Amount(250, "mL")


ARREST = (PhaseChange("p", "arrest", ago(5)),)


@pytest.mark.parametrize(
    ("treatment", "usual", "slip", "known"),
    [
        # a child of 18 kg: 0.01 mg/kg of epinephrine (RCUK 2021: 0.15 mg to 6 years; life support, children)
        ("epinephrine-im", (0.18, 0.15), 0.018, facts(child(), impression="anaphylactic")),
        ("epinephrine-arrest", (0.18, 0.1), 0.018, facts(child(), phases=ARREST)),
        ("epinephrine-arrest", (0.096, 0.032), 0.0032, facts(child(0, 3.2, "days"), phases=ARREST)),
        ("tranexamic-acid", (1000,), 1, facts(adult(bleeding_cause="trauma", onset_at=ago(30)))),  # CRASH-2: 1 g
        ("tranexamic-acid", (210,), 21, facts(child(3, 14, bleeding_cause="trauma", onset_at=ago(30)))),  # 15 mg/kg
        ("calcium-chloride", (1000, 500), 100, facts()),  # casualty care guidelines: 1 g
        ("calcium-gluconate", (3000, 1000), 300, facts()),
        ("hydrocortisone", (100,), 10, facts(adult(history=("steroid_dependent",)))),
    ],
)
def test_a_tenth_of_the_dose_is_told_and_the_dose_is_not(treatment, usual, slip, known):
    by = "IM" if treatment == "epinephrine-im" else "IV"

    assert level("below_least", check(treatment, slip, "mg", known, route=by)) == CAUTION
    assert [level("below_least", check(treatment, each, "mg", known, route=by)) for each in usual] == [""] * len(usual)


@pytest.mark.parametrize(
    ("treatment", "dose"),
    [("crystalloid-bolus", (10, "mL")), ("naloxone", (0.02, "mg")), ("blood-product", (5, "mL"))],
)
def test_what_is_given_little_by_little_is_not_told(treatment, dose):
    """Fluid runs on, and a child that takes opioids gets 1-5 mcg/kg of naloxone (life support, children)."""
    assert level("below_least", check(treatment, *dose, facts(child()))) == ""


@pytest.mark.parametrize(
    "treatment", ["epinephrine-im", "epinephrine-arrest", "calcium-chloride", "midazolam", "dextrose"]
)
def test_a_toddler_typed_as_an_adult_is_told_with_every_dose(treatment):
    """20 months typed as 20 years: 13 kg and an adult's fixed doses, of epinephrine four and eight times its own.

    WHO growth standards: a child of 20 months weighs about 11 kg; nobody of 20 years weighs 13.
    """
    dose = (0.5, "g") if treatment == "calcium-chloride" else (10, "g") if treatment == "dextrose" else (0.5, "mg")
    typed = {years: facts(child(years, 13)) for years in (20, 2)}

    assert {years: level("weight_unlikely", check(treatment, *dose, known)) for years, known in typed.items()} == {
        20: CAUTION,
        2: "",
    }
