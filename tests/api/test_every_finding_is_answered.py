"""Each finding of the contract once through the API: the situation that brings it, its level, its words, its source."""

import pytest

from tests.api.conftest import ago, new_id
from tests.api.worked import amount, bedside, check

PUSH, BOLUS, SUGAR = "epinephrine-push-dose", "crystalloid-bolus", "dextrose"
ADA, BEN = "58 y 80 kg", "5 y 18 kg"
INJURED = {"impression": "hemorrhagic", "bleeding_cause": "trauma"}
MARKS = ("[read]", "[second-hand]", "[memory]", "[our choice]")


def signs(**measured):
    return {"signs": measured}


# Level of the contract, code, patient, what is known, treatment, dose, what else is said of the dose.
FINDINGS = [
    ("caution", "below_least", ADA, {}, PUSH, "9 mcg", {}),
    ("caution", "above_guide", "4 m 5 kg", {}, PUSH, "6 mcg", {}),
    ("caution", "pressure_stale", ADA, signs(sbp=None, dbp=None), BOLUS, "250 mL", {}),
    ("needs_order", "pressure_unknown", ADA, signs(sbp=None, dbp=None), PUSH, "10 mcg", {}),
    ("needs_order", "pressure_low", ADA, {}, "midazolam", "1 mg", {"stock": "1 mg/mL"}),
    ("caution", "pressure_low", ADA, {}, "ketamine", "8 mg", {"stock": "10 mg/mL"}),
    ("caution", "pressure_above_goal", ADA, signs(sbp=100, dbp=60), PUSH, "10 mcg", {}),
    ("caution", "no_fluid_yet", ADA, {}, PUSH, "10 mcg", {}),
    ("caution", "volume_not_measurable", ADA, {}, PUSH, "12.5 mcg", {}),
    ("caution", "rate_not_deliverable", ADA, {}, BOLUS, "1000 mL", {"over_min": 15, "gauge": 22}),
    ("needs_order", "too_fast", ADA, {"onset_at": "now"}, "tranexamic-acid", "1 g", {"over_min": 5}),
    ("caution", "strength_not_stated", ADA, {}, SUGAR, "10 g", {}),
    ("caution", "unlisted_strength", ADA, {}, SUGAR, "10 g", {"stock": "200 mg/mL"}),
    ("caution", "bleeding_first", ADA, {"impression": "hemorrhagic"}, PUSH, "10 mcg", {}),
    ("needs_order", "onset_unknown", ADA, INJURED, "tranexamic-acid", "1 g", {}),
    ("caution", "signs_missing", ADA, signs(glucose_mg_dl=120), SUGAR, "10 g", {"stock": "100 mg/mL"}),
    ("needs_order", "above_most", ADA, {}, PUSH, "30 mcg", {}),
    ("needs_order", "weight_unknown", "5 y ? kg", {}, PUSH, "5 mcg", {}),
    ("needs_order", "crackles", ADA, signs(lungs="crackles"), BOLUS, "250 mL", {}),
    ("needs_order", "care_limits", ADA, {"care_limits": "comfort"}, PUSH, "10 mcg", {}),
    ("needs_order", "refuses_blood", ADA, {"refuses_blood": True}, "blood-product", "1 bag", {}),
    ("caution", "history", ADA, {"history": ["maoi"]}, PUSH, "10 mcg", {}),
    ("needs_order", "fluid_restricted", ADA, {"fluid_restricted": True}, BOLUS, "250 mL", {}),
    ("needs_order", "age_not_covered", BEN, {}, "phenylephrine-push-dose", "50 mcg", {}),
    ("needs_order", "allergy", ADA, {"allergies": ["morphine"]}, "fentanyl", "40 mcg", {}),
    ("needs_order", "well_above_goal", ADA, signs(sbp=120, dbp=80), PUSH, "10 mcg", {}),
    ("needs_order", "starts_by_order", ADA, {}, "dopamine-infusion", "5 mcg/kg/min", {"concentration": "800 mcg/mL"}),
    ("over_hard_limit", "above_hard_limit", ADA, {}, PUSH, "1 mg", {}),
    ("over_hard_limit", "route_not_allowed", ADA, {}, "epinephrine-im", "0.5 mg", {"route": "IV"}),
    ("over_hard_limit", "wrong_stock", ADA, {}, PUSH, "10 mcg", {"stock": "1 mg/mL"}),
    ("over_hard_limit", "window_closed", ADA, {"onset_at": "long ago", **INJURED}, "tranexamic-acid", "1 g", {}),
]
# The same after a dose given before: treatment and amount of that, minutes ago, then the one that is asked about.
AFTER = [
    ("caution", "infusion_running", ("epinephrine-infusion", "8 mcg/min", 9, "running"), PUSH, "10 mcg"),
    ("caution", "opioid_with_sedative", ("fentanyl", "40 mcg", 9, "given"), "midazolam", "1 mg"),
    ("needs_order", "too_soon", (PUSH, "10 mcg", 1, "given"), "phenylephrine-push-dose", "100 mcg"),
    ("needs_order", "too_soon", (PUSH, "10 mcg", 1, "given"), PUSH, "10 mcg"),
    ("needs_order", "no_pressure_since_last_dose", (PUSH, "10 mcg", 0, "given"), PUSH, "10 mcg"),
    ("needs_order", "total_reached", (PUSH, "95 mcg", 9, "given"), PUSH, "10 mcg"),
    ("needs_order", "count_reached", ("calcium-chloride", "1 g", 9, "given"), "calcium-gluconate", "3 g"),
]


