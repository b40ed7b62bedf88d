"""Infusions: dose rate, pump rate and what is in the hand, against published tables."""

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dosing.check import infusion
from dosing.ground import units
from dosing.ground.facts import Amount, Weight
from tests.dosing.bedside import RULES, adult, check, codes, facts, told
from tests.dosing.bedside import given as was_given
from tests.dosing.dosing_values import ROWS, numbers, topic
from tests.dosing.in_hand import at, bag, drip, held
from tests.dosing.other_units import library

PER_KG = r"^([\d.]+) mcg/kg/min, (\d+) kg, (\d+) mcg/mL$"
FIXED = r"^([\d.]+) units/min at ([\d.]+) units/mL$"


def pump(dose: Amount, concentration: Amount, kg: float | None = None) -> float:
    """The pump rate in mL/h."""
    weight = None if kg is None else units.body_weight(Weight(kg))
    rate = infusion.pump_rate(units.quantity(dose), units.quantity(concentration), weight)
    return units.amount(rate, "mL/h").value


@pytest.mark.parametrize(("row", "found"), topic("infusion-rate", PER_KG))
def test_published_pump_rates_by_weight(row, found):
    rate = pump(Amount(float(found[1]), "mcg/kg/min"), Amount(float(found[3]), "mcg/mL"), float(found[2]))

    assert rate == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(("row", "found"), topic("infusion-rate", FIXED))
def test_published_pump_rates_of_vasopressin(row, found):
    rate = pump(Amount(float(found[1]), "units/min"), Amount(float(found[2]), "units/mL"))

    assert rate == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_norepinephrine_as_its_label_prints_it():
    """INF-041: 8 and 12 mcg/min at 32 mcg/mL are 0.25 and 0.375 mL/min."""
    rates = [pump(Amount(dose, "mcg/min"), Amount(32, "mcg/mL")) / 60 for dose in (8, 12)]

    assert rates == pytest.approx(numbers(ROWS["INF-041"]["expected"]))


def test_epinephrine_of_60_mcg_per_ml():
    """INF-052: 6 mg in 100 mL at 5 mL/h is 5 mcg/min."""
    dose = infusion.restated(Amount(5, "mL/h"), "mcg/min", None, Amount(60, "mcg/mL"))

    assert dose == Amount(float(ROWS["INF-052"]["expected"]), "mcg/min")


@pytest.mark.parametrize(
    ("strength", "kg", "expected"),
    [
        pytest.param(0.6, 20, 0.1, id="INF-046: 0.6 x kg mg in 100 mL"),
        pytest.param(6, 20, 1, id="INF-047: 6 x kg mg in 100 mL, from memory"),
    ],
)
def test_the_rule_of_six(strength, kg, expected):
    """1 mL/h of such a mix gives the printed mcg/kg/min at every weight."""
    mix = Amount(strength * kg * 1000 / 100, "mcg/mL")
    dose = infusion.restated(Amount(1, "mL/h"), "mcg/kg/min", Weight(kg), mix)

    assert dose.value == pytest.approx(expected)


def test_how_long_a_bag_lasts():
    """INF-060: 24 mL/h out of 100 mL."""
    hung = held(bag(ml=100), doses=(drip((0, 24, "mL/h")),))["bag"]

    assert hung.lasts_to == at(numbers(ROWS["INF-060"]["expected"])[1])


def test_a_rate_per_kg_needs_the_weight():
    with pytest.raises(units.WrongUnit) as refused:
        infusion.restated(Amount(30, "mL/h"), "mcg/kg/min", None, Amount(16, "mcg/mL"))

    assert refused.value.code == "weight_unknown"
    assert refused.value.detail == "the weight is unknown, so a rate per kg cannot be compared"


def test_a_pump_rate_needs_the_concentration():
    for rate, unit in ((Amount(30, "mL/h"), "mcg/min"), (Amount(8, "mcg/min"), "mL/h")):
        with pytest.raises(units.WrongUnit) as refused:
            infusion.restated(rate, unit, Weight(80))
        assert refused.value.code == "concentration_missing"
        assert refused.value.detail == "a volume needs the concentration"


