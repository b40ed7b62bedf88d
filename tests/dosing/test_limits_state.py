"""What stands before any dose is named: pressure, fluid, allergy, bleeding, running infusions, missing signs."""

import pytest

from dosing.check import limits
from dosing.ground.facts import Age, Amount, Goal, Latest, Patient, Proposal, Rate, Reading, Weight
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, ago, check, child, codes, facts, given, told

PUSH = "epinephrine-push-dose"
FLUID = given("crystalloid-bolus", 60, 1, "mL")
ANAPHYLAXIS = {"impression": "anaphylactic"}


def pressure(minutes_ago: float, sbp: float | None = 70, dbp: float | None = 40, **more) -> Reading:
    return Reading(taken_at=ago(minutes_ago), sbp=sbp, dbp=dbp, **more)


@pytest.mark.parametrize(
    ("treatment", "dose", "minutes", "stale"),
    [
        ("crystalloid-bolus", (100, "mL"), 10, False),
        ("crystalloid-bolus", (100, "mL"), 10.1, True),
        ("hydrocortisone", (100, "mg"), 6, False),
        ("hydrocortisone", (100, "mg"), 10.1, True),
    ],
)
def test_a_pressure_grows_stale(treatment, dose, minutes, stale):
    known = facts(readings=(pressure(minutes),))

    assert ("pressure_stale" in codes(check(treatment, *dose, known))) is stale


def test_no_pressure_at_all_is_told():
    assert "pressure_stale" in codes(check("crystalloid-bolus", 100, "mL", facts(readings=())))
    assert "pressure" in told(PUSH, facts(readings=()))["missing"]


def test_a_pressure_taken_later_does_not_count_for_a_dose_entered_late():
    known = facts(readings=(pressure(20, 70, 40), pressure(1, 150, 100)))

    assert not {"well_above_goal", "pressure_above_goal"} & codes(check(PUSH, 10, "mcg", known, at=ago(19)))
    assert "well_above_goal" in codes(check(PUSH, 10, "mcg", known))


@pytest.mark.parametrize(
    ("sbp", "dbp", "code"),
    [
        pytest.param(94, 50, None, id="MAP 64.7, below"),
        pytest.param(95, 50, "pressure_above_goal", id="MAP 65, at the goal"),
        pytest.param(96, 50, "pressure_above_goal", id="MAP 65.3"),
        pytest.param(96, 53, "pressure_above_goal", id="MAP 67.3"),
        pytest.param(82, 58, None, id="MAP 66 but systolic 82"),
        pytest.param(100, 69, "pressure_above_goal", id="MAP 79.3"),
        pytest.param(100, 70, "well_above_goal", id="MAP 80, 15 above"),
    ],
)
def test_a_pressor_above_the_goal(sbp, dbp, code):
    found = codes(check(PUSH, 10, "mcg", facts(sbp=sbp, dbp=dbp)))

    assert found & {"pressure_above_goal", "well_above_goal"} == ({code} if code else set())


RUNS = given("norepinephrine-infusion", 10, 0.1, "mcg/kg/min", status="running")


@pytest.mark.parametrize(
    ("dose", "read", "told"),
    [
        (0.05, {"sbp": 94, "dbp": 50}, True),  # MAP 64.7
        (0.05, {"sbp": 95, "dbp": 50}, False),  # MAP 65, at the goal
        (0.05, {"sbp": 82, "dbp": 58}, True),  # MAP 66, but systolic 82
        (0.05, {"sbp": None, "dbp": None, "bp_method": "unobtainable"}, True),
        (0.1, {"sbp": 70, "dbp": 40}, False),
        (0.15, {"sbp": 70, "dbp": 40}, False),
    ],
    ids=["below", "at the goal", "by the systolic alone", "unobtainable", "as it runs", "up"],
)
def test_a_pressor_that_is_turned_down_below_the_goal(dose, read, told):
    """Contract, "Vitals": below MAP 65 or systolic 90 is below the goal of an adult."""
    known = facts(readings=(pressure(1, **read),), doses=(RUNS,))
    turned = check("norepinephrine-infusion", dose, "mcg/kg/min", known, new_rate=True)

    assert ("pressure_below_goal" in codes(turned)) is told
    assert "pressure_below_goal" not in codes(check("norepinephrine-infusion", dose, "mcg/kg/min", known))


def test_what_is_no_pressor_may_be_turned_down_at_any_pressure():
    drip = given("nicardipine-infusion", 10, 5, "mg/h", status="running")
    known = facts(readings=(pressure(1),), doses=(drip,))

    assert "pressure_below_goal" not in codes(check("nicardipine-infusion", 2.5, "mg/h", known, new_rate=True))


