"""Which reading a treatment asks for, when it is due, and what completes it."""

from uuid import UUID

import pytest

from dosing.ground.facts import Amount, Dose, Rate
from dosing.load.reader import load_shipped
from dosing.patient.reassess import NEEDS, completed_by, end_of, missing, opened_by, started_at
from tests.copying import replace
from tests.dosing.cast import at, push, reading

RULES = load_shipped("demonstration")
SOME = Amount(8, "mcg/min")


def bolus(**more):
    return Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(0), amount=Amount(500, "mL"), **more)


def infusion(**more):
    return Dose(id="drip", treatment="norepinephrine-infusion", given_at=at(0), **({"status": "running"} | more))


@pytest.mark.parametrize(
    ("dose", "counts_from", "due", "overdue"),
    [
        (push(0), 1, 2, 5),
        (bolus(over_min=10), 10, 10, 12),
        (bolus(over_min=15), 15, 15, 17),
        (bolus(over_min=30), 15, 15, 17),
        (bolus(), 15, 15, 17),
        (bolus(ended_at=at(6)), 6, 6, 8),
        (bolus(over_min=15, ended_at=at(4)), 4, 4, 6),
        (infusion(), 1, 3, 5),
        (infusion(changed_at=at(20)), 21, 23, 25),
        (infusion(changed_at=at(20), prior=True), 21, 23, 25),
        (infusion(changed_at=at(20), status="stopped", ended_at=at(30)), 31, 33, 35),
    ],
    ids=[
        *("push", "10 min", "15 min", "30 min", "no time stated", "ended", "ended early", "infusion", "new rate"),
        *("new rate of what others started", "stopped"),
    ],
)
def test_times(dose, counts_from, due, overdue):
    got = opened_by(dose, RULES)

    assert (got.counts_from, got.due_at, got.overdue_at) == (at(counts_from), at(due), at(overdue))


@pytest.mark.parametrize(("over_min", "due"), [(10, 12), (13, 15), (14, 15), (20, 15)])
def test_a_bolus_may_be_due_some_time_after_its_end_but_never_after_its_latest_time(over_min, due):
    treatment = RULES.treatments["crystalloid-bolus"]
    later = replace(treatment, reassessment=replace(treatment.reassessment, due_min=2))

    got = opened_by(bolus(over_min=over_min), replace(RULES, treatments={treatment.slug: later}))

    assert (got.counts_from, got.due_at) == (at(min(over_min, due)), at(due))


def test_its_id_follows_from_the_intervention():
    first, again, other = (opened_by(dose, RULES).id for dose in (push(0), push(3), push(0, "another")))

    assert UUID(first).version == 5
    assert first == again != other


def test_it_says_after_what_it_is_asked_for():
    opened = opened_by(push(0), RULES)

    assert (opened.intervention, opened.because) == ("first push", "EPINEPHrine push dose")
    assert (opened.needs, opened.also, opened.state, opened.done_at) == (("pressure",), ("hr",), "waiting", None)


@pytest.mark.parametrize(
    ("opened_at", "due"),
    [(-20, 3), (0, 3), (0.5, 3.5), (40, 43)],
    ids=["before it was started", "with it", "just after", "an hour after"],
)
def test_a_pressor_that_others_started_asks_from_the_opening_of_the_case_on(opened_at, due):
    assert opened_by(infusion(prior=True), RULES, at(opened_at)).due_at == at(due)


@pytest.mark.parametrize(
    "dose",
    [push(0, prior=True), infusion(prior=True, status="given"), push(0, treatment="other", name="a drug of its own")],
    ids=["given by others", "an infusion that others ended", "unknown drug"],
)
def test_nothing_is_asked_after(dose):
    assert opened_by(dose, RULES) is None


