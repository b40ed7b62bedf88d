"""Read-back of what is in the hand: what matches an order however it is spelt, and every swap that does not."""

from fractions import Fraction

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount, Weight
from dosing.mix import stock
from dosing.rules.rule_set import Treatment
from dosing.tell.read_back_match import Ordered, Said, comes_to, matches, runs_at
from tests.copying import replace
from tests.dosing.bedside import CONSERVATIVE, RULES, usual_dose
from tests.dosing.dosing_values import ROWS, numbers

PUMP = RULES.pump
BEN = Weight(18, "kg", "measured")
ADA = Weight(80, "kg", "measured")
ORDERS = {
    **{"epinephrine-push-dose": "30 mcg", "phenylephrine-push-dose": "150 mcg", "epinephrine-im": "0.5 mg"},
    **{"epinephrine-infusion": "0.1 mcg/kg/min", "norepinephrine-infusion": "0.07 mcg/kg/min"},
    **{"ketamine": "1 mg/kg", "fentanyl": "1.5 mcg/kg"},
}


def amount(said: str) -> Amount:
    number, unit = said.split(" ", 1)
    return Amount(float(number), unit.replace(" per ", "/"))


def order(treatment: str, weight: Weight | None = ADA, **more) -> Ordered:
    known = {"amount": amount(ORDERS[treatment])} | more
    return Ordered(weight=weight, treatment=RULES.treatments[treatment], **known)


def drawn(strength: str, volume: str) -> Said:
    return Said(strength=amount(strength), volume=amount(volume))


def running(concentration: str, rate: str) -> Said:
    return Said(concentration=amount(concentration), rate=amount(rate))


@pytest.mark.parametrize(
    ("said", "same"),
    [
        (Said(amount=Amount(30, "mcg")), True),
        (Said(amount=Amount(0.03, "mg")), True),
        (Said(amount=Amount(30, "mg")), False),
        (Said(amount=Amount(3, "mL")), False),
        (Said(amount=Amount(30.01, "mcg")), False),
        (drawn("10 mcg/mL", "3 mL"), True),
        (drawn("0.01 mg/mL", "3 mL"), True),
        (drawn("0.01 mg/mL", "0.003 L"), True),
        (drawn("10 mcg/mL", "3.1 mL"), False),
        (drawn("10 mcg/mL", "0.3 mL"), False),
        (drawn("0.1 mg/mL", "3 mL"), False),
        (drawn("9.09 mcg/mL", "3 mL"), False),
        (drawn("1 mg/mL", "0.03 mL"), False),
        (drawn("10 units/mL", "3 mL"), False),
        (running("10 mcg/mL", "3 mL/h"), False),
        (Said(), False),
    ],
    ids=str,
)
def test_a_push_of_30_mcg(said, same):
    """10 mcg/mL is 1 mL of 0.1 mg/mL made up to 10 mL (PDP-001), so that 30 mcg are 3 mL: arithmetic."""
    assert matches(said, order("epinephrine-push-dose"), PUMP) is same


@pytest.mark.parametrize(
    ("weight", "said", "same"),
    [
        (ADA, Said(amount=Amount(0.07, "mcg/kg/min")), True),
        (ADA, Said(amount=Amount(5.6, "mcg/min")), True),
        (ADA, Said(amount=Amount(0.0042, "mg/kg/h")), True),
        (ADA, Said(amount=Amount(21, "mL/h")), False),
        (ADA, running("16 mcg/mL", "21 mL/h"), True),
        (ADA, running("0.016 mg/mL", "0.35 mL/min"), True),
        (ADA, running("32 mcg/mL", "10.5 mL/h"), True),
        (ADA, running("32 mcg/mL", "21 mL/h"), False),
        (BEN, running("16 mcg/mL", "4.725 mL/h"), True),
        (BEN, running("16 mcg/mL", "4.73 mL/h"), True),
        (BEN, running("16 mcg/mL", "4.7 mL/h"), True),
        (BEN, running("16 mcg/mL", "4.8 mL/h"), False),
        (BEN, Said(amount=Amount(1.26, "mcg/min")), True),
        (None, Said(amount=Amount(0.07, "mcg/kg/min")), True),
        (None, Said(amount=Amount(5.6, "mcg/min")), False),
        (None, running("16 mcg/mL", "21 mL/h"), False),
    ],
    ids=str,
)
def test_an_infusion_by_its_strength_and_the_rate_a_pump_can_run(weight, said, same):
    """INF-001: mL/h = mcg/kg/min x kg x 60 / (mcg/mL)."""
    assert matches(said, order("norepinephrine-infusion", weight), PUMP) is same


