"""The range of true weights for which a verdict holds, against the check itself asked at many weights."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.check.earlier import with_given
from dosing.check.findings import worst
from dosing.ground.facts import Age, Amount, Order, Patient, Weight
from dosing.ground.given_before import Earlier
from dosing.rules.rule_set import RuleSet
from tests.depth import few
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, child, facts, told, usual_dose, usual_route
from tests.dosing.bedside import given as dose

TREATMENTS = sorted(RULES.treatments)
GUESS = ("weight_estimated", "weight_unlikely")
IMPRESSIONS = ["septic", "hemorrhagic", "cardiogenic", "anaphylactic"]
LIGHTEST, HEAVIEST = Fraction("0.3"), Fraction(400)  # the contract's range of a weight
SPREAD = [Fraction(number) for number in (1, 3, 5, 8, 12, 20, 28, 35, 45, 60, 90, 150)]


def patient(years, kg, basis="stated"):
    return Patient(age=Age(years, "years"), weight=Weight(kg, "kg", basis), onset_at=ago(30), bleeding_cause="trauma")


def bare(unit, value, kg):
    """A dose per kg as what is measured out at a weight, exactly."""
    return (unit.replace("/kg", ""), Fraction(str(value)) * Fraction(str(kg))) if "/kg" in unit else (unit, value)


def judged(treatment, value, unit, known, **more):
    """The verdict as if the weight were known: that it is a guess is no finding."""
    return worst(found for found in check(treatment, value, unit, known, **more).findings if found.code not in GUESS)


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "years", "kg", "text", "beyond"),
    [
        # crystalloid, child: usual 20 mL/kg, standing 30 mL/kg, at most 1,000 mL (demonstration rules)
        ("crystalloid-bolus", 300, "mL", 5, 18, "within for 15 kg and more", "below 15 kg caution"),
        (
            "crystalloid-bolus",
            300,
            "mL",
            5,
            12,
            "caution for 10–14.9 kg",
            "below 10 kg needs an order; over 14.9 kg within",
        ),
        (
            "crystalloid-bolus",
            300,
            "mL",
            5,
            9,
            "needs an order for 7.5–9.9 kg",
            "below 7.5 kg over the hard limit; over 9.9 kg caution",
        ),
        ("crystalloid-bolus", 300, "mL", 5, 7, "over the hard limit for 7.4 kg and less", "over 7.4 kg needs an order"),
        # epinephrine push, child: usual 1 mcg/kg, standing 2 mcg/kg, least 1 mcg; from 50 kg and 12 years least 10 mcg
        ("epinephrine-push-dose", 5, "mcg", 13, 45, "within for 5–49.9 kg", "below 5 kg caution; over 49.9 kg caution"),
        ("epinephrine-push-dose", 5, "mcg", 13, 55, "caution for 50 kg and more", "below 50 kg within"),
        (
            "epinephrine-push-dose",
            15,
            "mcg",
            13,
            45,
            "needs an order for 3–49.9 kg",
            "below 3 kg over the hard limit; over 49.9 kg within",
        ),
        # epinephrine IM at 8 years: 0.3 mg or 0.01 mg/kg
        (
            "epinephrine-im",
            0.35,
            "mg",
            8,
            25,
            "needs an order for 2–34.9 kg",
            "below 2 kg over the hard limit; over 34.9 kg caution",
        ),
        # a third is rounded inward: 100 mL / (30 mL/kg) = 3.33 kg
        (
            "crystalloid-bolus",
            100,
            "mL",
            1,
            4,
            "caution for 3.4–4.9 kg",
            "below 3.4 kg needs an order; over 4.9 kg within",
        ),
        # nothing of it by weight
        ("epinephrine-push-dose", 15, "mcg", 54, 80, None, None),
        ("calcium-chloride", 1000, "mg", 54, 80, None, None),
    ],
)
def test_worked_ranges(treatment, value, unit, years, kg, text, beyond):
    found = check(treatment, value, unit, facts(patient(years, kg)), route=usual_route(treatment)).weight_range

    assert (found and found.text, found and found.beyond) == (text, beyond)


@pytest.mark.parametrize(("basis", "asked"), [("measured", False), ("stated", True), ("length", True), ("age", True)])
def test_only_a_guess_has_a_range(basis, asked):
    checked = check("crystalloid-bolus", 300, "mL", facts(patient(5, 18, basis)))

    assert (checked.weight_range is not None) == asked
    assert checked.as_dict()["weight_range"] == (
        {"least": 15.0, "most": None, "text": "within for 15 kg and more"}
        | {"lighter": "caution", "heavier": None, "beyond": "below 15 kg caution"}
        if asked
        else None
    )


def test_an_unknown_weight_has_no_range():
    assert check("crystalloid-bolus", 300, "mL", facts(Patient(age=Age(5, "years")))).weight_range is None
    assert check("other", 1, "mg").as_dict()["weight_range"] is None


def test_a_guess_by_age_is_a_caution_and_its_range_that_of_the_dose():
    checked = check("crystalloid-bolus", 300, "mL", facts(patient(5, 18, "age")))

    assert checked.verdict == "caution"
    assert checked.weight_range.text == "within for 15 kg and more"


def test_a_guess_beside_an_edge_is_printed_as_finely_as_it_takes():
    """300 mL / (30 mL/kg) is 10 kg, 100 / 30 = 3.333…: the printed bound never passes either the edge or the guess."""
    found = check("crystalloid-bolus", 300, "mL", facts(patient(5, 9.98))).weight_range
    assert found.text == "needs an order for 7.5–9.99 kg"
    fine = check("crystalloid-bolus", 100, "mL", facts(patient(5, 3.334))).weight_range
    assert fine.text == "caution for 3.334–4.9 kg"
    on_it = check("crystalloid-bolus", 300, "mL", facts(patient(5, 15))).weight_range
    assert on_it.text == "within for 15 kg and more"


def test_a_dose_per_kg_is_what_was_measured_out_for_the_guess():
    """2 mcg/kg at 5 kg is 10 mcg, whatever the patient weighs: standing limit from 5 kg, usual from 10 kg."""
    per_kg = check("epinephrine-push-dose", 2, "mcg/kg", facts(patient(3, 5)))
    absolute = check("epinephrine-push-dose", 10, "mcg", facts(patient(3, 5)))

    assert per_kg.weight_range == absolute.weight_range
    assert per_kg.weight_range.text == "caution for 5–9.9 kg"


def test_what_was_given_per_kg_stays_what_was_measured_out():
    """20 mL/kg at 10 kg were 200 mL: with 200 mL more 400 mL, 40 mL/kg (usual in all) at 10 kg."""
    known = facts(patient(3, 10), doses=(dose("crystalloid-bolus", 30, 20, "mL/kg"),))
    found = check("crystalloid-bolus", 200, "mL", known).weight_range

    assert found.text == "within for 10 kg and more"


@pytest.mark.parametrize(
    ("age", "kg", "before", "value", "text"),
    [
        # in all at most 60 mL/kg before an order: 350 mL and 280 mL are that at 10.5 kg; hard limit 40 mL/kg at once
        (Age(1, "years"), 10, 350, 280, "needs an order for 7–10.4 kg"),
        # under 28 days three of 10 mL/kg: 80 mL and 20 mL are that at 3.33 kg
        (Age(7, "days"), 3, 80, 20, "needs an order for 1–3.3 kg"),
        (Age(7, "days"), 3.5, 80, 20, "within for 3.4 kg and more"),
    ],
)
def test_what_was_given_counts_into_the_range(age, kg, before, value, text):
    known = Patient(age=age, weight=Weight(kg))
    earlier = (dose("crystalloid-bolus", 30, before, "mL"),)
    found = check("crystalloid-bolus", value, "mL", facts(known, doses=earlier)).weight_range

    assert found.text == text


def test_a_range_reaches_over_the_switch_from_child_to_adult():
    """240 mcg of phenylephrine: not covered in a child, hard limit 20 mcg/kg; above an adult's 200 mcg from 50 kg."""
    found = check("phenylephrine-push-dose", 240, "mcg", facts(patient(13, 45))).weight_range

    assert found.text == "needs an order for 12 kg and more"