def test_the_physicians_goal_decides():
    raised = facts(sbp=104, dbp=53, goal=Goal(measure="map", floor=80, because="physician"))

    assert "pressure_above_goal" in codes(check(PUSH, 10, "mcg", facts(sbp=104, dbp=53)))
    assert "pressure_above_goal" not in codes(check(PUSH, 10, "mcg", raised))


def test_a_pressure_after_every_push():
    push = (FLUID, given(PUSH, 3, 10, "mcg"))

    assert "no_pressure_since_last_dose" in codes(check(PUSH, 10, "mcg", facts(doses=push, readings=(pressure(4),))))
    assert "no_pressure_since_last_dose" not in codes(
        check(PUSH, 10, "mcg", facts(doses=push, readings=(pressure(1),)))
    )


@pytest.mark.parametrize(("changed", "found"), [(None, False), (ago(4), True)], ids=["as they left it", "changed"])
def test_a_pressure_is_wanted_after_a_new_rate_of_what_others_started(changed, found):
    others = {"status": "running", "prior": True, "changed_at": changed}
    known = facts(doses=(FLUID, given("norepinephrine-infusion", 30, 8, "mcg/min", **others)), readings=(pressure(5),))

    assert ("no_pressure_since_last_dose" in codes(check("norepinephrine-infusion", 8, "mcg/min", known))) is found


@pytest.mark.parametrize(("prior", "found"), [(True, False), (False, True)], ids=["by others", "by the crew"])
def test_a_push_that_others_gave_asks_for_no_pressure_after_it(prior, found):
    doses = (FLUID, given(PUSH, 3, 10, "mcg", prior=prior))

    assert (
        "no_pressure_since_last_dose" in codes(check(PUSH, 10, "mcg", facts(doses=doses, readings=(pressure(4),))))
    ) is found


@pytest.mark.parametrize(("measured", "found"), [(12, True), (9, False)], ids=["before the new rate", "after it"])
def test_a_pressure_since_the_rate_that_was_in_force_then(measured, found):
    """A rate of 8 min ago is told late, beside one of 10 and one of 4 min ago."""
    rates = tuple(Rate(ago(minutes), Amount(0.1, "mcg/kg/min")) for minutes in (20, 10, 4))
    drip = given("norepinephrine-infusion", 20, 0.1, "mcg/kg/min", status="running", rates=rates, changed_at=ago(4))
    known = facts(doses=(FLUID, drip), readings=(pressure(measured),))
    late = check("norepinephrine-infusion", 0.1, "mcg/kg/min", known, at=ago(8))

    assert ("no_pressure_since_last_dose" in codes(late)) is found


@pytest.mark.parametrize(
    ("known", "missing"),
    [
        (facts(doses=()), True),
        (facts(doses=(FLUID,)), False),
        (facts(doses=(given("blood-product", 20, 1, "bag"),)), False),
        (facts(doses=(given("crystalloid-bolus", 90, 500, "mL", prior=True),)), False),
        (facts(adult(fluid_restricted=True), doses=()), False),
        (facts(doses=(given(PUSH, 20, 10, "mcg"),)), True),
    ],
    ids=["nothing", "fluid", "blood", "by somebody before", "restricted", "another pressor"],
)
def test_fluid_before_a_pressor(known, missing):
    assert ("no_fluid_yet" in codes(check(PUSH, 10, "mcg", known))) is missing


def test_bleeding_is_stopped_before_a_pressor():
    assert "bleeding_first" in codes(check(PUSH, 10, "mcg", facts(impression="hemorrhagic")))
    assert "bleeding_first" not in codes(check(PUSH, 10, "mcg", facts(impression="septic")))


@pytest.mark.parametrize(
    ("treatment", "status", "found"),
    [
        ("epinephrine-infusion", "running", True),
        ("epinephrine-infusion", "stopped", False),
        ("norepinephrine-infusion", "running", False),
    ],
)
def test_a_push_beside_an_infusion_of_the_same_drug(treatment, status, found):
    infusion = given(treatment, 20, 0.1, "mcg/kg/min", status=status)

    assert ("infusion_running" in codes(check(PUSH, 10, "mcg", facts(doses=(FLUID, infusion))))) is found


@pytest.mark.parametrize(("ended", "found"), [(5, True), (7, False), (10, False)])
def test_an_infusion_ran_until_its_end(ended, found):
    """What is told late is judged by what was so at its time: here 7 min ago."""
    infusion = given("epinephrine-infusion", 20, 0.1, "mcg/kg/min", status="stopped", ended_at=ago(ended))
    found_then = codes(check(PUSH, 10, "mcg", facts(doses=(FLUID, infusion)), at=ago(7)))

    assert ("infusion_running" in found_then) is found


