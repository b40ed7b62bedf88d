"""What may be given now: the shape of the contract, what fits first, what is left, and what stands in the way."""

import json
from datetime import datetime

import pytest

from dosing.ground.facts import Patient, Weight
from dosing.load import reader
from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, codes, facts, given, told

KEYS = {"treatment", "title", "least", "most", "volumes", "recipe", "left", "next_at", "missing", "cautions"}
PUSH = "epinephrine-push-dose"
FLUID = given("crystalloid-bolus", 60, 1, "mL")


def listed(known, rules=RULES):
    return guidance.guidance(known, rules, TEN)


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_every_treatment_has_all_keys_of_the_contract(rules):
    entries = listed(facts(), rules)

    assert sorted(entry["treatment"] for entry in entries) == sorted(rules.treatments)
    for entry in entries:
        assert entry.keys() >= KEYS | {"source", "relevant"}
        assert entry["source"]
        json.dumps(entry, default=datetime.isoformat)


@pytest.mark.parametrize(
    ("impression", "treatment"),
    [
        ("anaphylactic", "epinephrine-im"),
        ("hemorrhagic", "blood-product"),
        ("hemorrhagic", "tranexamic-acid"),
        ("septic", "norepinephrine-infusion"),
        ("hypovolemic", "crystalloid-bolus"),
        ("neurogenic", "phenylephrine-push-dose"),
    ],
)
def test_what_fits_the_impression_comes_first(impression, treatment):
    patient = adult(onset_at=ago(30))
    entries = listed(facts(patient, impression=impression, signs={"hr": 110, "rr": 20, "glucose_mg_dl": 110}))
    relevant = [entry["relevant"] for entry in entries]

    assert relevant == sorted(relevant, reverse=True)
    assert next(entry["relevant"] for entry in entries if entry["treatment"] == treatment)
    assert not next(entry["relevant"] for entry in entries if entry["treatment"] == "midazolam")


# Epinephrine into the muscle leads in anaphylaxis: RCUK 2021, WAO 2020 (from memory). Neither pressure,
# weight nor age moves it; a low glucose, too, waits for nothing (contract: never gated).
@pytest.mark.parametrize("patient", [adult(), adult(None), child(), child(0.5, None), Patient()])
@pytest.mark.parametrize("pressure", [{}, {"sbp": None}, {"sbp": 150, "dbp": 90}])
@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_in_anaphylaxis_epinephrine_into_the_muscle_leads(patient, pressure, rules):
    known = facts(patient, impression="anaphylactic", signs={"hr": 110, "rr": 20}, **pressure)

    assert [entry["treatment"] for entry in listed(known, rules)][:2] == ["epinephrine-im", "dextrose"]


@pytest.mark.parametrize("impression", ["septic", "hemorrhagic", "undifferentiated"])
def test_it_leads_in_no_other_shock(impression):
    entries = [entry["treatment"] for entry in listed(facts(impression=impression, signs={"glucose_mg_dl": 110}))]

    assert entries.index("crystalloid-bolus") < entries.index("epinephrine-im")


@pytest.mark.parametrize(
    ("treatment", "sign", "with_it", "without"),
    [
        ("dextrose", "glucose_mg_dl", 40, 110),
        ("naloxone", "rr", 6, 20),
        ("atropine", "hr", 38, 110),
    ],
)
def test_a_sign_makes_its_treatment_relevant(treatment, sign, with_it, without):
    assert told(treatment, facts(signs={sign: with_it}))["relevant"]
    assert not told(treatment, facts(signs={sign: without}))["relevant"]


def test_a_closed_window_is_relevant_no_more():
    late = facts(adult(onset_at=ago(181)), impression="hemorrhagic")

    assert not told("tranexamic-acid", late)["relevant"]
    assert "window_closed" in {finding["code"] for finding in told("tranexamic-acid", late)["findings"]}


def test_a_push_dose_of_an_adult():
    shown = told(PUSH)

    assert shown["title"] == "EPINEPHrine push dose"
    assert (shown["least"], shown["most"]) == ({"value": 10, "unit": "mcg"}, {"value": 20, "unit": "mcg"})
    assert shown["volumes"] == {
        "least": {"value": 1, "unit": "mL"},
        "most": {"value": 2, "unit": "mL"},
        "strength": {"value": 10, "unit": "mcg/mL"},
        "syringe": {"value": 3, "unit": "mL"},
    }
    assert len(shown["recipe"]) >= 3
    assert shown["left"] == {"count": 5, "of": 5, "total": {"value": 100, "unit": "mcg"}, "counted_whole": ""}
    assert shown["cautions"]
    assert not shown["by_order"]


def test_a_childs_limits_follow_the_weight():
    shown = told(PUSH, facts(child(1, 4, "months")))

    assert shown["guide"] == {"value": 4, "unit": "mcg"}
    assert shown["most"] == {"value": 8, "unit": "mcg"}


def test_the_least_never_exceeds_the_most():
    """Of a set whose fixed least is more than 2 mcg/kg of a light newborn."""
    least = 'least = { amount = "1 mcg", source = "choice" }'
    rules = reader.loads(RULES.text.replace(least, least.replace("1", "3")))
    shown = told(PUSH, facts(child(1, 1, "days")), rules)

    assert shown["most"] == {"value": 2, "unit": "mcg"}
    assert shown["least"] == shown["most"]


def test_what_was_given_leaves_less():
    pushes = (FLUID, given(PUSH, 9, 20, "mcg"), given(PUSH, 6, 20, "mcg", prior=True), given(PUSH, 1, 10, "mcg"))
    shown = told(PUSH, facts(doses=pushes))

    assert shown["left"] == {"count": 2, "of": 5, "total": {"value": 50, "unit": "mcg"}, "counted_whole": ""}
    assert shown["next_at"] == ago(-1)
    assert shown["by_order"]