@given(dose=st.integers(1, 300), kg=st.integers(1, 200), strength=st.sampled_from([4, 10, 16, 20, 32, 40, 64, 1600]))
def test_dose_to_pump_and_back_is_the_same_dose(dose, kg, strength):
    stated = Amount(dose / 100, "mcg/kg/min")
    concentration = units.quantity(Amount(strength, "mcg/mL"))
    weight = units.body_weight(Weight(kg))
    rate = infusion.pump_rate(units.quantity(stated), concentration, weight)

    assert rate * concentration / weight == units.quantity(stated)


RATES = ["mcg/kg/min", "mcg/min", "mL/h", "mg/h", "mL/min"]
_PINT = {"mcg": "microgram", "mg": "milligram", "mL": "milliliter", "kg": "kilogram", "min": "minute", "h": "hour"}


def by_pint(rate: Amount, unit: str, kg: float, strength: float) -> float:
    """The same conversion by another library's own units: body mass and concentration are plain quantities."""

    def of(value: float, name: str):
        parts = [library()(_PINT[part]) for part in name.split("/")]
        return value * math.prod([parts[0], *(1 / part for part in parts[1:])])

    volume_in, volume_out = rate.unit.startswith("mL"), unit.startswith("mL")
    quantity, weight = of(rate.value, rate.unit), of(kg, "kg")
    quantity = quantity * weight if "/kg" in rate.unit else quantity
    if volume_in and not volume_out:
        quantity = quantity * of(strength, "mcg/mL")
    elif volume_out and not volume_in:
        quantity = quantity / of(strength, "mcg/mL")
    quantity = quantity / weight if "/kg" in unit else quantity
    return float(quantity.to(of(1, unit).units).magnitude)


@given(
    value=st.integers(1, 9999).map(lambda number: number / 100),
    kg=st.integers(1, 200),
    strength=st.sampled_from([4, 10, 16, 20, 32, 40, 64, 1600]),
    one=st.sampled_from(RATES),
    other=st.sampled_from(RATES),
)
def test_each_rate_from_each_other_and_back_as_another_library_computes_it(value, kg, strength, one, other):
    stated, weight, concentration = Amount(value, one), Weight(kg), Amount(strength, "mcg/mL")
    there = infusion.restated(stated, other, weight, concentration)
    assume(there.value > 1e-8)  # below it no amount is taken

    assert there.value == pytest.approx(by_pint(stated, other, kg, strength), rel=1e-9)
    assert infusion.restated(there, one, weight, concentration).value == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("stated", "unit", "concentration", "expected"),
    [
        (Amount(0.03, "units/min"), "mL/h", Amount(1, "units/mL"), float(ROWS["INF-054"]["expected"])),
        (Amount(4.5, "mL/h"), "units/min", Amount(0.4, "units/mL"), 0.03),
        (Amount(0.0005, "units/kg/min"), "units/min", None, 0.01),
        (Amount(0.04, "units/min"), "units/kg/min", None, 0.002),
    ],
)
def test_units_of_activity(stated, unit, concentration, expected):
    """A child of 20 kg."""
    assert infusion.restated(stated, unit, Weight(20), concentration).value == pytest.approx(expected)


@pytest.mark.parametrize(
    ("stated", "unit", "code"),
    [
        (Amount(8, "mcg/min"), "mL/h", "concentration_missing"),
        (Amount(30, "mL/h"), "mcg/min", "concentration_missing"),
        (Amount(0.1, "mcg/kg/min"), "mcg/min", "weight_unknown"),
        (Amount(8, "mcg/min"), "mcg/kg/min", "weight_unknown"),
        (Amount(8, "mcg/min"), "units/min", "wrong_kind"),
    ],
)
def test_what_is_not_known_is_never_made_up(stated, unit, code):
    with pytest.raises(units.WrongUnit) as refused:
        infusion.restated(stated, unit)

    assert refused.value.code == code


# ---- the pump


@pytest.mark.parametrize(
    ("ml_h", "set_to"),
    [(30, 30), (26.25, 26.3), (26.24, 26.2), (0.05, 0.1), (0.04, None), (999, 999), (999.04, 999), (999.1, None)],
)
def test_a_pump_sets_the_nearest_step(ml_h, set_to):
    """Steps of 0.1 mL/h, half up, from 0.1 to 999 mL/h."""
    setting = infusion.pump_setting(units.quantity(Amount(ml_h, "mL/h")), RULES.pump)

    assert setting == (None if set_to is None else Amount(set_to, "mL/h"))