def test_an_infusion_that_runs_already_is_not_started():
    running = given("norepinephrine-infusion", 30, 8, "mcg/min", status="running", prior=True)
    dose = (0.1, "mcg/kg/min")
    strength = Amount(16, "mcg/mL")
    known = facts(doses=(FLUID, running))

    assert "starts_by_order" not in codes(
        check("norepinephrine-infusion", *dose, known, concentration=strength, new_rate=True)
    )
    assert "starts_by_order" in codes(check("norepinephrine-infusion", *dose, concentration=strength))


@pytest.mark.parametrize(
    ("allergy", "treatment", "dose", "found"),
    [
        ("sulfite", PUSH, (10, "mcg"), True),
        ("Sulfites", PUSH, (10, "mcg"), True),
        ("sulfite", "norepinephrine-infusion", (0.1, "mcg/kg/min"), True),
        ("sulfite", "crystalloid-bolus", (100, "mL"), False),
        ("fentanyl", "fentanyl", (40, "mcg"), True),
        ("Sodium metabisulphite", PUSH, (10, "mcg"), True),
        ("adrenaline (rash)", PUSH, (10, "mcg"), True),
        ("morphine", "fentanyl", (40, "mcg"), True),
        ("opioids", "fentanyl", (40, "mcg"), True),
        ("lorazepam", "midazolam", (1, "mg"), True),
        ("Prednisolone", "hydrocortisone", (100, "mg"), True),
        ("non-steroidal anti-inflammatories", "hydrocortisone", (100, "mg"), False),
        ("sulfonamides", PUSH, (10, "mcg"), False),
        ("morphine sulfate", "norepinephrine-infusion", (0.1, "mcg/kg/min"), False),
        ("penicillin", PUSH, (10, "mcg"), False),
        ("sulfite", "epinephrine-im", (0.5, "mg"), False),
    ],
)
def test_an_allergy_on_record(allergy, treatment, dose, found):
    known = facts(adult(allergies=(allergy,)))

    assert ("allergy" in codes(check(treatment, *dose, known))) is found


@pytest.mark.parametrize(("basis", "found"), [("age", True), ("length", True), ("stated", False), ("measured", False)])
def test_a_guessed_weight_is_told_where_it_was_used(basis, found):
    ben = Patient(age=Age(5, "years"), weight=Weight(18, "kg", basis))

    assert ("weight_estimated" in codes(check(PUSH, 5, "mcg", facts(ben, sbp=50, dbp=30)))) is found


def test_a_guessed_weight_that_was_not_used_is_not_told():
    ada = Patient(age=Age(54, "years"), weight=Weight(80, "kg", "age"))
    checked = check(PUSH, 10, "mcg", facts(ada))

    assert "weight_estimated" not in codes(checked)
    assert checked.weight_used is None


@pytest.mark.parametrize(
    ("treatment", "dose", "known"),
    [
        pytest.param(
            "epinephrine-im",
            (0.15, "mg"),
            facts(child(5, None), readings=(), **ANAPHYLAXIS),
            id="epinephrine into the muscle in anaphylaxis",
        ),
        pytest.param("dextrose", (5, "g"), facts(child(5, None), readings=()), id="dextrose with a low glucose"),
        pytest.param(
            "dextrose",
            (5, "g"),
            facts(child(5, None), readings=(), signs={"glucose_mg_dl": None, "glucose_flag": "low"}),
            id="dextrose with a glucose too low to read",
        ),
        pytest.param("naloxone", (0.4, "mg"), facts(child(5, None), readings=()), id="naloxone with slow breathing"),
    ],
)
def test_never_gated_by_pressure_or_weight(treatment, dose, known):
    checked = check(treatment, *dose, known, stock=RULES.treatments[treatment].stocks[0].amount)

    held_back = {"pressure_stale", "pressure_unknown", "weight_estimated", "no_fluid_yet"}
    assert not held_back & codes(checked)
    assert all(each.level == "caution" for each in checked.findings if each.code == "weight_unknown")
    assert checked.verdict in ("within", "caution")