def test_a_pump_rate_that_was_ordered_is_the_drug_in_it():
    ordered = order("norepinephrine-infusion", amount=Amount(30, "mL/h"), concentration=Amount(16, "mcg/mL"))

    assert matches(running("16 mcg/mL", "30 mL/h"), ordered, PUMP)
    assert matches(running("32 mcg/mL", "15 mL/h"), ordered, PUMP)
    assert matches(Said(amount=Amount(0.1, "mcg/kg/min")), ordered, PUMP)
    assert not matches(running("64 mcg/mL", "30 mL/h"), ordered, PUMP)


def test_published_rates_of_mixes_match_their_doses():
    """INF-052: 6 mg in 100 mL at 5 mL/h are 5 mcg/min; INF-046: 0.6 x kg mg in 100 mL, 1 mL/h is 0.1 mcg/kg/min."""
    published = Amount(float(ROWS["INF-052"]["expected"]), "mcg/min")
    sixth = order("epinephrine-infusion", Weight(20), amount=Amount(0.1, "mcg/kg/min"))

    assert matches(running("60 mcg/mL", "5 mL/h"), order("epinephrine-infusion", amount=published), PUMP)
    assert matches(running("120 mcg/mL", "1 mL/h"), sixth, PUMP)


def test_the_same_volume_of_the_other_push_dose_is_ten_times_the_micrograms():
    """PDP-028: 2 mL of 100 mcg/mL and of 10 mcg/mL."""
    strong, weak = (Amount(value, "mcg") for value in numbers(ROWS["PDP-028"]["expected"]))
    ordered = order("phenylephrine-push-dose", amount=strong)

    assert matches(drawn("100 mcg/mL", "2 mL"), ordered, PUMP)
    assert not matches(drawn("10 mcg/mL", "2 mL"), ordered, PUMP)
    assert matches(drawn("10 mcg/mL", "2 mL"), order("epinephrine-push-dose", amount=weak), PUMP)


def test_a_dose_per_kg_is_drawn_up_for_the_weight():
    fentanyl = order("fentanyl", BEN)

    assert matches(drawn("50 mcg/mL", "0.54 mL"), fentanyl, PUMP)
    assert matches(Said(amount=Amount(27, "mcg")), fentanyl, PUMP)
    assert not matches(drawn("50 mcg/mL", "0.54 mL"), replace(fentanyl, weight=ADA), PUMP)
    assert not matches(drawn("50 mcg/mL", "0.54 mL"), replace(fentanyl, weight=None), PUMP)


def test_a_bag_of_blood_is_no_volume():
    ordered = Ordered(amount=Amount(1, "bag"), treatment=RULES.treatments["blood-product"])

    assert matches(Said(amount=Amount(1, "bag")), ordered, PUMP)
    assert not matches(Said(amount=Amount(600, "mL")), ordered, PUMP)