@pytest.mark.parametrize(
    ("ml_h", "words"),
    [
        (30, None),
        (26.25, None),
        (1.05, None),
        (0.95, "steps of 0.1 mL/h"),
        (0.04, "0.1 mL/h or more; use a weaker"),
        (1000, "999 mL/h or less; use a stronger"),
    ],
    ids=["whole", "hardly off", "just 5 %", "above 5 %", "too slow", "too fast"],
)
def test_a_rate_that_a_pump_cannot_run_is_a_caution_with_its_source(ml_h, words):
    checked = check("norepinephrine-infusion", ml_h, "mL/h", concentration=Amount(16, "mcg/mL"))
    found = [each for each in checked.findings if each.code == "rate_not_deliverable"]

    assert [each.level for each in found] == ([] if words is None else ["caution"])
    assert words is None or (words in found[0].text and found[0].source)


LESS, MORE = "use a weaker concentration", "use a stronger concentration"


@pytest.mark.parametrize(
    ("dose", "strength", "words", "limit"),
    [
        (0.15, 900, f"0.01 mL/h: pumps run at 0.1 mL/h or more; {LESS}", 0.1),
        (100, 4, f"1,500 mL/h: pumps run at 999 mL/h or less; {MORE}", 999),
        (0.6, 100, f"0.36 mL/h: a pump sets steps of 0.1 mL/h, so 0.4 mL/h; {LESS}", 0.1),
        (0.1, 56, f"0.107 mL/h: a pump sets steps of 0.1 mL/h, so 0.1 mL/h; {LESS}", 0.1),
        (0.1, 57, None, None),  # 6/57 mL/h is 0.1 / 0.95: exactly 5 % off
        (0.1, 60, None, None),
    ],
    ids=["too slow", "too fast", "between two steps", "more than 5 % off", "just 5 % off", "the slowest"],
)
def test_what_a_pump_makes_of_a_rate_is_told_whole(dose, strength, words, limit):
    """mL/h = mcg/min x 60 / (mcg/mL) (dopamine prescribing information); the pump's range is a setting of the rules."""
    checked = check("epinephrine-infusion", dose, "mcg/min", concentration=Amount(strength, "mcg/mL"))
    found = [each for each in checked.findings if each.code == "rate_not_deliverable"]

    assert [(each.text, each.limit) for each in found] == ([] if words is None else [(words, Amount(limit, "mL/h"))])
    assert all(each.source.startswith("Hospital guide to injectable medicines") for each in found)


@given(st.fractions(min_value=Fraction(1, 10), max_value=999))
def test_a_setting_is_never_more_than_half_a_step_away(ml_h):
    rate = units.quantity(Amount(1, "mL/h")) * ml_h
    setting = infusion.pump_setting(rate, RULES.pump)

    assert abs(Fraction(str(setting.value)) - ml_h) <= Fraction(1, 20)


# ---- in a check


def test_a_rate_is_computed_for_the_pump():
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min", concentration=Amount(16, "mcg/mL"))

    assert checked.give.rate == Amount(30, "mL/h")
    assert checked.give.shown == "0.1 mcg/kg/min = 30 mL/h of 16 mcg per mL"
    assert checked.weight_used == Weight(80, "kg", "measured")


@pytest.mark.parametrize(
    ("value", "unit"), [(0.1, "mcg/kg/min"), (8, "mcg/min"), (30, "mL/h"), (0.5, "mL/min"), (0.006, "mg/kg/h")]
)
def test_every_way_to_state_a_rate_is_the_same_rate(value, unit):
    checked = check("norepinephrine-infusion", value, unit, concentration=Amount(16, "mcg/mL"))

    assert checked.give.dose == Amount(0.1, "mcg/kg/min")
    assert checked.give.rate == Amount(30, "mL/h")


def test_a_pump_rate_says_nothing_without_the_concentration():
    with pytest.raises(units.WrongUnit) as refused:
        check("norepinephrine-infusion", 30, "mL/h")

    assert (refused.value.field, refused.value.code) == ("concentration", "concentration_missing")


def test_without_a_concentration_there_is_no_pump_rate():
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min")

    assert checked.give.rate is None
    assert "strength_not_stated" in codes(checked)


def test_a_concentration_that_is_not_listed_is_a_caution_and_still_computed():
    checked = check("norepinephrine-infusion", 0.1, "mcg/kg/min", concentration=Amount(20, "mcg/mL"))

    assert "unlisted_strength" in codes(checked)
    assert checked.give.rate == Amount(24, "mL/h")


