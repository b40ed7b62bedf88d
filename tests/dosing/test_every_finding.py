"""Every finding of the contract: its level, what a clinician reads, and the limit, each in one case worked by hand.

Levels: contract, "Treatments, proposals, checks, guidance". Numbers: the demonstration rules; sums beside the rows.
"""

import pytest

from dosing.ground.facts import Age, Amount, Order, Patient, Reading, Weight
from tests.dosing.bedside import adult, ago, check, child, facts
from tests.dosing.bedside import given as dose

PUSH, BOLUS, TXA = "epinephrine-push-dose", "crystalloid-bolus", "tranexamic-acid"
CONTRACT = {
    "caution": "below_least above_guide weight_estimated pressure_stale pressure_above_goal no_fluid_yet "
    "volume_not_measurable rate_not_deliverable strength_not_stated unlisted_strength bleeding_first "
    "infusion_running not_in_rule_set signs_missing opioid_with_sedative history",
    "needs_order": "above_most too_soon total_reached count_reached weight_unknown crackles fluid_restricted "
    "age_not_covered allergy order_not_read_back no_pressure_since_last_dose well_above_goal starts_by_order "
    "pressure_unknown pressure_low onset_unknown care_limits refuses_blood",
    "over_hard_limit": "above_hard_limit route_not_allowed wrong_stock window_closed phase",
}
BESIDE_THE_CONTRACT = {"weight_unlikely": "needs_order", "leap": "needs_order", "pressure_below_goal": "caution"}
BESIDE_THE_CONTRACT |= {"too_fast": "needs_order"}  # a pharmacist's word: seconds in place of minutes stop a heart
LEVEL = BESIDE_THE_CONTRACT | {code: level for level, codes in CONTRACT.items() for code in codes.split()}
INFANT = facts(child(1, 4, "months"))
INJURED = adult(bleeding_cause="trauma")
ONSET_UNKNOWN = "time of the injury unknown; useful only within 3 h of it: needs an order"
PULSELESS = (Reading(taken_at=ago(1), bp_method="unobtainable", pulses="none"),)
TEN_PERCENT = Amount(100, "mg/mL")
DRIP = facts(doses=(dose("epinephrine-infusion", 10, 0.05, "mcg/kg/min", status="running"),))


def read(minutes: float) -> tuple[Reading, ...]:
    return (Reading(taken_at=ago(minutes), sbp=70, dbp=40),)


def pushes(*minutes: float, each: float = 10):
    return facts(doses=tuple(dose(PUSH, ago_min, each, "mcg") for ago_min in minutes))


def order(state: str) -> Order:
    return Order(id="order", treatment=PUSH, state=state, amount=Amount(30, "mcg"), by="Dr. Merrin")