def test_an_order_that_was_read_back_covers_the_dose_at_every_weight():
    order = Order(
        id="o", treatment="epinephrine-push-dose", state="read_back", amount=Amount(3, "mcg/kg"), by="Dr Reed"
    )
    found = check("epinephrine-push-dose", 15, "mcg", facts(patient(3, 5)), order=order).weight_range

    assert found.text == "caution for 3 kg and more"  # 15 mcg are 5 mcg/kg, the hard limit, at 3 kg


CASES = {
    "years": st.integers(0, 20),
    "kg": st.integers(4, 900).map(lambda tenths: tenths / 10),
    "part": st.sampled_from([0.2, 0.5, 0.9, 1, 1.1, 2, 3, 6]),
    "rules": st.sampled_from([RULES, CONSERVATIVE]),
    "impression": st.sampled_from(IMPRESSIONS),
    "before": st.integers(0, 3),
    "per_kg": st.booleans(),
}


def proposal_of(treatment: str, known, rules: RuleSet, part: float, per_kg: bool, kg: float):
    """A part of what may be given at the guess, as it is stated and as it is measured out, each with its unit."""
    most = told(treatment, known, rules)["most"]  # none where each dose is by order
    usual = Amount(**most) if most else usual_dose(RULES.treatments[treatment])
    value, unit = float(f"{usual.value * part:.3g}"), usual.unit
    if treatment == "vasopressin-infusion":  # the adult's unit is refused for a child: as a pump rate for both
        rate = Fraction(str(value)) * (Fraction(str(kg)) if "/kg" in unit else 1) * 60
        return (rate, "mL/h"), (rate, "mL/h"), {"concentration": Amount(1, "units/mL")}
    kinds = {who: RULES.treatments[treatment].kinds(who) for who in ("adult", "child")}
    if (
        per_kg
        and unit in ("mcg", "mg", "mL")
        and all("mass/kg" in kinds[who] or "volume/kg" in kinds[who] for who in kinds)
    ):
        value, unit = float(f"{value / kg:.3g}"), f"{unit}/kg"
    bare_unit, bare_value = bare(unit, value, kg)
    return (value, unit), (bare_value, bare_unit), {}


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(**CASES)
def test_the_check_says_the_same_at_every_weight_within_and_another_thing_beside(
    treatment, years, kg, part, rules, impression, before, per_kg
):
    some = RULES.treatments[treatment].unit.replace("/kg", "")
    doses = tuple(dose(treatment, 20 + 10 * number, 2, some) for number in range(before))

    def at(weight, basis="stated"):
        return facts(patient(years, weight, basis), impression=impression, doses=doses, sbp=40, dbp=20)

    stated, measured_out, more = proposal_of(treatment, at(kg), rules, part, per_kg, kg)
    by = usual_route(treatment)
    checked = check(treatment, *stated, at(kg), rules=rules, route=by, **more)
    verdict = worst(found for found in checked.findings if found.code not in GUESS)

    def verdict_at(weight):
        return judged(treatment, *measured_out, at(weight, "measured"), rules=rules, route=by, **more)

    def same(weight):
        return verdict_at(weight) == verdict

    found = checked.weight_range
    least, most = (LIGHTEST, HEAVIEST) if found is None else (found.least or LIGHTEST, found.most or HEAVIEST)
    assert least <= Fraction(str(kg)) <= most
    inside = [least, most, (least + most) / 2, *(least + (most - least) / part for part in (3, 7, 50))]
    assert all(same(weight) for weight in [*inside, *(weight for weight in SPREAD if least <= weight <= most)])
    if found is not None:
        assert found.verdict == verdict
        for bound, outward, beyond in ((found.least, -1, found.lighter), (found.most, 1, found.heavier)):
            step = Fraction(1, 10 ** max(1, len(str(float(bound or 0)).partition(".")[2])))
            beside = [bound + outward * step * part / 8 for part in range(1, 9)] if bound else []
            assert beyond in {None, *map(verdict_at, beside)} - {verdict}
            assert (beyond is None) == (not beside)