def test_a_concentration_of_another_kind_is_refused_at_its_own_field():
    with pytest.raises(units.WrongUnit) as refused:
        check("norepinephrine-infusion", 0.1, "mcg/kg/min", concentration=Amount(1, "units/mL"))

    assert refused.value.field == "concentration"


def test_an_adult_of_unknown_weight_is_dosed_per_minute():
    unknown = facts(adult(None))
    told_most = told("norepinephrine-infusion", unknown)["most"]
    checked = check("norepinephrine-infusion", 8, "mcg/min", unknown, concentration=Amount(16, "mcg/mL"))

    assert told_most == {"value": 30, "unit": "mcg/min"}
    assert "weight_unknown" not in codes(checked)
    assert checked.give.rate == Amount(30, "mL/h")


@pytest.mark.parametrize(
    ("treatment", "value", "unit"),
    [("vasopressin-infusion", 0.0004, "units/kg/min"), ("norepinephrine-infusion", 0.04, "units/min")],
)
def test_the_other_kind_of_unit_is_refused(treatment, value, unit):
    with pytest.raises(units.WrongUnit) as refused:
        check(treatment, value, unit, concentration=None)

    assert refused.value.field == "amount"


@pytest.mark.parametrize("name", [slug for slug, one in RULES.treatments.items() if one.form == "infusion"])
def test_infusions_start_by_order(name):
    treatment = RULES.treatments[name]
    checked = check(name, treatment.bands[0].least.amount.value, treatment.bands[0].least.amount.unit)

    assert "starts_by_order" in codes(checked)
    assert told(name)["by_order"]


@pytest.mark.parametrize(
    ("milligrams", "told"),
    [
        (0.64, "30 mL/h would be 4 mcg/kg/min, not 0.4 mcg/kg/min"),
        (0.128, "30 mL/h would be 0.8 mcg/kg/min, not 0.4 mcg/kg/min"),
    ],
    ids=["ten-fold", "twice as strong"],
)
def test_a_pump_rate_of_an_unlisted_strength_is_told_as_it_was_set(milligrams, told):
    """30 mL/h x 0.64 mg/mL / 60 / 80 kg are 4 mcg/kg/min; of the nearest that is listed, 64 mcg/mL, 0.4."""
    checked = check("norepinephrine-infusion", 30, "mL/h", concentration=Amount(milligrams, "mg/mL"))
    (found,) = [each.text for each in checked.findings if each.code == "unlisted_strength"]

    assert found.endswith(told)
    assert "mistaken for 64 mcg per mL" in found


# An infusion whose rule says no start begins with its least: labels of nitroglycerin 5 mcg/min, phenylephrine 0.5,
# dobutamine 2.5, esmolol 50 mcg/kg/min (as in the rule set, some from memory).
@pytest.mark.parametrize(
    ("treatment", "rate", "usual"),
    [
        ("nitroglycerin-infusion", (200, "mcg/min"), "5 mcg/min"),
        ("nitroglycerin-infusion", (5, "mcg/min"), ""),
        ("phenylephrine-infusion", (1.4, "mcg/kg/min"), "0.5 mcg/kg/min"),
        ("phenylephrine-infusion", (0.5, "mcg/kg/min"), ""),
        ("dobutamine-infusion", (15, "mcg/kg/min"), "2.5 mcg/kg/min"),
        ("dobutamine-infusion", (2.5, "mcg/kg/min"), ""),
        ("esmolol-infusion", (200, "mcg/kg/min"), "50 mcg/kg/min"),
        ("esmolol-infusion", (51, "mcg/kg/min"), "50 mcg/kg/min"),
        ("vasopressin-infusion", (0.03, "units/min"), ""),  # its rule says a start
        ("vasopressin-infusion", (0.04, "units/min"), "0.03 units/min"),
    ],
)
@pytest.mark.parametrize("runs", [False, True])
def test_a_start_far_above_the_usual_one_is_told(treatment, rate, usual, runs):
    """Of what runs already it is a step."""
    running = was_given(treatment, 30, 0.01, rate[1], status="running", route="IV")
    known = facts(sbp=190, dbp=110, signs={"hr": 150}, doses=(running,) if runs else ())
    found = check(treatment, *rate, known, new_rate=runs).findings
    told = [each.text for each in found if "above the usual start" in each.text]

    assert [f"above the usual start of {usual}" in each for each in told] == ([True] if usual and not runs else [])
