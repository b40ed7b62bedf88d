"""Drops of a set, cannulas, strokes of a syringe, and the flow of a proposal, against teaching pages and studies."""

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.check import fluids
from dosing.ground import units
from dosing.ground.facts import Amount, Proposal
from dosing.tell.delivery import flow
from tests.dosing.bedside import RULES, TEN, adult, child, facts
from tests.dosing.dosing_values import ROWS, numbers, topic

PER_SET = r"^([\d.]+) mL over ([\d.]+) (h|min), (\d+) gtt/mL$"


@pytest.mark.parametrize(("row", "found"), topic("drip-rate", PER_SET))
def test_published_drip_rates(row, found):
    """Half a drop rounds up."""
    minutes = float(found[2]) * (60 if found[3] == "h" else 1)
    flow = fluids.flow_needed(units.quantity(Amount(float(found[1]), "mL")), minutes)
    exact, *rounded = numbers(row["expected"])

    assert float(flow * int(found[4])) == pytest.approx(exact, abs=0.01)
    assert fluids.drops_per_min(flow, int(found[4])) == (rounded or [exact])[0]


def test_a_drip_rate_of_a_pump_rate():
    """GTT-002: 10 mL/h by a 15 per mL set is 2.5, which rounds up to 3."""
    assert fluids.drops_per_min(Fraction(10, 60), 15) == numbers(ROWS["GTT-002"]["expected"])[1]


@pytest.mark.parametrize("ml_h", [10, 40, 125, 150])
def test_the_constants_by_which_nurses_divide(ml_h):
    """GTT-012 and GTT-013: mL/h divided by 6, 4, 3 and 1 for sets of 10, 15, 20 and 60."""
    sets, constants = numbers(ROWS["GTT-012"]["input"]), numbers(ROWS["GTT-012"]["expected"])

    for per_ml, constant in zip(sets, constants, strict=True):
        assert fluids.drops_per_min(Fraction(ml_h, 60), per_ml) == floor(Fraction(ml_h, int(constant)) + Fraction(1, 2))


def test_the_sets_of_the_rules_are_those_that_are_taught():
    assert [each.drops.value for each in RULES.drop_sets] == numbers(ROWS["GTT-012"]["input"])[:4]


def test_wide_open_cannot_be_counted():
    """GTT-015: 500 drops a minute; the trade says pressure bag or wide open."""
    flow = fluids.flow_needed(units.quantity(Amount(500, "mL")), 10)
    of_ten = fluids.drops(flow, RULES)[0]

    assert (of_ten.per_ml, of_ten.per_min, of_ten.usable) == (10, float(ROWS["GTT-015"]["expected"]), False)


@pytest.mark.parametrize(
    ("per_min", "usable"),
    [(0.4, False), (7.5, False), (10, True), (10.5, True), (180, True), (180.4, True), (181, False)],
)
def test_drops_are_of_use_where_they_can_be_counted_and_hardly_rounded(per_min, usable):
    """To 180 a minute, and no more than 5 % off: both our choice."""
    assert fluids.drops(Fraction(str(per_min)) / 20, RULES)[2].usable is usable


@given(st.fractions(min_value=0, max_value=500), st.sampled_from([10, 15, 20, 60]))
def test_whole_drops_are_the_nearest(flow, per_ml):
    whole = fluids.drops_per_min(flow, per_ml)

    assert -Fraction(1, 2) < whole - flow * per_ml <= Fraction(1, 2)


@pytest.mark.parametrize(
    ("needed", "gravity", "pressure"),
    [
        (Fraction(200, 3), 18, 22),
        (20, 24, 24),
        (21, 22, 24),
        (60, 20, 22),
        (250, 14, 16),
        (251, None, 16),
        (500, None, 14),
        (501, None, None),
    ],
)
def test_through_which_cannulas_a_flow_goes(needed, gravity, pressure):
    """The narrowest that does; 1,000 mL in 15 min by gravity through an 18 G at the narrowest."""
    through = fluids.cannulas(Fraction(needed), RULES)

    assert max((each.gauge for each in through if each.by_gravity), default=None) == gravity
    assert max((each.gauge for each in through if each.by_pressure), default=None) == pressure


