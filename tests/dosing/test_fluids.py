"""Fluid by weight: caps, overrides, totals, and whether the cannula lets it through."""

import pytest

from dosing.check import fluids
from dosing.ground import units
from dosing.ground.cannulas import Access
from dosing.ground.facts import Amount
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, child, codes, facts, given, told
from tests.dosing.dosing_values import ROWS, numbers, rows

BOLUS = "crystalloid-bolus"
NOTHING_GIVEN = ()


def most(patient, rules=RULES, **more):
    return told(BOLUS, facts(patient, doses=NOTHING_GIVEN, **more), rules)["most"]


@pytest.mark.parametrize(
    ("patient", "impression", "milliliters"),
    [
        pytest.param(adult(30.5), "septic", 915, id="30 mL/kg"),
        pytest.param(adult(110), "septic", 1000, id="at most 1,000 mL"),
        pytest.param(adult(None), "septic", 500, id="adult of unknown weight"),
        pytest.param(child(5, 18), "septic", 540, id="child, 30 mL/kg"),
        pytest.param(child(20, 3, "days"), "septic", 30, id="under 28 days, 10 mL/kg"),
        pytest.param(child(28, 3, "days"), "septic", 90, id="28 days"),
        pytest.param(adult(80), "hemorrhagic", 250, id="bleeding"),
        pytest.param(adult(80), "cardiogenic", 250, id="failing heart"),
        pytest.param(adult(80), "obstructive", 250, id="obstruction"),
        pytest.param(adult(None), "hemorrhagic", 250, id="bleeding, unknown weight"),
        pytest.param(child(1, 5, "months"), "hemorrhagic", 50, id="bleeding infant, 10 mL/kg"),
        pytest.param(child(1, 8), "hemorrhagic", 80, id="bleeding child, 10 mL/kg"),
        pytest.param(child(8, 30), "hemorrhagic", 250, id="bleeding child: at most the adult's step"),
        pytest.param(child(1, 8), "cardiogenic", 80, id="failing heart of a child, 10 mL/kg"),
        pytest.param(child(20, 3, "days"), "cardiogenic", 30, id="failing heart of a newborn"),
    ],
)
def test_the_most_for_one_bolus(patient, impression, milliliters):
    assert most(patient, impression=impression) == {"value": milliliters, "unit": "mL"}


def of_weight(kg):
    """A child of an age at which that weight is possible."""
    return child(6, kg, "months") if kg < 8 else child(3, kg) if kg < 15 else child(8, kg)


@pytest.mark.parametrize("row", rows("FLU-014", "FLU-016"))
def test_ten_milliliters_per_kg_where_the_lower_limit_is_in_force(row):
    """NICE 2022 and SSC children 2020: 10 mL/kg; the conservative rules make it the guide."""
    kg = float(numbers(row["population"])[0])
    guide = told(BOLUS, facts(of_weight(kg), doses=NOTHING_GIVEN), CONSERVATIVE)["guide"]

    assert guide["value"] == float(row["expected"])


@pytest.mark.parametrize("row", rows("FLU-017", "FLU-019", "FLU-020", "FLU-024"))
def test_twenty_milliliters_per_kg_capped_at_a_liter(row):
    kg, expected = numbers(row["population"])[0], numbers(row["expected"])[0]

    assert most(of_weight(kg), CONSERVATIVE)["value"] == expected


@pytest.mark.parametrize("row", rows("FLU-021", "FLU-022", "FLU-023"))
def test_a_child_has_a_caution_above_40_and_an_order_above_60_ml_per_kg(row):
    kg = numbers(row["population"])[0]
    forty, sixty = numbers(row["expected"])
    step = 20 * kg
    ben = child(8, kg)

    def third_after(*before: float) -> set[str]:
        doses = tuple(given(BOLUS, 60 - number, volume, "mL") for number, volume in enumerate(before))
        return codes(check(BOLUS, step, "mL", facts(ben, doses=doses)))

    assert not {"above_guide", "total_reached"} & third_after(forty - step)
    assert "above_guide" in third_after(step, step)
    assert "total_reached" not in third_after(step, step)
    assert "total_reached" in third_after(sixty - step, 20)


