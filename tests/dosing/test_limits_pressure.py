"""Which pressure a pressor, a sedative or an opioid wants before it: one that is known, recent and not too low.

Under systolic 90 or MAP 65 whatever goal is permitted, and 5 min for "recent": our choice, no source. A child's floors:
the life-support table (70 + 2 x years) and 1.5 x years + 40 (Haque & Zaritsky 2007, from memory).
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Age, Amount, Dose, Facts, Goal, Patient, Reading, Weight
from tests.dosing.bedside import RULES, adult, ago, check, child, facts, told

PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"
DOSES = {
    PUSH: (10, "mcg"),
    "phenylephrine-push-dose": (50, "mcg"),
    DRIP: (8, "mcg/min"),
    "midazolam": (1, "mg"),
    "fentanyl": (20, "mcg"),
    "ketamine": (10, "mg"),
}
BLEEDING = {"impression": "hemorrhagic"}
TRAUMA = adult(bleeding_cause="trauma")


def level(treatment: str, known: Facts, code: str, **more) -> str | None:
    """At which level a check finds this, and once; None where it does not."""
    strength = (RULES.treatments[treatment].stocks or [None])[0]
    value, unit = DOSES[treatment]
    found = check(treatment, value, unit, known, stock=strength and strength.amount, **more).findings
    levels = [one.level for one in found if one.code == code]
    assert len(levels) <= 1
    return levels[0] if levels else None


def taken(minutes: float = 1, sbp: float | None = None, dbp: float | None = None, **more) -> tuple[Reading, ...]:
    return (Reading(taken_at=ago(minutes), sbp=sbp, dbp=dbp, **more),)


# ---- low whatever goal is permitted


@pytest.mark.parametrize(
    ("sbp", "dbp", "low"),
    [
        pytest.param(84, 40, True, id="84/40, fine for bleeding from trauma"),
        pytest.param(90, 52, True, id="MAP 64.7"),
        pytest.param(90, 53, False, id="MAP 65.3"),
        pytest.param(89.9, 70, True, id="systolic 89.9"),
        pytest.param(90, 70, False, id="systolic 90"),
    ],
)
@pytest.mark.parametrize(
    ("treatment", "found"), [("midazolam", "needs_order"), ("fentanyl", "needs_order"), ("ketamine", "caution")]
)
@pytest.mark.parametrize(
    "permitted",
    [
        {"patient": TRAUMA, **BLEEDING},
        {"goal": Goal(measure="map", floor=50, because="physician")},
        {"patient": adult(injuries=("head",))},
        {},
    ],
    ids=["permissive", "the physician's", "head injury", "usual"],
)
def test_low_by_absolute_figures_not_by_the_goal(sbp, dbp, low, treatment, found, permitted):
    known = facts(sbp=sbp, dbp=dbp, **permitted)

    assert level(treatment, known, "pressure_low") == (found if low else None)


def test_a_pressor_asks_its_goal_alone():
    assert level(PUSH, facts(sbp=84, dbp=40), "pressure_low") is None


@pytest.mark.parametrize(
    ("age", "kg", "sbp", "dbp", "low"),
    [
        (Age(5, "years"), 18, 79, 60, True),
        (Age(5, "years"), 18, 80, 60, False),
        (Age(5, "years"), 18, 90, 26, True),  # MAP 47.3 under 47.5
        (Age(5, "years"), 18, 90, 27, False),  # MAP 48
        (Age(6, "months"), 8, 69, 50, True),
        (Age(6, "months"), 8, 70, 50, False),
        (Age(17, "years"), 60, 89, 70, True),
        (Age(17, "years"), 60, 90, 66, False),  # an adult's dose, a child's floor: MAP 74, 1.5 x 17 + 40 = 65.5
        (Age(17, "years"), 60, 90, 53, True),  # MAP 65.3
    ],
)
def test_a_childs_pressure_is_low_below_its_floor(age, kg, sbp, dbp, low):
    known = facts(Patient(age=age, weight=Weight(kg, "kg", "measured")), sbp=sbp, dbp=dbp)

    assert level("midazolam", known, "pressure_low") == ("needs_order" if low else None)


@pytest.mark.parametrize(
    ("patient", "pressure", "low", "floor", "source"),
    [
        (adult(), (94, 46), "MAP 62 (under 65)", 65, "[our choice]"),
        (adult(), (94, 50), "MAP 64.7 (under 65)", 65, "[our choice]"),  # rounded it would be none
        (child(), (70, 40), "systolic 70 (under 80)", 80, "[second-hand]"),  # the life-support table
    ],
)
def test_the_finding_names_what_is_low_and_its_floor(patient, pressure, low, floor, source):
    known = facts(patient, sbp=pressure[0], dbp=pressure[1])
    (found,) = (one for one in check("fentanyl", 20, "mcg", known).findings if one.code == "pressure_low")

    assert found.text == f"pressure low, {low}: fentaNYL needs an order"
    assert found.limit == Amount(floor, "mmHg")
    assert found.source.endswith(source)


# ---- unknown


@pytest.mark.parametrize("treatment", DOSES)
@pytest.mark.parametrize(
    ("readings", "found"),
    [((), "needs_order"), (taken(5.1, 70, 40), "needs_order"), (taken(5, 70, 40), None)],
    ids=["never taken", "5.1 min ago", "5 min ago"],
)
def test_without_a_recent_pressure_by_order(treatment, readings, found):
    assert level(treatment, facts(readings=readings), "pressure_unknown") == found


@pytest.mark.parametrize(
    ("treatment", "pulses", "found"),
    [
        *((treatment, pulse, "caution") for treatment in (PUSH, DRIP) for pulse in ("carotid", "femoral")),
        *((treatment, pulse, "needs_order") for treatment in (PUSH, DRIP) for pulse in (None, "radial")),
        (DRIP, "none", "needs_order"),
        *(("midazolam", pulse, "needs_order") for pulse in ("carotid", "femoral", "radial", "none", None)),
        ("fentanyl", "carotid", "needs_order"),
        ("ketamine", "carotid", "needs_order"),
    ],
)
def test_where_none_can_be_obtained_a_central_pulse_lets_a_pressor_pass(treatment, pulses, found):
    known = facts(readings=taken(bp_method="unobtainable", pulses=pulses))

    assert level(treatment, known, "pressure_unknown") == found


@pytest.mark.parametrize(
    ("treatment", "pulses", "found"),
    [
        (PUSH, "none", "over_hard_limit"),
        ("phenylephrine-push-dose", "none", "over_hard_limit"),
        (PUSH, "carotid", None),
        (PUSH, None, None),
        (DRIP, "none", None),
        ("midazolam", "none", None),
    ],
)
def test_a_push_dose_without_any_pulse_is_not_what_arrest_asks_for(treatment, pulses, found):
    """Contract, "checks": `phase`."""
    known = facts(readings=taken(bp_method="unobtainable", pulses=pulses))

    assert level(treatment, known, "phase") == found


def test_a_pulse_that_came_back_lets_a_push_dose_pass():
    back = (*taken(3, bp_method="unobtainable", pulses="none"), *taken(1, sbp=70, dbp=40))

    assert level(PUSH, facts(readings=back), "phase") is None


@pytest.mark.parametrize("treatment", ["midazolam", "fentanyl", "ketamine"])
@pytest.mark.parametrize(
    ("sbp", "code", "found"),
    [(89, "pressure_low", "needs_order"), (92, "pressure_unknown", "caution"), (150, "pressure_unknown", "caution")],
)
def test_a_palpated_pressure_is_judged_by_its_systolic_and_its_unknown_mean_is_told(treatment, sbp, code, found):
    known = facts(readings=taken(sbp=sbp, bp_method="palpated"))
    wanted = "caution" if (treatment, code) == ("ketamine", "pressure_low") else found

    assert level(treatment, known, code) == wanted
    assert level(PUSH, known, "pressure_unknown") is None  # for a pressor the systolic says enough


def test_a_mean_alone_is_judged_as_it_is():
    assert level("midazolam", facts(readings=taken(map_reported=64.9)), "pressure_low") == "needs_order"
    assert level("midazolam", facts(readings=taken(map_reported=65)), "pressure_low") is None
    assert level("midazolam", facts(readings=taken(map_reported=65)), "pressure_unknown") is None


@pytest.mark.parametrize(
    ("treatment", "value", "unit", "signs"),
    [
        ("epinephrine-im", 0.5, "mg", {}),
        ("dextrose", 10, "g", {"glucose_mg_dl": 40}),
        ("naloxone", 0.4, "mg", {"rr": 8}),
    ],
)
@pytest.mark.parametrize("readings", [(), taken(30, 70, 40)], ids=["never taken", "old"])
def test_what_nothing_may_hold_back_asks_for_no_pressure(treatment, value, unit, signs, readings):
    known = facts(readings=readings, signs=signs, impression="anaphylactic")
    stock = RULES.treatments[treatment].stocks[0].amount

    assert check(treatment, value, unit, known, stock=stock).verdict in ("within", "caution")


def test_the_guidance_says_that_it_is_by_order_now():
    assert told("midazolam", facts(readings=()))["by_order"]
    assert told("midazolam", facts(sbp=84, dbp=40))["by_order"]
    assert not told("midazolam", facts(sbp=120, dbp=80, signs={"rr": 16}))["by_order"]
    assert not told("midazolam", facts(child(), sbp=100, dbp=60, signs={"rr": 24}))["by_order"]


@pytest.mark.parametrize("code", ["pressure_unknown", "no_pressure_since_last_dose"])
def test_a_text_that_alerts_keep_says_no_age(code: str) -> None:
    """A minute later the same is found, in the same words."""
    dose = Dose(id="a", treatment=PUSH, given_at=ago(6), amount=Amount(10, "mcg"))
    known = facts(readings=taken(7, 80, 40), doses=(dose,))
    one, other = (
        next(each.text for each in check(PUSH, 10, "mcg", known, at=ago(-minute)).findings if each.code == code)
        for minute in (0, 1)
    )
    assert one == other