def test_an_interval_that_has_passed_is_still_told():
    assert told(PUSH, facts(doses=(FLUID, given(PUSH, 30, 10, "mcg"))))["next_at"] == ago(28)


def test_nothing_left_is_a_finding():
    shown = told(PUSH, facts(doses=(FLUID, *(given(PUSH, 3 * number, 20, "mcg") for number in range(1, 6)))))

    assert shown["left"]["count"] == 0
    assert {"count_reached", "total_reached"} <= {finding["code"] for finding in shown["findings"]}
    assert shown["by_order"]


@pytest.mark.parametrize(
    ("patient", "impression", "volumes", "left"),
    [
        (adult(80), "septic", (), 3000),
        (adult(80), "septic", (500,), 2500),  # whole boluses would be "3 of 3" still
        (adult(80), "septic", (500, 250), 2250),
        (adult(20.5), "septic", (700,), 1145),  # 3 boluses of 30 mL/kg are as much as 90 mL/kg
        (adult(80), "hemorrhagic", (250, 250), 500),
        (adult(80), "cardiogenic", (), 250),  # one bolus of 250 mL, though the total alone is 3,000 mL
        (adult(80), "cardiogenic", (100,), 150),
        (adult(80), "cardiogenic", (250,), 0),
    ],
)
def test_of_fluid_the_volume_is_left_and_no_count_beside_it(patient, impression, volumes, left):
    """Expected by hand from the rule set: count times the single most, or the total, whichever is less."""
    doses = tuple(given("crystalloid-bolus", 60 - n, volume, "mL") for n, volume in enumerate(volumes))
    known = facts(patient, impression=impression, doses=doses)
    shown = told("crystalloid-bolus", known)

    assert shown["left"] == {"count": None, "of": None, "total": {"value": left, "unit": "mL"}, "counted_whole": ""}
    beyond = {"count_reached", "total_reached"}
    assert bool(beyond & {each["code"] for each in shown["findings"]}) == (left == 0)
    if left:
        assert not beyond & codes(check("crystalloid-bolus", left, "mL", known)), "what is left may be given"
    assert {"above_most", *beyond} & codes(check("crystalloid-bolus", left + 1, "mL", known)), "and no more"


@pytest.mark.parametrize(
    ("treatment", "known", "missing"),
    [
        (PUSH, facts(child(5, None)), ["weight"]),
        (PUSH, facts(adult(None)), []),
        (PUSH, facts(readings=()), ["pressure"]),
        ("dextrose", facts(signs={"glucose_mg_dl": None}), ["glucose_mg_dl"]),
        ("tranexamic-acid", facts(impression="hemorrhagic"), ["onset"]),
        ("norepinephrine-infusion", facts(child(5, None)), ["weight"]),
    ],
)
def test_what_must_be_known_first(treatment, known, missing):
    assert told(treatment, known)["missing"] == missing


def test_a_child_of_unknown_weight_has_no_limit_to_show():
    shown = told(PUSH, facts(child(5, None)))

    assert (shown["least"], shown["most"], shown["volumes"]) == ({"value": 1, "unit": "mcg"}, None, None)
    assert shown["by_order"]


def test_a_patient_of_unknown_age_is_an_adult():
    assert told(PUSH, facts(Patient(weight=Weight(80))))["most"] == {"value": 20, "unit": "mcg"}


def test_several_strengths_have_no_one_volume():
    assert told("ketamine")["volumes"] is None
    assert told("norepinephrine-infusion")["volumes"] is None
    lines = told("norepinephrine-infusion")["recipe"]
    assert [line.partition(": ")[2] for line in lines[:3]] == ["16 mcg per mL", "32 mcg per mL", "64 mcg per mL"]
    assert lines[3] == "To mix 4 mg in 250 mL: 16 mcg per mL"


@pytest.mark.parametrize(
    ("impression", "words"),
    [("hemorrhagic", "Control bleeding"), ("cardiogenic", "one small bolus"), ("septic", "first crackles")],
)
def test_cautions_are_those_for_this_patient(impression, words):
    cautions = " ".join(told("crystalloid-bolus", facts(impression=impression))["cautions"])

    assert words in cautions
    assert ("push and pull" in cautions) is False


def test_each_caution_names_its_source():
    """What is unsafe with a syringe stands on a published list of such practices."""
    for row in (told(slug) for slug in RULES.treatments):
        assert len(row["caution_sources"]) == len(row["cautions"])
        assert all(
            source.endswith(("[read]", "[second-hand]", "[memory]", "[our choice]"))
            for source in row["caution_sources"]
        )

    push = told(PUSH)
    (unsafe,) = [at for at, caution in enumerate(push["cautions"]) if "unsafe practices" in caution]
    assert push["caution_sources"][unsafe].startswith("ISMP: list of unsafe practices")


@pytest.mark.parametrize(
    ("treatment", "words"),
    [
        (PUSH, "ten times too strong"),
        (PUSH, "unsafe practices"),
        ("phenylephrine-push-dose", "10,000 mcg"),
        ("norepinephrine-infusion", "base"),
        ("epinephrine-im", "Never IV"),
        ("tranexamic-acid", "3 h"),
    ],
)
def test_the_dangerous_step_is_named(treatment, words):
    assert words in " ".join(told(treatment)["cautions"])


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("impression", ["obstructive", "cardiogenic", "septic"])
def test_what_is_usual_is_never_told_above_what_stands(rules, impression):
    fluid = told("crystalloid-bolus", facts(child(12, 49), impression=impression), rules=rules)

    assert fluid["guide"]["value"] <= fluid["most"]["value"]