def test_small_steps_do_not_use_up_the_count():
    steps = tuple(given(BOLUS, 60 - number, 250, "mL") for number in range(8))
    ada = facts(adult(80), doses=steps)

    left = {"count": None, "of": None, "total": {"value": 1000, "unit": "mL"}, "counted_whole": ""}
    assert told(BOLUS, ada)["left"] == left
    assert not {"count_reached", "total_reached"} & codes(check(BOLUS, 1000, "mL", ada))
    assert "count_reached" in codes(
        check(BOLUS, 1000, "mL", facts(adult(80), doses=(*steps, given(BOLUS, 5, 1, "mL"))))
    )


def test_one_bolus_for_a_failing_heart():
    first = facts(impression="cardiogenic", doses=NOTHING_GIVEN)
    second = facts(impression="cardiogenic", doses=(given(BOLUS, 20, 250, "mL"),))

    assert "count_reached" not in codes(check(BOLUS, 250, "mL", first))
    assert "count_reached" in codes(check(BOLUS, 250, "mL", second))
    assert told(BOLUS, second)["by_order"]


def test_bleeding_gets_a_liter_in_all_before_an_order():
    four = tuple(given(BOLUS, 60 - number, 250, "mL") for number in range(4))

    assert "total_reached" not in codes(check(BOLUS, 250, "mL", facts(impression="hemorrhagic", doses=four[:3])))
    assert "total_reached" in codes(check(BOLUS, 50, "mL", facts(impression="hemorrhagic", doses=four)))


def test_a_bolus_that_was_stopped_counts_for_what_ran_in():
    stopped = given(BOLUS, 30, 1000, "mL", status="stopped", infused=Amount(300, "mL"))
    ada = facts(adult(80), doses=(stopped, given(BOLUS, 20, 1000, "mL"), given(BOLUS, 10, 1000, "mL")))

    assert "total_reached" not in codes(check(BOLUS, 700, "mL", ada))
    assert "total_reached" in codes(check(BOLUS, 701, "mL", ada))


def test_what_somebody_gave_before_counts():
    before = given(BOLUS, 90, 3000, "mL", prior=True)

    assert "total_reached" in codes(check(BOLUS, 1, "mL", facts(adult(80), doses=(before,))))


@pytest.mark.parametrize(
    ("known", "code"),
    [
        pytest.param(facts(signs={"lungs": "crackles"}), "crackles", id="crackles"),
        pytest.param(facts(adult(80, fluid_restricted=True)), "fluid_restricted", id="restricted"),
        pytest.param(facts(child(5, None)), "weight_unknown", id="child of unknown weight"),
    ],
)
def test_what_needs_an_order(known, code):
    checked = check(BOLUS, 100, "mL", known)

    assert code in codes(checked)
    assert checked.verdict == "needs_order"


@pytest.mark.parametrize(
    ("patient", "milliliters", "verdict"),
    [
        (adult(110), 1000, "within"),
        (adult(110), 1000.5, "needs_order"),
        (adult(110), 2000, "needs_order"),
        (adult(110), 2001, "over_hard_limit"),
        (child(5, 18), 360, "within"),
        (child(5, 18), 361, "caution"),
        (child(5, 18), 541, "needs_order"),
        (child(5, 18), 721, "over_hard_limit"),
    ],
)
def test_limits_of_one_bolus(patient, milliliters, verdict):
    assert check(BOLUS, milliliters, "mL", facts(patient, doses=NOTHING_GIVEN)).verdict == verdict


# ---- flow


@pytest.mark.parametrize("row", rows("CAN-006", "CAN-007", "CAN-008", "CAN-009", "CAN-010"))
def test_nominal_flow_as_the_catheter_chart_prints_it(row):
    gauge = numbers(row["quantity"])[0]

    assert fluids.nominal_flow(gauge, RULES) == pytest.approx(numbers(row["expected"])[0], rel=0.1)


def test_nominal_flow_of_a_14_gauge_lies_in_the_published_range():
    """CAN-011, from memory."""
    low, high = numbers(ROWS["CAN-011"]["expected"])

    assert low <= fluids.nominal_flow(14, RULES) <= high