@given(st.fractions(min_value=Fraction(1, 10), max_value=600))
def test_a_wider_cannula_never_lets_less_through(needed):
    through = fluids.cannulas(needed, RULES)

    assert [each.by_gravity for each in through] == sorted((each.by_gravity for each in through), reverse=True)
    assert all(each.by_pressure or not each.by_gravity for each in through)


def test_what_people_managed_by_push_and_pull_is_as_printed():
    """PPU-001: 250 mL in 231, 228 and 295 s; PPU-002: 97 mL/min in another study lies above all of them."""
    seconds = numbers(ROWS["PPU-001"]["expected"])
    measured = [each for each in RULES.push_pull if each.managed]

    assert [each.holds.value for each in measured] == [10, 20, 60]
    assert [each.managed.value for each in measured] == pytest.approx([250 * 60 / each for each in seconds], abs=0.05)
    assert all(each.managed.value < 60 * float(ROWS["PPU-002"]["expected"]) for each in measured)


@pytest.mark.parametrize(
    ("volume", "minutes", "holds", "count", "every_s", "last", "managed"),
    [
        (360, 15, 20, 18, 50, 20, True),
        (360, 15, 60, 6, 150, 60, True),
        (360, 15, 50, 8, 112.5, 10, None),
        (365, 15, 20, 19, 900 / 19, 5, True),
        (360, 5, 20, 18, 300 / 18, 20, False),
        (15, 10, 20, 1, 600, 15, True),
    ],
)
def test_strokes_of_a_syringe(volume, minutes, holds, count, every_s, last, managed):
    syringe = next(each for each in RULES.push_pull if each.holds.value == holds)
    got = fluids.strokes(units.quantity(Amount(volume, "mL")), minutes, syringe)

    assert (got.count, float(got.last_ml), got.managed) == (count, last, managed)
    assert float(got.every_s) == pytest.approx(every_s)


@given(st.integers(1, 2000), st.integers(1, 60), st.sampled_from(RULES.push_pull))
def test_strokes_give_the_whole_volume_in_the_whole_time(volume, minutes, syringe):
    got = fluids.strokes(units.quantity(Amount(volume, "mL")), minutes, syringe)

    assert (got.count - 1) * Fraction(got.holds) + got.last_ml == volume
    assert 0 < got.last_ml <= got.holds
    assert got.count * got.every_s == minutes * 60


@pytest.mark.parametrize(
    ("whole", "infused", "minutes", "flow", "left"),
    [
        (1000, 125, 60, 125 / 60, 420),
        (1000, 300, 12, 25, 28),
        (500, 500, 10, 50, 0),
        (500, 510, 10, 51, 0),
    ],
    ids=["GTT-107: 125 mL/h gives a liter in 8 h", "a third is in", "all is in", "more than was hung"],
)
def test_time_to_finish_at_the_observed_flow(whole, infused, minutes, flow, left):
    seen = fluids.observed(units.quantity(Amount(whole, "mL")), units.quantity(Amount(infused, "mL")), minutes)

    assert float(seen.flow) == pytest.approx(flow)
    assert float(seen.left_min) == pytest.approx(left)


def test_nothing_is_observed_before_time_has_passed():
    assert fluids.observed(units.quantity(Amount(500, "mL")), units.quantity(Amount(5, "mL")), 0) is None


# ---- the flow of a proposal


def proposed(treatment, value, unit, patient=None, route="IV", **more):
    proposal = Proposal(treatment=treatment, amount=Amount(value, unit), route=route, at=TEN, **more)
    return flow(proposal, facts(patient), RULES)


def test_a_bolus_by_cannula():
    """1,000 mL in 15 min: by gravity an 18 G (textbook), by drops not to be counted."""
    got = proposed("crystalloid-bolus", 1000, "mL", adult(110))

    assert list(got.lines) == [
        "1,000 mL in 15 min is 66.7 mL/min",
        "18 G or larger by gravity, 22 G or larger with a pressure infuser",
        "Drops too fast to count: run it open and watch the bag",
    ]
    assert got.strokes == []
    assert any("ISO 8536-4" in source for source in got.sources)


