"""Which strength is in the hand, and what a volume of it would be."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.mix import stock
from tests.copying import replace
from tests.dosing.bedside import RULES, adult, check, child, codes, facts, told
from tests.dosing.dosing_values import ROWS, numbers

PUSH = "epinephrine-push-dose"
EPINEPHRINE = RULES.treatments[PUSH]
PHENYLEPHRINE = RULES.treatments["phenylephrine-push-dose"]


def text_of(checked, code):
    return next(finding.text for finding in checked.findings if finding.code == code)


@pytest.mark.parametrize(
    ("strength", "kind", "given_at"),
    [
        (Amount(0.1, "mg/mL"), "stock", 10),
        (Amount(100, "mcg/mL"), "stock", 10),
        (Amount(10, "mcg/mL"), "prepared", 10),
        (Amount(1, "mg/mL"), "stronger", None),
        (Amount(0.5, "mg/mL"), "stronger", None),
        (Amount(9.09, "mcg/mL"), "undrained", 9.0909),
        (Amount(9.1, "mcg/mL"), "undrained", 9.0909),
        (Amount(20, "mcg/mL"), "unlisted", 20),
        (Amount(1, "mcg/mL"), "unlisted", 1),
    ],
    ids=lambda value: f"{value.value} {value.unit}" if isinstance(value, Amount) else "",
)
def test_what_is_in_the_hand_is_recognized(strength, kind, given_at):
    hand = stock.recognize(EPINEPHRINE, units.quantity(strength))

    assert hand.kind == kind
    shown = None if hand.strength is None else units.amount(hand.strength, "mcg/mL").value
    assert shown == (None if given_at is None else pytest.approx(given_at, abs=1e-4))


@pytest.mark.parametrize("mcg_per_ml", [10_000, 100, 99], ids=["vial", "bag", "bag, exactly"])
def test_phenylephrine_from_the_vial_or_from_the_bag(mcg_per_ml):
    hand = stock.recognize(PHENYLEPHRINE, units.quantity(Amount(mcg_per_ml, "mcg/mL")))

    assert units.amount(hand.strength, "mcg/mL").value == 100


@pytest.mark.parametrize(
    ("slug", "mcg_per_ml", "published"),
    [
        (PUSH, 9.0909, "PDP-021"),
        ("norepinephrine-infusion", 15.748, None),
        ("vasopressin-infusion", 0.95238, None),
    ],
    ids=["syringe", "bag of 250 mL", "bag of 100 mL"],
)
def test_no_room_made_for_the_drug(slug, mcg_per_ml, published):
    """PDP-021: 9.09. The bags by hand: 4 mg in 254 mL; 100 units in 105 mL, the 0.952 that CON-009 notes."""
    recipe = RULES.treatments[slug].recipes[-1]
    unit = recipe.makes.amount.unit
    found = units.amount(stock.undrained(recipe), unit).value

    assert found == pytest.approx(mcg_per_ml, rel=1e-4)
    if published:
        assert found == pytest.approx(numbers(ROWS[published]["expected"])[0], abs=0.01)


def test_the_ten_fold_slip_names_the_strength_and_the_dose_that_it_makes():
    """PDP-020: 1 mL of 1 mg/mL and 9 mL of saline are 100 mcg per mL."""
    checked = check(PUSH, 10, "mcg", stock=Amount(1, "mg/mL"))
    made = numbers(ROWS["PDP-020"]["expected"])[0]

    assert checked.verdict == "over_hard_limit"
    assert checked.give.volume is None
    assert text_of(checked, "wrong_stock") == (
        "1 mg per mL (stocked for EPINEPHrine IM (anaphylaxis), stocked for EPINEPHrine infusion) is the wrong vial: "
        f"the recipe makes {made:g} mcg per mL of it, not 10 mcg per mL, and 1 mL would be 100 mcg, not 10 mcg; "
        "take 0.1 mg per mL"
    )


def test_the_undrained_syringe_is_named_and_its_volume_follows():
    checked = check(PUSH, 10, "mcg", stock=Amount(9.09, "mcg/mL"))

    assert text_of(checked, "unlisted_strength") == (
        "9.09 mcg per mL is what the drug added to a full syringe: expel first to reach the strength on the label; "
        "1 mL would be 9.09 mcg, not 10 mcg"
    )
    assert checked.give.volume.value == pytest.approx(1.1)


def test_the_undrained_bag_is_named():
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min", concentration=Amount(15.748, "mcg/mL"))

    assert "added to a full bag: draw out first" in text_of(checked, "unlisted_strength")


def test_the_vial_in_place_of_the_syringe_is_named_beside_the_dose():
    """Either is right if it is used as the recipe says; what the vial would be undiluted stands beside it."""
    for strength in (Amount(0.1, "mg/mL"), Amount(10, "mcg/mL")):
        checked = check(PUSH, 10, "mcg", stock=strength)

        assert checked.verdict == "within"
        assert checked.give.if_swapped == ("1 mL of 0.1 mg per mL would be 100 mcg",)


def test_a_bag_in_place_of_a_syringe_is_named():
    checked = check(PUSH, 10, "mcg", stock=Amount(40, "mcg/mL"))

    assert text_of(checked, "unlisted_strength") == (
        "40 mcg per mL (the bag for EPINEPHrine infusion) is not one of 0.1 mg per mL, 10 mcg per mL; "
        "mistaken for 10 mcg per mL, 1 mL would be 40 mcg, not 10 mcg"
    )


def test_an_undiluted_vial_hung_in_place_of_the_bag_is_named():
    """Contract, "checks": `wrong_stock`; nothing is said about how fast it would run."""
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min", concentration=Amount(1, "mg/mL"))

    assert "1 mg per mL (the undiluted vial) is not for this" in text_of(checked, "wrong_stock")
    assert text_of(checked, "wrong_stock").endswith("7.5 mL/h would be 1.56 mcg/kg/min, not 0.1 mcg/kg/min")
    assert (checked.verdict, checked.give.rate) == ("over_hard_limit", None)


@pytest.mark.parametrize(
    ("infusion", "dose", "strength", "wrong"),
    [
        ("norepinephrine-infusion", (8, "mcg/min"), Amount(0.9, "mg/mL"), False),
        ("norepinephrine-infusion", (8, "mcg/min"), Amount(2, "mg/mL"), True),
        ("vasopressin-infusion", (0.03, "units/min"), Amount(20, "units/mL"), True),
        ("vasopressin-infusion", (0.03, "units/min"), Amount(2, "units/mL"), False),
        ("dopamine-infusion", (5, "mcg/kg/min"), Amount(40, "mg/mL"), True),
        ("dopamine-infusion", (5, "mcg/kg/min"), Amount(6.4, "mg/mL"), False),
    ],
)
def test_no_undiluted_pressor_runs_as_an_infusion(infusion, dose, strength, wrong):
    """Vials of 1 mg, 20 units and 40 mg per mL; a bag that is only stronger than those listed is a caution."""
    assert ("wrong_stock" in codes(check(infusion, *dose, concentration=strength))) is wrong


@pytest.mark.parametrize(
    ("slug", "value", "unit", "words"),
    [
        ("ketamine", 20, "mg", "50 mg per mL mistaken for 10 mg per mL, 2 mL would be 100 mg, not 20 mg"),
        ("midazolam", 2, "mg", "5 mg per mL mistaken for 1 mg per mL, 2 mL would be 10 mg, not 2 mg"),
        ("naloxone", 0.4, "mg", "1 mg per mL mistaken for 0.4 mg per mL, 1 mL would be 1 mg, not 0.4 mg"),
        ("dextrose", 25, "g", "500 mg per mL mistaken for 100 mg per mL, 250 mL would be 125 g, not 25 g"),
    ],
)
def test_no_strength_stated_says_what_the_swap_would_give(slug, value, unit, words):
    checked = check(slug, value, unit)

    assert words in text_of(checked, "strength_not_stated")
    assert checked.give.volume is None


@pytest.mark.parametrize(
    ("slug", "value", "unit"), [("hydrocortisone", 100, "mg"), ("dopamine-infusion", 5, "mcg/kg/min")]
)
def test_what_the_rules_list_in_no_strength_has_its_dose_alone(slug, value, unit):
    """A tablet has neither strength nor volume; nobody is asked which one it was."""
    tablet = replace(RULES.treatments[slug], stocks=(), concentrations=())
    checked = check(slug, value, unit, rules=replace(RULES, treatments={**RULES.treatments, slug: tablet}))

    assert (checked.give.dose, checked.give.volume, checked.give.rate) == (Amount(value, unit), None, None)
    assert "strength_not_stated" not in codes(checked)


def test_a_dose_that_is_still_per_kg_names_the_dose_and_no_volume():
    checked = check(PUSH, 0.25, "mcg/kg", facts(adult(None)), stock=Amount(1, "mg/mL"))

    assert "the patient would get 2.5 mcg/kg, not 0.25 mcg/kg" in text_of(checked, "wrong_stock")


def test_a_vial_ten_times_as_strong_as_any_listed_is_not_given():
    checked = check("tranexamic-acid", 1, "g", stock=Amount(1000, "mg/mL"))

    assert "wrong_stock" in codes(checked)
    assert "10 mL would be 10 g, not 1 g" in text_of(checked, "wrong_stock")


def test_the_guidance_names_the_strength_behind_its_volumes():
    assert told(PUSH)["volumes"]["strength"] == {"value": 10, "unit": "mcg/mL"}


STRENGTHS = st.integers(1, 5_000_000).map(lambda thousandths: Amount(thousandths / 1000, "mcg/mL"))


@given(strength=STRENGTHS)
def test_what_would_result_grows_with_the_strength_in_the_hand(strength):
    """Whatever is taken for the vial or the syringe, nothing that differs is called right."""
    exact = units.quantity(strength)
    hand = stock.recognize(EPINEPHRINE, exact)
    right = {EPINEPHRINE.recipe.stock.exact, EPINEPHRINE.recipe.makes.exact}

    assert (hand.kind in ("stock", "prepared")) == (exact in right)
    if hand.kind == "stronger":
        assert hand.strength is None
        assert stock.times(hand.results, hand.usual) == Fraction(exact.magnitude) / 100
    elif exact not in right and hand.kind == "unlisted":
        assert hand.results == exact


@given(strength=STRENGTHS, dose=st.integers(1, 100))
def test_the_volume_of_any_strength_holds_the_dose(strength, dose):
    """Mass is kept: volume times the strength that goes in is the dose, or no volume is named."""
    checked = check(PUSH, dose, "mcg", stock=strength)

    if checked.give.volume is not None:
        hand = stock.recognize(EPINEPHRINE, units.quantity(strength))
        holds = units.quantity(checked.give.volume) * hand.strength
        assert float(units.number(holds, "mcg")) == pytest.approx(dose)


@pytest.mark.parametrize(
    ("patient", "percent", "told"),
    [
        (child(1, 10), 500, True),
        (child(7, 25), 500, True),
        (child(8, 30), 500, False),
        (adult(80), 500, False),
        (child(5, 3, "days"), 100, False),
        (child(5, 3, "days"), 250, False),
    ],
    ids=["one year", "seven years", "eight years", "an adult", "10 %", "25 %"],
)
def test_fifty_percent_dextrose_is_not_for_a_small_child(patient, percent, told):
    """Merck Manual: 10 or 25 % for children; where small ends, at 8 years, is our choice."""
    checked = check("dextrose", 1, "g", facts(patient), stock=Amount(percent, "mg/mL"))
    found = [each for each in checked.findings if each.code == "unlisted_strength"]

    assert bool(found) == told
    for each in found:
        assert each.text.startswith("500 mg per mL: not in a small child: 10 % first (a child of ")
        assert (each.level, each.source.startswith("Merck Manual")) == ("needs_order", True)


# More than 1 mL a nostril runs off (Bailey 2017, second-hand); 5 mL is much for one muscle (teaching, second-hand).
@pytest.mark.parametrize(
    ("treatment", "milligrams", "route", "strength", "told_so"),
    [
        *[("naloxone", 2, "IN", 0.4, True), ("naloxone", 2, "IN", 1, False), ("naloxone", 0.4, "IM", 0.4, False)],
        *[("midazolam", 10, "IM", 1, True), ("midazolam", 10, "IM", 5, False), ("midazolam", 2, "IV", 1, False)],
        *[("succinylcholine", 150, "IM", 20, True), ("succinylcholine", 150, "IM", 100, False)],
    ],
)
def test_a_strength_too_weak_for_the_nose_or_a_muscle_is_told(treatment, milligrams, route, strength, told_so):
    known = facts(sbp=120, dbp=80, signs={"rr": 6})
    checked = check(treatment, milligrams, "mg", known, route=route, stock=Amount(strength, "mg/mL"))

    assert ("unlisted_strength" in codes(checked)) is told_so
    assert "wrong_stock" not in codes(checked)


@pytest.mark.parametrize(
    ("treatment", "dose", "stock", "said"),
    [
        ("ketamine", (50, "mg"), Amount(10, "mg/mL"), "10 mg per mL: IO or IV only; 1 mL would be 10 mg"),
        ("naloxone", (4, "mg"), Amount(40, "mg/mL"), "40 mg per mL, nasal spray, 4 mg in 0.1 mL: intranasal only"),
    ],
)
def test_a_strength_of_another_route_is_named_as_it_is_listed(treatment, dose, stock, said):
    route = "IN" if treatment == "ketamine" else "IV"

    assert text_of(check(treatment, *dose, route=route, stock=stock), "wrong_stock").startswith(said)


@pytest.mark.parametrize(
    ("treatment", "dose", "more", "source"),
    [
        ("norepinephrine-infusion", (0.1, "mcg/kg/min"), {"concentration": Amount(1000, "mcg/mL")}, "Norepinephrine"),
        ("dopamine-infusion", (5, "mcg/kg/min"), {"concentration": Amount(40000, "mcg/mL")}, "Dopamine"),
        ("epinephrine-push-dose", (10, "mcg"), {"stock": Amount(1, "mg/mL")}, "Weingart, push-dose pressors"),
    ],
)
def test_a_wrong_vial_is_told_with_the_source_of_the_right_one(treatment, dose, more, source):
    found = next(each for each in check(treatment, *dose, **more).findings if each.code == "wrong_stock")

    assert found.source.startswith(source)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (Amount(10, "mcg/mL"), Amount(0.01, "mg/mL"), True),
        (Amount(10.1, "mcg/mL"), Amount(10, "mcg/mL"), True),
        (Amount(10.11, "mcg/mL"), Amount(10, "mcg/mL"), False),
        (Amount(9.9, "mcg/mL"), Amount(10, "mcg/mL"), True),
        (Amount(9.89, "mcg/mL"), Amount(10, "mcg/mL"), False),
        (Amount(10, "units/mL"), Amount(10, "mcg/mL"), False),
    ],
)
def test_strengths_are_alike_as_far_as_labels_tell_them_apart(one, other, same):
    """Within 1 %: phenylephrine is labeled 100 mcg per mL where 10 mg in 101 mL are 99 (PDP-022)."""
    assert stock.alike(units.quantity(one), units.quantity(other)) is same


def test_a_strength_of_another_kind_is_none_of_what_is_given_by_volume():
    with pytest.raises(units.WrongUnit) as refused:
        check("hypertonic-saline", 250, "mL", stock=Amount(30, "units/mL"))

    assert (refused.value.field, refused.value.code) == ("stock", "wrong_kind")
    assert refused.value.detail == "units/mL is not a strength of hypertonic saline 3 %"


@pytest.mark.parametrize(
    ("treatment", "value", "kind"),
    [
        ("midazolam", 10, "unlisted"),  # ten times the weaker of 1 and 5 mg per mL
        ("midazolam", 49.9, "unlisted"),
        ("midazolam", 50, "stronger"),
        ("ketamine", 499, "unlisted"),
        ("ketamine", 500, "stronger"),
        ("nicardipine-infusion", 2.4, "unlisted"),
        ("nicardipine-infusion", 2.5, "stronger"),  # the vial that its bag is mixed of
    ],
)
def test_too_strong_is_ten_times_the_strongest_that_is_stocked_or_the_vial_of_a_mix(treatment, value, kind):
    """That a point slipped is taken for granted from ten times on: common practice, no source."""
    found = stock.recognize(RULES.treatments[treatment], units.quantity(Amount(value, "mg/mL")))

    assert found.kind == kind


@pytest.mark.parametrize(("value", "kind"), [(2, "unlisted"), (4.9, "unlisted"), (5.1, "stronger")])
def test_where_nothing_stronger_may_be_taken_the_strongest_that_is_stocked_is_the_edge(value, kind):
    """Midazolam of 1 and 5 mg per mL, were it marked so."""
    marked = replace(RULES.treatments["midazolam"], strongest=True)

    assert stock.recognize(marked, units.quantity(Amount(value, "mg/mL"))).kind == kind