@pytest.mark.parametrize(
    ("readings", "done"),
    [
        ([], None),
        ([reading(0.9, 92, 56, hr=104)], None),
        ([reading(1, 92, 56, hr=104)], 1),
        ([reading(5, 92, 56, hr=104)], 5),
        ([reading(0.5, 92, 56, hr=104), reading(2, 92, 56, hr=104)], 2),
        ([reading(2, 92, 56)], 2),
        ([reading(2, hr=104)], None),
        ([reading(2, hr=104), reading(2.5, 92, 56)], 2.5),
        ([reading(2, 92, bp_method="palpated", hr=104)], 2),
        ([reading(2, bp_method="unobtainable", hr=0)], 2),
        ([reading(1.5, 92, 56, hr=104), reading(4, 99, 60, hr=99)], 1.5),
    ],
    ids=[
        "none",
        "too early",
        "from then on",
        "late",
        "one too early, one in time",
        "no heart rate",
        "no pressure",
        "after another set",
        "palpated",
        "unobtainable",
        "the first",
    ],
)
def test_what_completes_a_push_dose(readings, done):
    opened = opened_by(push(0), RULES)

    assert completed_by(opened, readings) == (None if done is None else at(done))


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
@pytest.mark.parametrize(
    ("classes", "needs"),
    [
        (("pressor", "fluid", "blood"), {"pressure"}),
        (("sedative", "opioid"), {"rr", "spo2", "alertness"}),
    ],
    ids=["pressors, fluids, blood", "sedatives, opioids"],
)
def test_what_is_needed_follows_from_the_class(name, classes, needs):
    treatments = [each for each in load_shipped(name).treatments.values() if each.drug_class in classes]

    assert treatments
    assert {frozenset(each.reassessment.needs) for each in treatments if each.reassessment} == {frozenset(needs)}


def test_lungs_temperature_and_refill_are_never_waited_for():
    """They are prompts beside the reassessment: our choice, for an alarm must want something that helps at once."""
    rules = [each.reassessment for each in RULES.treatments.values() if each.reassessment]

    assert not {"lungs", "temperature"} & {need for rule in rules for need in rule.needs}
    assert {"lungs", "temperature"} <= {need for rule in rules for need in rule.also}


def test_what_of_it_is_missing():
    sedated = opened_by(push(0, treatment="midazolam"), RULES)
    in_part = [reading(-1, spo2=97), reading(4, rr=12), reading(5, avpu="V")]

    assert missing(sedated, []) == ["alertness", "rr", "spo2"]
    assert missing(sedated, in_part) == ["spo2"]
    assert missing(sedated, [*in_part, reading(6, spo2=97)]) == []


ONE_OF_EACH = {
    "pressure": {"sbp": 90},
    "pressure_or_pulses": {"pulses": "radial"},
    "alertness": {"avpu": "A"},
    "glucose": {"glucose_flag": "low"},
    "heart_rate": {"hr": 80},
    "hr": {"hr": 80},
    "lungs": {"lungs": "clear"},
    "rr": {"rr": 16},
    "spo2": {"spo2": 97},
    "temp_c": {"temp_c": 37},
    "temperature": {"temp_c": 37},
}


@pytest.mark.parametrize("need", NEEDS)
def test_each_need_is_met_by_its_own_measurement_only(need):
    assert NEEDS[need](reading(**ONE_OF_EACH[need]))
    assert not NEEDS[need](reading(etco2=35))


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
def test_every_need_of_a_shipped_rule_set_is_understood(name):
    treatments = load_shipped(name).treatments.values()

    assert {need for each in treatments if each.reassessment for need in each.reassessment.needs} <= set(NEEDS)


def test_the_end_of_a_bolus():
    """Its recorded end, else its stated time, else the moment it was given."""
    assert end_of(bolus()) == at(0)
    assert end_of(bolus(over_min=15)) == at(15)
    assert end_of(bolus(over_min=15, ended_at=at(4))) == at(4)


def test_without_a_latest_time_it_is_due_from_the_end_however_late_that_is():
    treatment = RULES.treatments["crystalloid-bolus"]
    open_ended = replace(treatment, reassessment=replace(treatment.reassessment, max_min=None, due_min=2))

    got = opened_by(bolus(over_min=90), replace(RULES, treatments={treatment.slug: open_ended}))

    assert (got.counts_from, got.due_at) == (at(90), at(92))


@pytest.mark.parametrize(
    ("dose", "minutes"),
    [
        (infusion(), 0),
        (infusion(changed_at=at(20)), 20),
        (infusion(status="held", rates=(Rate(at(0), SOME), Rate(at(7), SOME), Rate(at(9), None)), changed_at=at(9)), 7),
        (infusion(status="held", changed_at=at(9)), 0),
    ],
)
def test_when_the_rate_in_force_began(dose, minutes):
    assert started_at(dose) == at(minutes)