@pytest.mark.parametrize(
    ("row", "volume", "gauges"),
    [("CAN-019", 500, (18, 20, 22)), ("CAN-020", 400, (22, 24))],
    ids=["CAN-019", "CAN-020"],
)
def test_how_long_a_volume_takes(row, volume, gauges):
    times = [volume / fluids.nominal_flow(gauge, RULES) for gauge in gauges]

    assert times == pytest.approx(numbers(ROWS[row]["expected"]), abs=0.1)


@pytest.mark.parametrize(
    ("gauge", "words"),
    [
        (18, None),
        (20, "pressure infuser or a larger bore"),
        (22, "pressure infuser or a larger bore"),
        (24, "a larger bore"),
    ],
)
def test_a_liter_in_15_minutes_wants_a_wide_cannula(gauge, words):
    """67 mL/min: an 18 G by gravity, a 20 G only under pressure."""
    checked = check(BOLUS, 1000, "mL", facts(adult(110)), over_min=15, gauge=gauge)
    found = [finding.text for finding in checked.findings if finding.code == "rate_not_deliverable"]

    assert bool(found) == (words is not None)
    assert words is None or words in found[0]


def test_the_time_of_the_rules_holds_where_none_is_stated():
    assert "rate_not_deliverable" in codes(check(BOLUS, 1000, "mL", facts(adult(110)), gauge=20))


def test_a_24_gauge_cannot_meet_a_childs_bolus():
    """CAN-020: 400 mL through a 24 G takes 20 minutes; push and pull by syringe."""
    checked = check(BOLUS, 400, "mL", facts(child(6, 20)), over_min=15, gauge=24)
    found = next(finding for finding in checked.findings if finding.code == "rate_not_deliverable")

    assert "push and pull" in found.text


def test_through_bone_the_rate_is_unknown():
    checked = check(BOLUS, 500, "mL", route="IO", over_min=15)

    assert any("watch the bag" in finding.text for finding in checked.findings)


CHART = "Peripheral catheter flow chart (manufacturer values, Infusion Therapy Standards 2016 reference) [read]"
TWENTY, TWENTY_FOUR = "20 G runs about 60 mL/min", "24 G runs about 20 mL/min"
SQUEEZED, BY_HAND = "pressure infuser or a larger bore", "or push and pull by syringe"
ADULT, CHILD = adult(110), child(6, 40)


@pytest.mark.parametrize(
    ("patient", "ml", "minutes", "gauge", "route", "words"),
    [
        (ADULT, 900, 15, 20, "IV", None),
        (ADULT, 901, 15, 20, "IV", f"901 mL in 15 min is 60.1 mL/min; {TWENTY}: {SQUEEZED}"),
        (ADULT, 400, 10, 24, "IV", f"400 mL in 10 min is 40 mL/min; {TWENTY_FOUR}: {SQUEEZED}"),
        (ADULT, 401, 10, 24, "IV", f"401 mL in 10 min is 40.1 mL/min; {TWENTY_FOUR}: a larger bore"),
        (CHILD, 401, 10, 24, "IV", f"401 mL in 10 min is 40.1 mL/min; {TWENTY_FOUR}: a larger bore, {BY_HAND}"),
        (ADULT, 500, 10, 18, "IO", "500 mL in 10 min IO: flow is unpredictable, watch the bag"),
        (ADULT, 500, None, 18, "IO", None),
        (ADULT, 900, 5, 19, "IV", None),
    ],
    ids=["fits", "over", "under pressure", "nothing but wider", "a child", "bone", "bone, no time", "no such gauge"],
)
def test_a_cannula_that_is_too_narrow_is_told_whole(patient, ml, minutes, gauge, route, words):
    """24 G 20 and 20 G 60 mL/min by the chart, twice that under pressure (reference/rules, "Fluids")."""
    checked = check(BOLUS, ml, "mL", facts(patient), over_min=minutes, gauge=gauge, route=route)
    found = [finding for finding in checked.findings if finding.code == "rate_not_deliverable"]

    assert [(finding.text, finding.source, finding.level) for finding in found] == (
        [] if words is None else [(words, CHART, "caution")]
    )


def test_each_gauge_names_the_chart_that_it_is_from():
    """14 G 250 mL/min from the makers' data sheets, 20 G from the flow chart: 1,000 mL in 3 min are 333 mL/min."""
    for gauge, source in ((14, "Manufacturer data sheets"), (20, "Peripheral catheter flow chart")):
        checked = check(BOLUS, 1000, "mL", facts(ADULT), over_min=3, gauge=gauge)
        (found,) = [each for each in checked.findings if each.code == "rate_not_deliverable"]
        assert found.source.startswith(source)