def the(found, code, level):
    """The one finding of this code, after its level, words and source have been looked at."""
    one = next(each for each in found["findings"] if each["code"] == code)
    assert (one["level"], bool(one["text"])) == (level, True)
    assert one["source"].endswith(MARKS)
    return one


def known_of(situation):
    since = {"now": ago(minutes=10), "long ago": ago(minutes=181)}
    return {name: since[value] if name == "onset_at" else value for name, value in situation.items()}


def give(crew, case, treatment, dose, **more):
    body = {"id": new_id(), "treatment": treatment, "amount": amount(dose), "route": "IV", "given_at": ago(seconds=0)}
    answer = crew.post(f"cases/{case}/interventions/", body | more)
    assert answer.status_code == 201, answer.content
    return answer.json()


@pytest.mark.parametrize(("level", "code", "who", "situation", "treatment", "dose", "more"), FINDINGS)
def test_a_finding_has_its_level_words_and_source(cast, open_case, level, code, who, situation, treatment, dose, more):
    case = bedside(cast.crew, open_case, who, **known_of(situation))

    the(check(cast.crew, case, treatment, dose, **more), code, level)


@pytest.mark.parametrize(("level", "code", "before", "treatment", "dose"), AFTER)
def test_a_finding_that_comes_of_what_was_given(cast, open_case, level, code, before, treatment, dose):
    earlier, amount_before, minutes, status = before
    case = bedside(cast.crew, open_case, ADA)
    give(cast.crew, case, earlier, amount_before, given_at=ago(minutes=minutes), status=status)

    the(check(cast.crew, case, treatment, dose), code, level)


def test_a_guessed_weight_is_told(cast, open_case):
    ben = {"value": 18, "unit": "kg", "basis": "age"}
    case = open_case(patient={"age": {"value": 5, "unit": "years", "basis": "stated"}, "weight": ben})

    the(check(cast.crew, case, PUSH, "5 mcg"), "weight_estimated", "caution")


def test_a_weight_that_is_hardly_possible_is_told(cast, open_case):
    case = bedside(cast.crew, open_case, "6 y 400 kg")

    the(check(cast.crew, case, "epinephrine-im", "0.3 mg"), "weight_unlikely", "caution")


def test_a_pump_set_to_ten_times_its_rate_is_told_before_and_alarms_after(cast, open_case):
    """15 mL/h of 16 mcg per mL are 0.05 mcg/kg/min for 80 kg; with a pressure a moment ago nothing else speaks."""
    case, bag = bedside(cast.crew, open_case, ADA), amount("16 mcg/mL")
    drip = give(cast.crew, case, "norepinephrine-infusion", "15 mL/h", status="running", concentration=bag)
    cast.crew.post(f"cases/{case}/vitals/", {"taken_at": ago(seconds=0), "sbp": 80, "dbp": 40})
    strong = {"concentration": "16 mcg/mL", "new_rate": True}
    asked = check(cast.crew, case, "norepinephrine-infusion", "150 mL/h", **strong)
    the(asked, "leap", "needs_order")
    lower = check(cast.crew, case, "norepinephrine-infusion", "12 mL/h", **strong)
    the(lower, "pressure_below_goal", "caution")  # MAP 53
    assert lower["verdict"] == "caution"

    body = {"id": new_id(), "at": ago(seconds=0), "amount": amount("150 mL/h")}
    the(cast.crew.post(f"interventions/{drip['id']}/changes/", body).json()["check"], "leap", "needs_order")

    told = [each["text"] for each in cast.crew.get(f"cases/{case}/").json()["alerts"]]
    assert any("from 0.05 to 0.5 mcg/kg/min is 10 times as much" in each for each in told)


