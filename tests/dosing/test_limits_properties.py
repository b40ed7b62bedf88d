"""What must hold for every dose, patient and treatment."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dosing.check import limits
from dosing.check.findings import LEVELS, level_of
from dosing.ground.facts import Amount, Facts, Patient
from dosing.rules.rule_set import RuleSet
from dosing.tell import guidance
from tests.depth import few
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, facts, told, usual_route

TREATMENTS = sorted(RULES.treatments)
GROWN, SMALL = ([name for name in TREATMENTS if told(name, facts(who))["most"]] for who in (adult(), child()))
BOTH = st.sampled_from([RULES, CONSERVATIVE])
IMPRESSIONS = ["septic", "hypovolemic", "hemorrhagic", "cardiogenic", "anaphylactic", "neurogenic", "obstructive"]
WEIGHTS = st.integers(5, 500).map(lambda tenths: tenths / 10)
AGES = st.tuples(st.integers(0, 11), st.sampled_from(["years", "months", "days"]))

EASED = {
    "pressure_low",
    "pressure_unknown",
    "weight_unknown",
    "weight_unlikely",
}  # by order, but where nothing may hold it back


def unit_of(treatment: str, patient: Patient) -> str:
    """A unit in which the treatment is stated for this patient."""
    if treatment == "vasopressin-infusion":
        return "units/min" if patient.age.value >= 18 else "units/kg/min"
    return RULES.treatments[treatment].unit


def bedside_of(patient: Patient, impression: str = "septic") -> Facts:
    injured = {"onset_at": ago(30), "bleeding_cause": "trauma"}
    known = Patient(age=patient.age, weight=patient.weight, **injured)
    return facts(known, impression=impression, sbp=40, dbp=20)


def rank(treatment: str, value: float, unit: str, known: Facts, rules: RuleSet = RULES, **more: Amount) -> int:
    """How bad the verdict is, but of a weight that cannot be; a dose too small is no worse than one that is right."""
    found = check(treatment, value, unit, known, rules=rules, **more).findings
    return max(1, LEVELS.index(limits.worst(each for each in found if each.code != "weight_unlikely")))


@pytest.mark.parametrize("treatment", SMALL)
@few
@given(kg=WEIGHTS, age=AGES, rules=BOTH, impression=st.sampled_from(IMPRESSIONS))
def test_ten_times_the_standing_most_of_a_child_is_over_the_hard_limit(treatment, kg, age, rules, impression):
    known = bedside_of(child(age[0], kg, age[1]), impression)
    most = told(treatment, known, rules)["most"]
    assume(most is not None)  # a newborn must not get some of them at all

    checked = check(treatment, most["value"] * 10, most["unit"], known, rules=rules)

    assert checked.verdict == "over_hard_limit"


@pytest.mark.parametrize("treatment", [name for name in SMALL if name != "alprostadil-infusion"])  # no adult's at all
@few
@given(kg=WEIGHTS, age=AGES, tenths=st.integers(1, 40), impression=st.sampled_from(IMPRESSIONS))
def test_a_child_never_gets_more_than_an_adult_of_that_weight(treatment, kg, age, tenths, impression):
    """What a crew may give to a child is within an adult's standing limit, and likewise for the hard limit."""
    small, large = bedside_of(child(age[0], kg, age[1]), impression), bedside_of(adult(kg), impression)
    most = told(treatment, small)["most"]
    assume(most is not None)
    more: dict[str, Amount] = {}
    value, unit = tenths / 10 * most["value"], most["unit"]
    if treatment == "vasopressin-infusion":  # the adult's unit is refused for a child, so both as a pump rate
        strength = Amount(1, "units/mL")
        value, unit, more = value * kg * 60, "mL/h", {"concentration": strength}

    assert rank(treatment, value, unit, small, **more) >= rank(treatment, value, unit, large, **more)


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(kg=WEIGHTS, grown=st.booleans(), value=st.integers(1, 5000), times=st.integers(11, 200), rules=BOTH)
def test_more_is_never_judged_milder(treatment, kg, grown, value, times, rules):
    patient = adult(kg + 40) if grown else child(5, kg)
    known, unit = bedside_of(patient), unit_of(treatment, patient)
    less = value / 100

    assert rank(treatment, less, unit, known, rules) <= rank(treatment, less * times / 10, unit, known, rules)


@given(micrograms=st.integers(1, 2000), kg=WEIGHTS, spelling=st.sampled_from([("mg", 1000), ("g", 1_000_000)]))
def test_the_spelling_of_a_unit_never_changes_a_verdict(micrograms, kg, spelling):
    unit, factor = spelling
    known = bedside_of(child(5, kg))
    one, other = (
        check("epinephrine-push-dose", value, of, known)
        for value, of in ((micrograms, "mcg"), (micrograms / factor, unit))
    )

    assert one.findings == other.findings
    assert one.give == other.give


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(
    kg=st.none() | WEIGHTS,
    grown=st.booleans(),
    value=st.floats(0.001, 5000),
    impression=st.sampled_from(IMPRESSIONS),
    route=st.sampled_from(["IV", "IO", "IM", "IN", "SC", "PO"]),
    allergy=st.sampled_from([(), ("sulfite",), ("fentanyl",)]),
)
def test_no_finding_is_without_its_source_and_level(treatment, kg, grown, value, impression, route, allergy):
    patient = adult(kg, allergies=allergy) if grown else child(5, kg, allergies=allergy)
    known = facts(patient, impression=impression, doses=())
    checked = check(treatment, value, unit_of(treatment, patient), known, route=route)

    for finding in checked.findings:
        assert finding.text
        assert finding.source.endswith(("[read]", "[second-hand]", "[memory]", "[our choice]"))
        graded = finding.code == "signs_missing" and finding.level in LEVELS[1:]  # each sign says its own
        assert (
            finding.level == level_of(finding.code) or (finding.code in EASED and finding.level == "caution") or graded
        )
    assert checked.verdict == limits.worst(checked.findings)


@pytest.mark.parametrize("treatment", sorted({*GROWN, *SMALL}))
@few
@given(kg=WEIGHTS, grown=st.booleans(), rules=BOTH)
def test_the_most_of_the_guidance_is_within_the_standing_limit(treatment, kg, grown, rules):
    """What the page shows as the most passes the check as it stands: no rounding lies between the two."""
    known = bedside_of(adult(kg + 40) if grown else child(5, kg))
    most = told(treatment, known, rules)["most"]
    assume(most is not None)  # phenylephrine has none for a child

    found = {one.code for one in check(treatment, most["value"], most["unit"], known, rules=rules).findings}
    assert not found & {"above_most", "above_hard_limit"}


@given(kg=st.none() | WEIGHTS, age=st.none() | AGES, impression=st.sampled_from(IMPRESSIONS), rules=BOTH)
def test_guidance_names_every_treatment_for_everybody(kg, age, impression, rules):
    patient = adult(kg) if age is None else child(age[0], kg, age[1])
    listed = guidance.guidance(facts(patient, impression=impression), rules, TEN)

    assert sorted(entry["treatment"] for entry in listed) == TREATMENTS


@pytest.mark.parametrize("treatment", GROWN)
def test_every_treatment_can_be_put_to_the_rules_of_an_adult(treatment):
    known = bedside_of(adult())
    most = told(treatment, known)["most"]
    checked = check(treatment, most["value"], most["unit"], known, route=usual_route(treatment))

    assert checked.give.dose == Amount(most["value"], most["unit"])
    assert not {"above_most", "above_hard_limit", "route_not_allowed"} & {one.code for one in checked.findings}