SIZE = [
    ("below_least", (PUSH, 5, "mcg"), "5 mcg is below the usual minimum of 10 mcg for an adult of 80 kg", (10, "mcg")),
    (
        "above_guide",  # 1 mcg/kg
        (PUSH, 6, "mcg", facts(child(1, 5, "months"))),
        "6 mcg is above the usual of 5 mcg (1 mcg/kg) for a child of 1 month and 5 kg",
        (5, "mcg"),
    ),
    (
        "above_most",
        (PUSH, 30, "mcg"),
        "30 mcg is over the standing limit of 20 mcg for an adult of 80 kg",
        (20, "mcg"),
    ),
    (
        "above_most",  # 2 x 4
        (PUSH, 9, "mcg", INFANT),
        "9 mcg is over the standing limit of 8 mcg (2 mcg/kg) for a child of 1 month and 4 kg",
        (8, "mcg"),
    ),
    (
        "above_hard_limit",
        (PUSH, 101, "mcg"),
        "101 mcg is over the hard limit of 100 mcg for an adult of 80 kg",
        (100, "mcg"),
    ),
    (
        "above_hard_limit",  # 5 x 4
        (PUSH, 21, "mcg", INFANT),
        "21 mcg is over the hard limit of 20 mcg (5 mcg/kg, at most 20 mcg) for a child of 1 month and 4 kg",
        (20, "mcg"),
    ),
    (
        "above_hard_limit",  # in the unit for adults: a child's is per kg
        ("vasopressin-infusion", 0.071, "units/min"),
        "0.071 units/min is over the hard limit of 0.07 units/min for an adult of 80 kg",
        (0.07, "units/min"),
    ),
    (
        "total_reached",
        (PUSH, 10, "mcg", pushes(9, each=95)),
        "cumulative 105 mcg; standing limit 100 mcg",
        (100, "mcg"),
    ),
    (
        "count_reached",
        (PUSH, 10, "mcg", pushes(15, 12, 9, 6, 3)),
        "this is number 6; limit 5 pushes without an order",
        (5, "pushes"),
    ),
]
STATE = [
    (
        "weight_estimated",
        (PUSH, 5, "mcg", facts(Patient(age=Age(5, "years"), weight=Weight(18, "kg", "length")))),
        "calculated for 18 kg (estimated from length)",
        None,
    ),
    (
        "weight_unlikely",  # the contract has no code for it; a pharmacist asks for an order
        (PUSH, 20, "mcg", facts(child(6, 400))),
        "weight 400 kg is almost impossible at 6 years (9.7–73.8 kg): check weight and age before this dose",
        None,
    ),
    (
        "weight_unknown",
        (PUSH, 5, "mcg", facts(child(5, None))),
        "weight unknown: cannot calculate the 2 mcg/kg limit",
        (2, "mcg/kg"),
    ),
    (
        "pressure_unknown",
        (PUSH, 10, "mcg", facts(readings=read(6))),
        "last pressure (MAP 50, goal 65) is older than 5 min: recheck first",
        (5, "min"),
    ),
    (
        "pressure_stale",
        (BOLUS, 500, "mL", facts(readings=read(11))),
        "last pressure (MAP 50, goal 65) is older than 10 min: recheck first",
        (10, "min"),
    ),
    ("pressure_unknown", (PUSH, 10, "mcg", facts(sbp=None)), "no pressure has been recorded", (5, "min")),
    (
        "pressure_low",  # (88 + 80) / 3 = 56
        ("midazolam", 1, "mg", facts(sbp=88, dbp=40)),
        "pressure low, systolic 88 (under 90) and MAP 56 (under 65): midazolam needs an order",
        (90, "mmHg"),
    ),
    (
        "opioid_with_sedative",
        ("midazolam", 1, "mg", facts(sbp=120, dbp=80, doses=(dose("fentanyl", 4, 50, "mcg"),))),
        "fentaNYL 4 min before: together they can stop the breathing",
        (10, "min"),
    ),
    (
        "pressure_above_goal",
        (PUSH, 10, "mcg", facts(sbp=110, dbp=50)),
        "MAP 70, goal 65: already at or above goal",
        None,
    ),
    (
        "well_above_goal",  # (120 + 2 x 80) / 3 - 65
        (PUSH, 10, "mcg", facts(sbp=120, dbp=80)),
        "MAP 93, goal 65: 28.3 mmHg above goal",
        None,
    ),
    ("no_fluid_yet", (PUSH, 10, "mcg", facts(doses=())), "no fluid has been given yet", None),
    (
        "bleeding_first",
        (PUSH, 10, "mcg", facts(impression="hemorrhagic")),
        "hemorrhage: control bleeding and give volume before pressors",
        None,
    ),
    (
        "infusion_running",
        (PUSH, 10, "mcg", facts(doses=(dose("epinephrine-infusion", 10, 0.1, "mcg/kg/min", status="running"),))),
        "EPINEPHrine infusion is running at 0.1 mcg/kg/min",
        None,
    ),
    ("too_soon", (PUSH, 10, "mcg", pushes(1)), "1 min after the last dose, no sooner than 2 min", (2, "min")),
    (
        "no_pressure_since_last_dose",
        (PUSH, 10, "mcg", facts(readings=read(5), doses=(dose(PUSH, 4, 10, "mcg"),))),
        "no pressure since the last dose",
        None,
    ),
    (
        "crackles",
        (BOLUS, 500, "mL", facts(signs={"lungs": "crackles"})),
        "crackles in the lungs: fluid needs an order",
        None,
    ),
    (
        "fluid_restricted",
        (BOLUS, 500, "mL", facts(adult(fluid_restricted=True))),
        "fluid is restricted for this patient: fluid needs an order",
        None,
    ),
    (
        "age_not_covered",
        ("phenylephrine-push-dose", 50, "mcg", facts(child())),
        "crews do not give phenylephrine push doses to a child (a child of 5 years and 18 kg)",
        None,
    ),
    (
        "allergy",
        ("fentanyl", 20, "mcg", facts(adult(allergies=("fentanyl",)))),
        "allergy on record: fentanyl; fentaNYL needs an order",
        None,
    ),
    (
        "starts_by_order",
        ("norepinephrine-infusion", 0.1, "mcg/kg/min"),
        "norepinephrine infusion needs an order to start",
        None,
    ),
    (
        "phase",
        (PUSH, 10, "mcg", facts(readings=PULSELESS)),
        "pressure not obtainable, no pulse felt: cardiac arrest has its own dose, not a push dose",
        None,
    ),
    (
        "history",
        (PUSH, 10, "mcg", facts(adult(history=("maoi",)))),
        "MAO inhibitor: the pressure may rise far more and for longer; start low.",
        None,
    ),
    (
        "care_limits",
        (PUSH, 10, "mcg", facts(adult(care_limits="comfort"))),
        "comfort care on record: EPINEPHrine push dose needs an order",
        None,
    ),
    (
        "refuses_blood",
        ("blood-product", 1, "bag", facts(adult(refuses_blood=True))),
        "the patient refuses blood: needs an order",
        None,
    ),
    ("onset_unknown", (TXA, 1, "g", facts(INJURED)), ONSET_UNKNOWN, (180, "min")),
    (
        "window_closed",
        (TXA, 1, "g", facts(adult(onset_at=ago(200), bleeding_cause="trauma"))),
        "3 h 20 min after the injury, the window of 3 h has closed",
        (180, "min"),
    ),
    ("not_in_rule_set", ("other", 1, "g"), "not in the rule set: no limit was checked", None),
]
WITH_MORE = [
    (
        "rate_not_deliverable",  # 1,000 / 15
        (BOLUS, 1000, "mL", facts(doses=())),
        {"gauge": 20, "over_min": 15},
        "1,000 mL in 15 min is 66.7 mL/min; 20 G runs about 60 mL/min: pressure infuser or a larger bore",
        (60, "mL/min"),
    ),
    (
        "leap",  # 0.5 / 0.05
        ("epinephrine-infusion", 0.5, "mcg/kg/min", DRIP),
        {"new_rate": True},
        "from 0.05 to 0.5 mcg/kg/min is 10 times as much: check the number",
        (5, "times"),
    ),
    (
        "pressure_below_goal",  # 70/40: (70 + 2 x 40) / 3
        ("epinephrine-infusion", 0.04, "mcg/kg/min", DRIP),
        {"new_rate": True},
        "MAP 50, goal 65: below goal, and this rate is lower",
        None,
    ),
    ("too_fast", (TXA, 1, "g"), {"over_min": 5}, "over 5 min; no faster than 10 min", (10, "min")),
    ("route_not_allowed", ("epinephrine-im", 0.3, "mg"), {"route": "IV"}, "not by IV: IM only", None),
    ("route_not_allowed", (PUSH, 10, "mcg"), {"route": "IN"}, "not by intranasal: IO or IV only", None),
    (
        "signs_missing",
        ("dextrose", 10, "g", facts(signs={"glucose_mg_dl": None})),
        {"stock": TEN_PERCENT},
        "glucose not measured; wanted under 60 mg/dL",
        (60, "mg/dL"),
    ),
    (
        "signs_missing",
        ("dextrose", 10, "g", facts(signs={"glucose_mg_dl": 110})),
        {"stock": TEN_PERCENT},
        "glucose is not low (110 mg/dL; wanted under 60)",
        (60, "mg/dL"),
    ),
    ("order_not_read_back", (PUSH, 30, "mcg"), {"order": order("approved")}, "the order has not been read back", None),
    (
        "volume_not_measurable",  # 1.03 mL between two marks of 0.1 mL
        (PUSH, 10.3, "mcg"),
        {},
        "1.03 mL cannot be read: a 3 mL syringe is marked every 0.1 mL; 1 mL is 10 mcg, 1.1 mL is 11 mcg",
        (0.1, "mL"),
    ),
    (
        "strength_not_stated",  # 16 mg of 10 mg/mL are 1.6 mL; of 50 mg/mL they hold 80
        ("ketamine", 16, "mg"),
        {},
        "strength not stated; 10 mg per mL, 50 mg per mL are listed: "
        "50 mg per mL mistaken for 10 mg per mL, 1.6 mL would be 80 mg, not 16 mg",
        None,
    ),
    (
        "unlisted_strength",  # 0.1 x 80 x 60 / 64 = 7.5; 7.5 x 50 / 60 / 80 = 0.078125 of the 50 in hand
        ("norepinephrine-infusion", 0.1, "mcg/kg/min"),
        {"concentration": Amount(50, "mcg/mL")},
        "50 mcg per mL is not one of 16 mcg per mL, 32 mcg per mL, 64 mcg per mL; "
        "mistaken for 64 mcg per mL, 7.5 mL/h would be 0.0781 mcg/kg/min, not 0.1 mcg/kg/min",
        (16, "mcg/mL"),
    ),
]
# The sources beside the numbers in the demonstration rules, by how they begin.
SAID_BY = {
    "How the trade works": "weight_estimated weight_unknown infusion_running fluid_restricted care_limits "
    "refuses_blood not_in_rule_set route_not_allowed order_not_read_back strength_not_stated unlisted_strength",
    "Chosen for the demonstration": "above_hard_limit pressure_unknown pressure_stale well_above_goal "
    "age_not_covered starts_by_order phase",
    "Chosen: a sedative or opioid by order under systolic 90": "pressure_low",
    "Chosen: a slip of the point": "leap",
    "Epinephrine prescribing information": "pressure_below_goal",  # of the drug
    "Critical-care transport regimen: epinephrine 10-20": "below_least above_most pressure_above_goal too_soon",
    "Push-dose epinephrine for children, 1 mcg/kg": "above_guide",
    "Common ceiling of 10 mcg for a child": "above_most",
    "Life support, adults (quoted): 50-100 mcg": "above_hard_limit",
    "Vasopressin prescribing information": "above_hard_limit",
    "One 10 mL syringe at 10 mcg per mL": "total_reached count_reached",
    "WHO child growth standards 2006": "weight_unlikely",
    "FDA boxed warning of 2016": "opioid_with_sedative",
    "Weingart, push-dose pressors": "no_fluid_yet",
    "European guideline on major bleeding": "bleeding_first",
    "Onset under 1 min": "no_pressure_since_last_dose",
    "Children's hospital sepsis pathway": "crackles",
    "Prescribing information": "allergy history",
    "CRASH-2 scheme": "onset_unknown window_closed too_fast",
    "Peripheral catheter flow chart": "rate_not_deliverable",
    "Glucose under 60 mg/dL": "signs_missing",
    "Graduations printed on": "volume_not_measurable",
}