@pytest.mark.parametrize(
    ("treatment", "dose", "signs", "missing"),
    [
        ("dextrose", (10, "g"), {"glucose_mg_dl": 59}, False),
        ("dextrose", (10, "g"), {"glucose_mg_dl": 60}, True),
        ("dextrose", (10, "g"), {"glucose_mg_dl": None}, True),
        ("atropine", (1, "mg"), {"hr": 45}, False),
        ("atropine", (1, "mg"), {"hr": 110}, True),
        ("naloxone", (0.4, "mg"), {"rr": 8}, False),
        ("naloxone", (0.4, "mg"), {"rr": 18}, True),
    ],
)
def test_signs_that_a_treatment_wants(treatment, dose, signs, missing):
    stock = RULES.treatments[treatment].stocks[0].amount

    assert ("signs_missing" in codes(check(treatment, *dose, facts(signs=signs), stock=stock))) is missing


def test_hydrocortisone_wants_its_indication():
    dependent = facts(adult(history=("steroid_dependent",)))

    assert "signs_missing" in codes(check("hydrocortisone", 100, "mg"))
    assert check("hydrocortisone", 100, "mg", dependent).verdict == "within"


@pytest.mark.parametrize(
    ("more", "expected", "verdict"),
    [
        ({"onset_at": ago(180)}, set(), "within"),
        ({"onset_at": ago(181)}, {"window_closed"}, "over_hard_limit"),
        ({"onset_at": ago(181), "bleeding_cause": "trauma"}, {"window_closed"}, "over_hard_limit"),
        ({"onset_at": None}, {"onset_unknown"}, "needs_order"),
        ({"onset_at": None, "bleeding_cause": "postpartum"}, {"onset_unknown"}, "needs_order"),
        ({"onset_at": ago(20), "bleeding_cause": "gut"}, {"starts_by_order"}, "needs_order"),
        ({"onset_at": ago(300), "bleeding_cause": "gut"}, {"starts_by_order", "window_closed"}, "over_hard_limit"),
        ({"onset_at": ago(180), "bleeding_cause": "postpartum"}, set(), "within"),
        ({"onset_at": ago(300), "bleeding_cause": "postpartum"}, {"window_closed"}, "over_hard_limit"),
    ],
)
def test_tranexamic_acid_within_three_hours_of_the_onset(more, expected, verdict):
    checked = check("tranexamic-acid", 1, "g", facts(adult(**more), impression="hemorrhagic"))

    assert codes(checked) == expected
    assert checked.verdict == verdict


@pytest.mark.parametrize(("minutes_ago", "found"), [(5, False), (1, True)], ids=["before", "after"])
def test_crackles_heard_later_do_not_count_against_a_bolus_entered_late(minutes_ago, found):
    heard = (pressure(9, lungs="clear"), pressure(3, lungs="crackles"))
    known = replace(facts(readings=heard), latest={"lungs": Latest("crackles", ago(3))})

    assert ("crackles" in codes(check("crystalloid-bolus", 100, "mL", known, at=ago(minutes_ago)))) is found


def test_a_pressure_taken_later_does_not_stand_between_two_doses_entered_late():
    known = facts(doses=(FLUID, given(PUSH, 10, 10, "mcg")), readings=(pressure(11), pressure(1)))

    assert "no_pressure_since_last_dose" in codes(check(PUSH, 10, "mcg", known, at=ago(7)))


@pytest.mark.parametrize(
    ("treatment", "value", "unit"),
    [
        ("norepinephrine-infusion", 1.1, "mcg/kg/min"),
        ("dopamine-infusion", 21, "mcg/kg/min"),
        ("ketamine", 2.1, "mg/kg"),
    ],
)
@pytest.mark.parametrize("patient", [adult(None), child(5, None)], ids=["adult", "child"])
def test_a_dose_per_kg_has_its_hard_limit_without_a_weight(treatment, value, unit, patient):
    assert "above_hard_limit" in codes(check(treatment, value, unit, facts(patient)))


def test_rates_stated_in_different_units_do_not_trouble_the_guidance():
    rates = (
        given("norepinephrine-infusion", 40, 8, "mcg/min"),
        given("norepinephrine-infusion", 30, 0.1, "mcg/kg/min"),
        given("norepinephrine-infusion", 20, 30, "mL/h"),
    )

    assert told("norepinephrine-infusion", facts(doses=rates))["left"]["total"] is None


def test_a_drug_that_the_rule_set_lacks_is_a_caution():
    proposal = Proposal(treatment="other", amount=Amount(2, "g"), route="IV", at=TEN)
    checked = limits.check(proposal, facts(), RULES)

    assert (checked.verdict, codes(checked)) == ("caution", {"not_in_rule_set"})
    assert checked.as_dict()["rule_set"]["digest"] == RULES.digest


def test_a_name_that_nobody_knows_is_refused():
    with pytest.raises(limits.UnknownTreatment):
        check("snake-oil", 1, "mL", route="IV")
