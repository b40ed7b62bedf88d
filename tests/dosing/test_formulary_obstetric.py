"""Magnesium, labetalol, hydralazine and oxytocin: who gets how much of them for what, and what speaks against it."""

import pytest

from dosing.ground.facts import Amount, Order
from dosing.ground.phases import PhaseChange
from dosing.patient.goals import goal_for
from dosing.patient.pressure import above, judge
from dosing.patient.reassess import opened_by
from dosing.tell.guidance import guidance
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, ago, check, child, codes, facts, given

CALM = {"rr": 18, "hr": 90, "sbp": 180}
PREGNANT = adult(pregnancy_weeks=34)
VIAL, BAG = Amount(500, "mg/mL"), Amount(40, "mg/mL")


def high(patient=PREGNANT, **more):
    """A mother at 180/115, a minute ago."""
    return facts(patient, **{"sbp": 180, "dbp": 115, "signs": CALM} | more)


def ordered(treatment, value, unit, indication=None):
    """An order that was read back."""
    return Order(
        id="o", treatment=treatment, state="read_back", amount=Amount(value, unit), route="IV", indication=indication
    )


@pytest.mark.parametrize(
    ("patient", "indication", "route", "dose", "verdict"),
    [
        (PREGNANT, "eclampsia", "IV", (4, "g"), "within"),
        (PREGNANT, "eclampsia", "IV", (6, "g"), "within"),
        (PREGNANT, "eclampsia", "IV", (7, "g"), "over_hard_limit"),
        (PREGNANT, "eclampsia", "IV", (60, "g"), "over_hard_limit"),
        (PREGNANT, "eclampsia", "IV", (2, "g"), "caution"),
        (PREGNANT, None, "IV", (4, "g"), "within"),
        (adult(history=("dialysis",)), "eclampsia", "IV", (4, "g"), "needs_order"),
        (adult(), "torsades", "IV", (2, "g"), "needs_order"),
        (adult(), "torsades", "IV", (4.1, "g"), "over_hard_limit"),
        (adult(), "torsades", "IM", (2, "g"), "over_hard_limit"),
        (adult(), "asthma", "IV", (2, "g"), "needs_order"),
        (adult(), "asthma", "IV", (20, "g"), "over_hard_limit"),
        (child(4, 16), "asthma", "IV", (800, "mg"), "needs_order"),
        (child(4, 16), "asthma", "IV", (8, "g"), "over_hard_limit"),
        (child(16, 45, pregnancy_weeks=30), "eclampsia", "IV", (4, "g"), "needs_order"),
        (child(16, 45, pregnancy_weeks=30), "eclampsia", "IV", (6.1, "g"), "over_hard_limit"),
    ],
)
def test_magnesium_by_what_it_is_for(patient, indication, route, dose, verdict):
    checked = check("magnesium-sulfate", *dose, high(patient), route=route, indication=indication, stock=BAG)

    assert checked.verdict == verdict


UNRECORDED, NEVER = ("signs_missing", "caution"), ("contraindicated", "over_hard_limit")


@pytest.mark.parametrize("treatment", ["magnesium-sulfate", "oxytocin"])
@pytest.mark.parametrize(
    ("patient", "found"),
    [
        (PREGNANT, None),
        (adult(bleeding_cause="postpartum"), None),
        (adult(sex="male", pregnancy_weeks=30), None),
        (adult(), UNRECORDED),
        (replace(adult(), age=None, weight=None), UNRECORDED),
        (adult(sex="female", pregnancy_weeks=0), UNRECORDED),
        (child(11, 40), UNRECORDED),
        (adult(sex="male"), NEVER),
        (adult(sex="male", pregnancy_weeks=0), NEVER),
        (child(9, 30), NEVER),
    ],
)
def test_what_is_for_mothers_is_offered_to_none_but_them_and_barred_only_where_it_cannot_be(patient, found, treatment):
    """An eclamptic mother of whom nothing is recorded yet must not be locked out: she is asked to be recorded."""
    row = next(each for each in guidance(high(patient), RULES, TEN) if each["treatment"] == treatment)
    row = (row["indications"] or [row])[0]
    told = {(each["code"], each["level"]) for each in row["findings"] if "no pregnancy or birth" in each["text"]}

    assert told == ({found} if found else set())
    assert row["no_mother"] is (found is not None)


@pytest.mark.parametrize(("route", "found"), [("IV", True), ("IO", True), ("IM", False)])
def test_the_strong_vial_is_for_the_muscle_alone(route, found):
    checked = check("magnesium-sulfate", 5, "g", high(), route=route, stock=VIAL)

    assert ("wrong_stock" in codes(checked)) is found
    assert checked.give.volume == Amount(10, "mL")