def test_what_was_given_per_kg_counts_by_the_weight_of_its_time():
    """5 mL/kg of 80 kg are 400 mL, also for who is found to weigh 20 kg; without a weight then, by that known now."""
    then, unknown = (dose("crystalloid-bolus", 60, 5, "mL/kg", weight=weight) for weight in (Weight(80), None))
    left = [told("crystalloid-bolus", facts(adult(20), doses=(each,)))["left"]["total"] for each in (then, unknown)]

    assert [each["value"] for each in left] == [1800 - 400, 1800 - 100]


def test_what_was_given_per_kg_gives_one_range_kept_one_by_one_or_added_up():
    """Two boluses of 10 mL/kg before anybody knew the weight come to 400 mL at the guess of 20 kg, and stay that."""
    doses = tuple(dose("crystalloid-bolus", minutes, 10, "mL/kg", weight=None) for minutes in (60, 40))
    kept = {
        "one by one": {"doses": doses},
        "added up": {"doses": (), "earlier": Earlier(given=with_given({}, doses, RULES))},
    }
    one, added = (
        check("crystalloid-bolus", 300, "mL", facts(patient(5, 20), **of)).weight_range for of in kept.values()
    )

    assert one == added
    assert one is not None


def test_that_the_weight_is_unknown_is_told_once():
    """Diltiazem of a child has a hard limit per kg alone, and no standing one."""
    found = [each.text for each in check("diltiazem", 0.1, "mg/kg", facts(child(5, None))).findings]

    assert len([each for each in found if "weight unknown" in each]) == 1


@pytest.mark.parametrize(
    ("treatment", "dose", "patient"),
    [
        ("fentanyl", (15, "mcg"), child(3, None)),
        ("ketamine", (4, "mg"), child(2, None)),
        ("fentanyl", (20, "mcg"), adult(None)),
        ("norepinephrine-infusion", (0.5, "mcg/min"), child(3, None)),
    ],
)
def test_nobody_of_unknown_weight_is_told_to_have_too_little_by_weight(treatment, dose, patient):
    """0.5 mcg/kg of fentanyl, at most 100 mcg, is no least of 100 mcg."""
    found = check(treatment, *dose, facts(patient)).findings

    assert "below_least" not in {each.code for each in found}