def strengths(treatment: Treatment):
    """Every strength that can be in the hand instead: listed, the vial of a recipe, what was not drained, ten-fold."""
    listed = [one.exact for one in stock.strengths(treatment)]
    recipes = [treatment.recipe] if treatment.recipe else []
    mixed = [exact for one in recipes for exact in (one.stock.exact, stock.made_from(one, one.stock.exact * 10))]
    full = [stock.undrained(one) for one in recipes if not one.nominal]
    return [*listed, *mixed, *full, *(exact * factor for exact in listed for factor in (10, 2, Fraction(1, 10)))]


WITH_STRENGTHS = [
    pytest.param(rules, treatment, id=f"{rules.name}, {treatment.slug}")
    for rules in (RULES, CONSERVATIVE)
    for treatment in rules.treatments.values()
    if stock.strengths(treatment)
]


@pytest.mark.parametrize(("rules", "treatment"), WITH_STRENGTHS)
@pytest.mark.parametrize("weight", [ADA, BEN], ids=["80 kg", "18 kg"])
def test_every_other_strength_in_the_hand_is_a_mismatch(rules, treatment, weight):
    """The volume or rate that is right for one strength, said with another; ordered as it is usual, and by weight."""
    usual = usual_dose(treatment)
    by_weight = Amount(usual.value / 80, f"{usual.unit}/kg")
    for dose in (usual, by_weight) if by_weight.unit in treatment.units else (usual,):
        mismatches(Ordered(amount=dose, weight=weight, treatment=treatment), rules)


def mismatches(ordered, rules):
    treatment, weight = ordered.treatment, ordered.weight
    exact = units.quantity(ordered.amount)
    dose = exact * units.body_weight(weight) if units.is_per_kg(exact) else exact

    def said(strength, right):
        base = ordered.amount.unit.split("/")[0]
        if base == "mL":  # ordered by volume: each strength of it is another bag
            return Said(strength=units.amount(strength, "mg/mL"), volume=units.amount(dose, "mL"))
        stated = units.amount(strength, f"{base}/mL")
        if treatment.form == "infusion":
            return Said(concentration=stated, rate=units.amount(dose / right, "mL/h"))
        return Said(strength=stated, volume=units.amount(dose / right, "mL"))

    ordered_in = [treatment.recipe.makes] if treatment.recipe else stock.strengths(treatment)
    for right in (one.exact for one in ordered_in):
        assert matches(said(right, right), ordered, rules.pump), f"{right:~}"
        for wrong in strengths(treatment):
            assert wrong == right or not matches(said(wrong, right), ordered, rules.pump), f"{wrong:~} for {right:~}"


DRIP_ORDER = Ordered(amount=Amount(8, "mcg/min"), concentration=Amount(16, "mcg/mL"), weight=ADA)
PUSH_ORDER = Ordered(amount=Amount(20, "mcg"), weight=ADA)


@pytest.mark.parametrize(
    ("said", "ordered"),
    [
        (Said(strength=Amount(10, "mcg/mL")), PUSH_ORDER),
        (Said(volume=Amount(2, "mL")), PUSH_ORDER),
        (Said(concentration=Amount(16, "mcg/mL")), DRIP_ORDER),
        (Said(rate=Amount(30, "mL/h")), DRIP_ORDER),
        (Said(amount=Amount(30, "mL/h")), DRIP_ORDER),
        (Said(amount=Amount(0.3, "mcg/kg")), PUSH_ORDER),
        (Said(amount=Amount(20, "units")), PUSH_ORDER),
        (Said(), PUSH_ORDER),
    ],
    ids=[
        "a strength, no volume",
        "a volume, no strength",
        "a concentration, no rate",
        "a rate, no concentration",
        "a pump rate as if it were the dose",
        "24 mcg by weight",
        "the same number of another unit",
        "nothing",
    ],
)
def test_half_of_what_is_in_the_hand_is_no_read_back(said, ordered):
    """20 mcg for 80 kg are 0.25 mcg/kg; 8 mcg/min of 16 mcg per mL are 30 mL/h."""
    assert not matches(said, ordered, PUMP)