def only(checked, code: str):
    return next(finding for finding in checked.findings if finding.code == code)


@pytest.mark.parametrize(
    ("code", "asked", "words", "limit"), SIZE + STATE, ids=lambda value: value if isinstance(value, str) else ""
)
def test_what_is_wrong_the_limit_and_the_patients_value(code, asked, words, limit):
    found = only(check(*asked), code)

    assert (found.level, found.text) == (LEVEL[code], words)
    assert found.limit == (None if limit is None else Amount(*limit))
    assert found.source.endswith("]")


@pytest.mark.parametrize(
    ("code", "asked", "more", "words", "limit"), WITH_MORE, ids=lambda value: value if isinstance(value, str) else ""
)
def test_what_is_wrong_with_strength_time_route_or_order(code, asked, more, words, limit):
    found = only(check(*asked, **more), code)

    assert (found.level, found.text) == (LEVEL[code], words)
    assert found.limit == (None if limit is None else Amount(*limit))


def test_the_wrong_vial():
    """1 mg/mL for 0.1 mg/mL: ten-fold (PDP-020)."""
    found = only(check(PUSH, 10, "mcg", stock=Amount(1, "mg/mL")), "wrong_stock")

    assert found.level == LEVEL["wrong_stock"]
    assert "the recipe makes 100 mcg per mL of it, not 10 mcg per mL" in found.text
    assert "1 mL would be 100 mcg, not 10 mcg; take 0.1 mg per mL" in found.text
    assert found.limit == Amount(0.1, "mg/mL")