@pytest.mark.parametrize(("dose", "verdict"), [((10, "g"), "within"), ((10.1, "g"), "over_hard_limit")])
def test_magnesium_into_the_muscle_in_two_sites(dose, verdict):
    assert check("magnesium-sulfate", *dose, high(), route="IM", stock=VIAL).verdict == verdict


@pytest.mark.parametrize(("phase", "asks"), [("arrest", False), ("transport", True), ("pulse_back", True)])
def test_torsades_waits_for_an_order_only_with_a_pulse(phase, asks):
    checked = check(
        "magnesium-sulfate",
        2,
        "g",
        facts(phases=(PhaseChange(phase, phase, ago(10)),)),
        indication="torsades",
        stock=BAG,
    )

    assert ("starts_by_order" in codes(checked)) is asks


@pytest.mark.parametrize(("rr", "missing"), [(11, True), (12, False), (None, True)])
def test_magnesium_wants_breathing_first(rr, missing):
    known = high(signs={"rr": rr, "hr": 90, "sbp": 180})

    assert ("signs_missing" in codes(check("magnesium-sulfate", 4, "g", known, stock=BAG))) is missing


@pytest.mark.parametrize(("sbp", "asked"), [(139, True), (140, False)])
def test_without_a_high_pressure_somebody_asks_whether_it_is_eclampsia(sbp, asked):
    checked = check("magnesium-sulfate", 4, "g", high(signs={**CALM, "sbp": sbp}), stock=BAG)

    assert ("signs_missing" in codes(checked)) is asked


def test_magnesium_is_one_dose_before_an_order_and_14_g_in_all():
    known = high(doses=(given("magnesium-sulfate", 30, 6, "g"),))

    assert "count_reached" in codes(check("magnesium-sulfate", 4, "g", known, stock=BAG))
    assert check("magnesium-sulfate", 4, "g", known, stock=BAG, order=ordered("magnesium-sulfate", 4, "g")).verdict == (
        "caution"
    )
    assert check("magnesium-sulfate", 8.1, "g", known, route="IM", stock=VIAL).verdict == "over_hard_limit"


@pytest.mark.parametrize(
    ("indication", "needs"), [(None, {"rr", "pressure", "alertness"}), ("torsades", {"pressure_or_pulses", "hr"})]
)
def test_what_is_read_after_magnesium(indication, needs):
    dose = given("magnesium-sulfate", 0, 2, "g", indication=indication)

    assert set(opened_by(dose, RULES).needs) == needs


# ---- the pressure


@pytest.mark.parametrize(
    ("treatment", "indication", "dose", "verdict"),
    [
        ("labetalol", None, 20, "caution"),
        ("labetalol", None, 80, "caution"),
        ("labetalol", None, 81, "over_hard_limit"),
        ("labetalol", "stroke", 20, "caution"),
        ("labetalol", "stroke", 41, "over_hard_limit"),
        ("hydralazine", None, 5, "caution"),
        ("hydralazine", None, 10, "caution"),
        ("hydralazine", None, 20.1, "over_hard_limit"),
        ("hydralazine", None, 100, "over_hard_limit"),
    ],
)
def test_what_lowers_the_pressure_starts_by_order(treatment, indication, dose, verdict):
    order = ordered(treatment, dose, "mg", indication)

    assert check(treatment, dose, "mg", high(), indication=indication, order=order).verdict == verdict
    alone = check(treatment, dose, "mg", high(), indication=indication)
    assert alone.verdict == ("over_hard_limit" if verdict == "over_hard_limit" else "needs_order")


@pytest.mark.parametrize("treatment", ["labetalol", "hydralazine"])
def test_a_low_pressure_forbids_it_whoever_orders(treatment):
    assert check(treatment, 10, "mg", facts(sbp=88, dbp=50), order=ordered(treatment, 10, "mg")).verdict == (
        "over_hard_limit"
    )


def test_labetalol_is_not_for_a_failing_heart_or_a_slow_one():
    assert "contraindicated" in codes(check("labetalol", 20, "mg", high(impression="cardiogenic")))
    assert "signs_missing" in codes(check("labetalol", 20, "mg", high(signs={"hr": 59, "sbp": 180})))
    assert "signs_missing" not in codes(check("labetalol", 20, "mg", high(signs={"hr": 60, "sbp": 180})))
    assert "signs_missing" in codes(check("labetalol", 20, "mg", high(signs={"hr": 60, "sbp": 159})))