def test_a_small_bolus_by_drops():
    """GTT-006: 50 mL in 20 min by a 15 per mL set is 38 drops a minute."""
    got = proposed("crystalloid-bolus", 50, "mL", over_min=20)

    assert "38 of the 15 per mL set" in got.lines[2]
    assert got.as_dict()["drops"][1] == {"per_ml": 15, "per_min": 38, "exact": 37.5, "usable": True}


def test_a_childs_bolus_by_syringe():
    got = proposed("crystalloid-bolus", 360, "mL", child(5, 18))

    assert "Push and pull 20 mL: 18 times, one each 50 s" in got.lines
    assert "Drops too fast to count: by syringe" in got.lines
    assert got.as_dict()["strokes"][1]["every_s"] == 50


def test_faster_than_people_managed_is_said():
    lines = proposed("crystalloid-bolus", 360, "mL", child(5, 18), over_min=5).lines

    assert [line.endswith("faster than people managed in a test") for line in lines[3:]] == [True, True, False, True]


def test_through_bone_no_cannula_is_named():
    got = proposed("crystalloid-bolus", 500, "mL", route="IO")

    assert got.cannulas == []
    assert not any(" G " in line for line in got.lines)


def test_the_chart_and_the_sets_are_for_clear_fluid_not_for_blood():
    got = proposed("blood-product", 500, "mL", over_min=30)

    assert (got.cannulas, got.drops) == ([], [])
    assert list(got.lines) == ["500 mL in 30 min is 16.7 mL/min"]


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "more"),
    [
        ("blood-product", 500, "mL", {}),
        ("epinephrine-push-dose", 10, "mcg", {}),
        ("no-such-thing", 10, "mcg", {}),
        ("tranexamic-acid", 1, "g", {"over_min": 10}),
    ],
    ids=["blood without a time", "push", "unknown", "drug"],
)
def test_all_else_has_no_flow(treatment, value, unit, more):
    assert proposed(treatment, value, unit, **more) is None


def test_a_bolus_per_kg_of_an_unknown_weight_has_no_flow():
    assert proposed("crystalloid-bolus", 20, "mL/kg", child(5, None)) is None


@pytest.mark.parametrize(("dose", "drops"), [(1, 15), (4, 60)])
def test_an_infusion_by_microdrops(dose, drops):
    """INF-044: epinephrine 1 to 4 mcg/min of 4 mcg per mL is 15 to 60 drops a minute of a 60 per mL set."""
    got = proposed("epinephrine-infusion", dose, "mcg/min", concentration=Amount(4, "mcg/mL"))

    assert got.drops[3].per_min == drops
    assert drops in numbers(ROWS["INF-044"]["expected"])


def test_an_infusion_in_every_unit_and_by_the_pump():
    """INF-031: 0.1 mcg/kg/min for 70 kg of 16 mcg per mL is 26.25 mL/h; a pump sets 26.3."""
    got = proposed("norepinephrine-infusion", 0.1, "mcg/kg/min", adult(70), concentration=Amount(16, "mcg/mL"))

    assert [(each.unit, each.value) for each in got.rates] == [("mcg/kg/min", 0.1), ("mcg/min", 7), ("mL/h", 26.25)]
    assert (got.pump, got.gives.unit) == (Amount(26.3, "mL/h"), "mcg/kg/min")
    assert got.gives.value == pytest.approx(26.3 * 16 / 60 / 70)


def test_without_a_strength_each_standard_one_is_told():
    got = proposed("norepinephrine-infusion", 0.1, "mcg/kg/min")

    assert got.needed is None
    assert list(got.lines) == [
        "0.1 mcg/kg/min = 8 mcg/min",
        "30 mL/h of 16 mcg per mL",
        "15 mL/h of 32 mcg per mL",
        "7.5 mL/h of 64 mcg per mL",
    ]


def test_an_infusion_per_kg_of_an_unknown_weight_has_no_pump_rate():
    got = proposed("norepinephrine-infusion", 0.1, "mcg/kg/min", adult(None), concentration=Amount(16, "mcg/mL"))

    assert (got.needed, got.pump, list(got.lines)) == (None, None, ["0.1 mcg/kg/min"])


def test_a_pressor_is_never_run_open():
    slow = proposed("vasopressin-infusion", 0.03, "units/min", concentration=Amount(1, "units/mL"))

    assert slow.lines[-1] == "Drops cannot be counted at this rate: by pump"