def test_the_same_by_weight_or_with_its_concentration_is_one():
    assert matches(Said(amount=Amount(0.25, "mcg/kg")), PUSH_ORDER, PUMP)
    assert matches(Said(concentration=Amount(16, "mcg/mL"), rate=Amount(30, "mL/h")), DRIP_ORDER, PUMP)


@pytest.mark.parametrize(
    ("said", "ordered", "dose"),
    [
        (drawn("0.1 mg/mL", "1.5 mL"), order("epinephrine-push-dose"), "150 mcg"),
        (drawn("10 mcg/mL", "1.5 mL"), order("epinephrine-push-dose"), "15 mcg"),
        (drawn("1 mg/mL", "0.3 mL"), order("epinephrine-im"), "0.3 mg"),
        (drawn("50 mg/mL", "1.6 mL"), order("ketamine"), "1 mg/kg"),  # 80 mg for 80 kg
        (running("16 mcg/mL", "30 mL/h"), order("norepinephrine-infusion"), "0.1 mcg/kg/min"),  # 8 mcg/min for 80 kg
        (
            running("16 mcg/mL", "30 mL/h"),
            order("norepinephrine-infusion", None, amount=amount("4 mcg/min")),
            "8 mcg/min",
        ),
        (running("16 mcg/mL", "30 mL/h"), order("norepinephrine-infusion", None), None),
        (drawn("10 units/mL", "1.5 mL"), order("epinephrine-push-dose"), None),
        (drawn("0.1 stones/mL", "1.5 mL"), order("epinephrine-push-dose"), None),
        (Said(amount=Amount(15, "mcg")), order("epinephrine-push-dose"), None),
        (Said(amount=Amount(15, "mcg"), strength=Amount(10, "mcg/mL"), volume=Amount(1, "mL")), PUSH_ORDER, None),
        (Said(strength=Amount(10, "mcg/mL")), order("epinephrine-push-dose"), None),
        (Said(volume=Amount(1, "mL")), order("epinephrine-push-dose"), None),
        (Said(rate=Amount(1, "mL/h")), order("norepinephrine-infusion"), None),
        (Said(concentration=Amount(16, "mcg/mL")), order("norepinephrine-infusion"), None),
    ],
    ids=lambda each: str(each) if isinstance(each, str | Said) else "for an order",
)
def test_what_is_in_the_hand_comes_to_a_dose(said, ordered, dose):
    """Strength times volume, concentration times rate, by weight where it was so ordered: arithmetic."""
    assert comes_to(said, ordered) == (None if dose is None else amount(dose))


@pytest.mark.parametrize(
    ("rate", "ordered", "same"),  # 0.07 mcg/kg/min for 80 kg are 5.6 mcg/min, of 16 mcg per mL 21 mL/h
    [
        ("0.07 mcg/kg/min", {}, True),
        ("5.6 mcg/min", {}, True),
        ("5.61 mcg/min", {}, True),  # the pump's step of 0.1 mL/h shows no difference
        ("5.7 mcg/min", {}, False),
        ("21 mL/h", {}, True),
        ("21.1 mL/h", {}, False),
        ("21 mL/h", {"concentration": None}, False),
        ("0.07 mcg/kg/min", {"concentration": None}, True),
        ("5.6 mcg/min", {"concentration": None}, True),
        ("5.61 mcg/min", {"concentration": None}, False),
        ("0.08 mcg/kg/min", {}, False),
        ("0.07 mcg/kg/min", {"amount": Amount(21, "mL/h")}, True),
        ("0.07 mcg/kg/min", {"amount": Amount(21, "mL/h"), "weight": None}, False),
        ("0.07 units/min", {}, False),
    ],
)
def test_what_runs_is_set_to_the_rate_ordered(rate, ordered, same):
    named = {"concentration": Amount(16, "mcg/mL"), "weight": ADA, **ordered}

    assert runs_at(amount(rate), order("norepinephrine-infusion", **named), PUMP) is same