@pytest.mark.parametrize(("treatment", "minutes"), [("labetalol", 10), ("hydralazine", 20)])
def test_the_next_dose_waits(treatment, minutes):
    early, due = (high(doses=(given(treatment, minutes - gone, 10, "mg"),)) for gone in (1, 0))

    assert "too_soon" in codes(check(treatment, 10, "mg", early))
    assert "too_soon" not in codes(check(treatment, 10, "mg", due))


def test_300_mg_of_labetalol_in_all():
    known = high(doses=tuple(given("labetalol", number * 15, 80, "mg") for number in (1, 2, 3)))

    assert "above_hard_limit" not in codes(check("labetalol", 60, "mg", known))
    assert "above_hard_limit" in codes(check("labetalol", 61, "mg", known))


def test_the_ladder_of_labetalol_is_offered():
    (row,) = (each for each in guidance(high(), RULES, TEN) if each["treatment"] == "labetalol")

    assert [each["amount"]["value"] for each in row["usual"]] == [20, 40, 80]


@pytest.mark.parametrize(
    ("patient", "ceiling"),
    [(PREGNANT, 160), (adult(pregnancy_weeks=20), 160), (adult(pregnancy_weeks=19), None), (adult(), None)],
)
def test_from_20_weeks_160_is_the_ceiling(patient, ceiling):
    assert goal_for(facts(patient), RULES).ceiling == ceiling


@pytest.mark.parametrize(("sbp", "found"), [(160, "usual"), (161, "ceiling"), (130, None)])
def test_a_pressure_above_the_ceiling_is_told(sbp, found):
    known = facts(PREGNANT, sbp=sbp, dbp=80)
    goal, reading = goal_for(known, RULES), known.readings[0]
    judged = judge(reading, known.patient, goal, RULES)

    assert above(reading, judged, goal) == (
        found if found != "usual" or judged.pressure.state == "above_range" else None
    )


def test_a_cord_or_head_injury_decides_before_pregnancy():
    assert goal_for(facts(adult(pregnancy_weeks=30, injuries=("head",))), RULES).floor == 100


# ---- oxytocin


@pytest.mark.parametrize(
    ("patient", "route", "value", "verdict"),
    [
        (adult(), "IM", 10, "needs_order"),
        (adult(), "IM", 10.1, "over_hard_limit"),
        (adult(), "IV", 40, "needs_order"),
        (adult(), "IV", 41, "over_hard_limit"),
        (adult(), "IM", 100, "over_hard_limit"),
        (child(16, 45), "IM", 10, "needs_order"),
        (child(16, 45), "IM", 11, "over_hard_limit"),
    ],
)
def test_oxytocin_by_its_route(patient, route, value, verdict):
    assert check("oxytocin", value, "units", high(patient), route=route).verdict == verdict


def test_oxytocin_is_offered_first_for_bleeding_after_birth_and_else_not():
    rows = {
        cause: guidance(facts(adult(bleeding_cause=cause), impression="hemorrhagic"), RULES, TEN)
        for cause in ("postpartum", "trauma")
    }

    assert rows["postpartum"][0]["treatment"] == "oxytocin"
    assert [row["relevant"] for row in rows["trauma"] if row["treatment"] == "oxytocin"] == [False]


def test_oxytocin_into_a_vein_is_no_push():
    assert "too_fast" in codes(check("oxytocin", 10, "units", high(), route="IV", over_min=5))
    assert "too_fast" not in codes(check("oxytocin", 10, "units", high(), route="IV", over_min=30))


# Life support, children (from memory): a shocked or tiring child is no smaller adult.
@pytest.mark.parametrize(
    ("patient", "pressure", "breaths", "words"),
    [
        (child(5, 20), (58, 30), 8, ("breathing is slow", "pressure is low")),
        (child(5, 20), (58, 30), 30, ("pressure is low",)),
        (child(5, 20), (95, 60), 14, ("breathing is slow",)),
        (child(6, 7, "months"), (85, 50), 18, ("breathing is slow",)),
        (child(5, 20), (95, 60), 30, ()),
        (adult(), (85, 50), 8, ("breathing is slow", "pressure is low")),
    ],
)
def test_magnesium_for_asthma_looks_at_pressure_and_breathing_of_a_child_too(patient, pressure, breaths, words):
    sbp, dbp = pressure
    known = facts(patient, sbp=sbp, dbp=dbp, signs={"rr": breaths, "sbp": sbp, "dbp": dbp})
    found = check("magnesium-sulfate", 800, "mg", known, indication="asthma", stock=Amount(40, "mg/mL")).findings
    said = [each.text for each in found if each.level == "needs_order"]

    assert [each for each in ("breathing is slow", "pressure is low") if any(each in text for text in said)] == [*words]