def cannula(gauge, minutes=10, procedure="iv_access", outcome="done", name=None):
    return Access(id=name or f"{gauge} G", at=ago(minutes), procedure=procedure, gauge=gauge, outcome=outcome)


@pytest.mark.parametrize(
    ("lying", "asked", "words"),
    [
        pytest.param([], {}, None, id="none"),
        pytest.param([cannula(24)], {}, "the 24 G on record runs about 20 mL/min", id="one"),
        pytest.param([cannula(24), cannula(18)], {}, None, id="the widest"),
        pytest.param([cannula(18), cannula(20)], {"access": "20 G"}, "the 20 G on record runs", id="the one named"),
        pytest.param([cannula(18)], {"access": "one that nobody recorded"}, None, id="an unknown one named"),
        pytest.param([cannula(24)], {"gauge": 18}, None, id="stated wide"),
        pytest.param([cannula(18)], {"gauge": 20}, "; 20 G runs about 60 mL/min", id="stated narrow"),
        pytest.param([cannula(20), cannula(18, outcome="failed")], {}, "the 20 G on record", id="failed"),
        pytest.param([cannula(20), cannula(18, outcome="attempted")], {}, "the 20 G on record", id="attempted"),
        pytest.param([cannula(20), cannula(15, procedure="io_access")], {}, "the 20 G on record", id="bone"),
        pytest.param([cannula(20), cannula(18, minutes=-1)], {}, "the 20 G on record", id="placed later"),
        pytest.param([cannula(20), cannula(18, minutes=0)], {}, None, id="placed now"),
        pytest.param([cannula(None)], {}, None, id="no gauge told"),
        pytest.param([cannula(24)], {"route": "IO"}, None, id="given through bone"),
    ],
)
def test_the_cannula_on_record_counts_where_no_gauge_is_stated(lying, asked, words):
    """1,000 mL in the 15 min of the rules are 66.7 mL/min: an 18 G lets 105 through, a 20 G 60, a 24 G 20."""
    checked = check(BOLUS, 1000, "mL", facts(ADULT, access=tuple(lying)), **asked)
    found = [finding.text for finding in checked.findings if finding.code == "rate_not_deliverable"]

    assert [words in each for each in found] == ([] if words is None else [True])


def test_what_ran_in_the_first_half_minute_tells_the_rest():
    """50 mL in half a minute are 100 mL/min: the other 450 mL take 4.5 min."""
    whole, infused = (units.quantity(Amount(ml, "mL")) for ml in (500, 50))

    assert fluids.observed(whole, infused, 0.5) == fluids.Observed(flow=100, left_min=4.5)
    assert fluids.observed(whole, infused, 0) is None


def test_flow_is_volume_over_time():
    assert float(fluids.flow_needed(units.quantity(Amount(1000, "mL")), 15)) == pytest.approx(66.67, abs=0.01)


# ---- blood


@pytest.mark.parametrize(
    ("patient", "value", "unit", "verdict"),
    [
        (adult(80), 1, "bag", "within"),
        (adult(80), 500, "mL", "within"),
        (adult(80), 2, "bag", "needs_order"),
        (adult(80), 3, "bag", "over_hard_limit"),
        (child(6, 20), numbers(ROWS["BLD-006"]["expected"])[0], "mL", "within"),
        (child(6, 20), 10, "mL/kg", "within"),
        (child(6, 20), numbers(ROWS["BLD-006"]["expected"])[1], "mL", "needs_order"),
        (child(6, 20), 401, "mL", "over_hard_limit"),
        (child(6, 20), 1, "bag", "over_hard_limit"),
    ],
)
def test_blood_by_the_bag_or_by_weight(patient, value, unit, verdict):
    assert check("blood-product", value, unit, facts(patient, impression="hemorrhagic")).verdict == verdict


def test_each_further_bag_needs_an_order_of_its_own():
    first = given("blood-product", 30, 1, "bag")
    after = facts(impression="hemorrhagic", doses=(first,))

    assert "count_reached" in codes(check("blood-product", 1, "bag", after))