@pytest.mark.parametrize(
    ("code", "asked", "source"),
    [
        ("above_most", (PUSH, 30, "mcg"), "epinephrine 10-20 mcg"),
        ("above_hard_limit", (PUSH, 101, "mcg"), "50-100 mcg into a vein in anaphylaxis"),
        ("pressure_low", ("midazolam", 0.5, "mg", facts(child())), "Paediatric advanced life support table"),
    ],
)
def test_the_source_is_that_of_the_number_not_a_general_one(code, asked, source):
    assert source in only(check(*asked), code).source


@pytest.mark.parametrize(
    ("code", "asked", "more"),
    [*((row[0], row[1], {}) for row in SIZE + STATE), *(row[:3] for row in WITH_MORE)],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_names_the_source_of_its_own_rule(code, asked, more):
    source = only(check(*asked, **more), code).source

    assert any(source.startswith(start) for start, codes in SAID_BY.items() if code in codes.split())


def test_an_order_that_was_read_back_turns_what_it_was_given_for_into_a_caution():
    found = only(check(PUSH, 30, "mcg", order=order("read_back")), "above_most")

    assert found.level == "caution"
    assert found.text == "ordered by Dr. Merrin: 30 mcg is over the standing limit of 20 mcg for an adult of 80 kg"


def test_every_code_of_the_contract_has_its_row():
    told = {row[0] for row in (*SIZE, *STATE, *WITH_MORE)} | {"wrong_stock"}

    assert set(LEVEL) - told == set()