def test_the_cannula_on_record_is_the_one_that_a_bolus_goes_through(cast, open_case):
    """1,000 mL in 15 min through a 24 G, until a wider one lies; the one named counts before the widest."""
    case = bedside(cast.crew, open_case, ADA)
    narrow, wide = ({"id": new_id(), "procedure": "iv_access", "gauge": gauge, "outcome": "done"} for gauge in (24, 16))

    def found(**more):
        return {each["code"] for each in check(cast.crew, case, BOLUS, "1000 mL", **more)["findings"]}

    cast.crew.post(f"cases/{case}/procedures/", narrow | {"at": ago(seconds=2)})
    assert "rate_not_deliverable" in found()
    cast.crew.post(f"cases/{case}/procedures/", wide | {"at": ago(seconds=1)})
    assert "rate_not_deliverable" not in found()
    body = {"treatment": BOLUS, "amount": amount("1000 mL"), "route": "IV", "status": "running", "access": narrow["id"]}
    given = cast.crew.post(f"cases/{case}/interventions/", body | {"id": new_id(), "given_at": ago(seconds=0)}).json()
    assert "rate_not_deliverable" in {each["code"] for each in given["check"]["findings"]}


def test_a_drug_outside_the_rule_set_is_told(cast, open_case):
    case = bedside(cast.crew, open_case, ADA)
    body = {"id": new_id(), "treatment": "other", "name": "cefazolin", "amount_text": "2 g", "given_at": ago(seconds=1)}

    the(cast.crew.post(f"cases/{case}/interventions/", body).json()["check"], "not_in_rule_set", "caution")


def ordered(cast, case, dose="30 mcg", treatment=PUSH, **more):
    order = {"id": new_id(), "treatment": treatment, "amount": amount(dose), "route": "IV", "reason": "no response"}
    assert cast.physician.post(f"cases/{case}/orders/", order | more).status_code == 201
    return order["id"]


def test_an_order_counts_once_it_is_read_back(cast, open_case):
    case = bedside(cast.crew, open_case, ADA)
    early = give(cast.crew, case, PUSH, "30 mcg", order=ordered(cast, case), given_at=ago(minutes=9))
    order = ordered(cast, case)
    said = {"treatment": PUSH, "route": "IV", "strength": amount("0.01 mg/mL"), "volume": amount("3 mL")}
    assert cast.crew.post(f"orders/{order}/readback/", said).json()["matches"] is True
    done = give(cast.crew, case, PUSH, "30 mcg", order=order)["check"]

    the(early["check"], "order_not_read_back", "needs_order")
    assert the(done, "above_most", "caution")["text"].startswith("ordered by ")
    assert done["verdict"] == "caution"


@pytest.mark.parametrize("strength", ["0.1 mg/mL", "1 mg/mL", "9.09 mcg/mL", "100 mcg/mL", "10 units/mL", "10 mg/mL"])
def test_another_strength_in_the_hand_is_a_mismatch(cast, open_case, strength):
    """3 mL of 10 mcg/mL are the 30 mcg that were ordered; 3 mL of any other strength are not."""
    order = ordered(cast, bedside(cast.crew, open_case, ADA))
    said = {"treatment": PUSH, "route": "IV", "strength": amount(strength), "volume": amount("3 mL")}
    answer = cast.crew.post(f"orders/{order}/readback/", said).json()

    assert (answer["matches"], answer["differences"]) == (False, ["amount"])


@pytest.mark.parametrize(
    ("treatment", "dose", "known"),
    [
        ("epinephrine-im", "0.15 mg", {"impression": "anaphylactic"}),
        ("dextrose", "5 g", {}),
        ("naloxone", "0.4 mg", {}),
    ],
)
def test_never_held_back_by_pressure_or_weight(cast, open_case, treatment, dose, known):
    case = bedside(cast.crew, open_case, "5 y ? kg", signs={"sbp": None, "dbp": None}, **known)

    assert check(cast.crew, case, treatment, dose)["verdict"] in ("within", "caution")
