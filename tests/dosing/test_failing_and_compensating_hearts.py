"""What weakens a failing heart, slows one that holds the pressure up, or meets a drug that is still on board.

Prescribing information, contraindications (from memory), unless a row says otherwise; that crackles stand for a heart
that fails now is chosen. Of each the case that must not pass, and neighbors that may.
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Dose
from tests.dosing.bedside import RULES, adult, ago, check, child, facts, given, told

HIGH = {"sbp": 190, "dbp": 115}
FAST = {"hr": 140, "rr": 20, "spo2": 88, "sbp": 190, "dbp": 115}
OVER, ORDER, CAUTION = "over_hard_limit", "needs_order", "caution"
BETA_BLOCKERS = {
    ("esmolol", None): (40, "mg"),
    ("esmolol-infusion", None): (50, "mcg/kg/min"),
    ("labetalol", "hypertension"): (20, "mg"),
    ("labetalol", "stroke"): (10, "mg"),
}
NITRATES = {"nitroglycerin-tongue": (0.4, "mg"), "nitroglycerin-infusion": (10, "mcg/min")}
LEVELS = ["", CAUTION, ORDER, OVER]


def high(**more):
    """Ada at 190/115 with a fast heart."""
    return facts(more.pop("patient", None), signs={**FAST, **more.pop("signs", {})}, **{**HIGH, **more})


def grave(words, treatment, dose, known, indication=None):
    """How grave the finding of these words is; empty where there is none."""
    found = check(treatment, *dose, known, indication=indication).findings
    return max((each.level for each in found if words in each.text), key=LEVELS.index, default="")


def other(name, minutes, route="PO"):
    return Dose(id=name, treatment="other", name=name, given_at=ago(minutes), route=route)


WEAKENS = {**BETA_BLOCKERS, ("diltiazem", None): (20, "mg")}


@pytest.mark.parametrize("treatment", WEAKENS, ids=str)
@pytest.mark.parametrize(
    ("lungs", "history", "level", "caution"),
    [
        ("crackles", ("heart_failure",), OVER, True),
        ("crackles", (), "doubtful", False),  # pneumonia, or pre-eclampsia
        ("clear", ("heart_failure",), "", True),
        ("clear", (), "", False),
        (None, (), "", False),
    ],
)
def test_nothing_weakens_a_heart_that_fails_now(treatment, lungs, history, level, caution):
    """Esmolol with crackles is barred whatever is on record; of labetalol and diltiazem a physician weighs it."""
    name, indication = treatment
    level = level if level != "doubtful" else OVER if name.startswith("esmolol") else ORDER
    known = high(patient=adult(history=history), signs={"lungs": lungs})

    assert grave("a heart that fails now", name, WEAKENS[treatment], known, indication) == level
    assert told(name, known, RULES, indication)["held"] == (level == OVER)
    words = "Heart failure or a beta blocker" if name == "diltiazem" else "only while it does not fail now"
    assert grave(words, name, WEAKENS[treatment], known, indication) == (CAUTION if caution else "")
    assert "a heart that fails now" in " ".join(told(name, known, RULES, indication)["cautions"])


@pytest.mark.parametrize("treatment", WEAKENS, ids=str)
def test_crackles_in_cardiogenic_shock_are_a_failing_heart_without_a_history(treatment):
    known = high(impression="cardiogenic", signs={"lungs": "crackles"})

    assert grave("cardiogenic shock", treatment[0], WEAKENS[treatment], known, treatment[1]) == OVER


@pytest.mark.parametrize(
    ("impression", "told_so"),
    [*[(each, CAUTION) for each in ("hemorrhagic", "septic", "obstructive")], ("undifferentiated", "")],
)
@pytest.mark.parametrize("treatment", WEAKENS, ids=str)
def test_a_heart_that_is_fast_for_a_reason_is_told(treatment, impression, told_so):
    """Common practice, no source: the cause is treated, not the rate."""
    assert (
        grave("holds the pressure up", treatment[0], WEAKENS[treatment], high(impression=impression), treatment[1])
        == told_so
    )


@pytest.mark.parametrize("treatment", NITRATES)
@pytest.mark.parametrize(
    ("impression", "level"),
    [
        *[("obstructive", OVER), ("hemorrhagic", CAUTION), ("septic", CAUTION)],
        *[("cardiogenic", ""), ("undifferentiated", "")],
    ],
)
def test_nitroglycerin_takes_no_filling_from_an_obstructed_or_empty_heart(treatment, impression, level):
    known = high(impression=impression)
    found = check(treatment, *NITRATES[treatment], known).findings
    against = [each.level for each in found if "filling" in each.text or "in this shock" in each.text]

    assert max(against, key=LEVELS.index, default="") == level
    assert told(treatment, known)["held"] == (level == OVER)


# Sildenafil and vardenafil 24 h, tadalafil 48 h, by mouth too.
@pytest.mark.parametrize("treatment", NITRATES)
@pytest.mark.parametrize(
    ("before", "level"),
    [
        (other("sildenafil 50 mg", 120), OVER),
        (other("Viagra", 24 * 60), OVER),
        (other("Levitra", 23 * 60), OVER),
        (other("sildenafil 20 mg", 5, route="IV"), OVER),
        (other("tadalafil 20 mg", 40 * 60), OVER),
        (other("sildenafil 50 mg", 25 * 60), ""),
        (other("Cialis", 49 * 60), ""),
        (other("aspirin 324 mg", 10), ""),
    ],
)
def test_no_nitroglycerin_soon_after_sildenafil_and_its_like(treatment, before, level):
    known = high(doses=(before,))

    assert grave("fall to nothing", treatment, NITRATES[treatment], known) == level
    assert told(treatment, known)["held"] == (level == OVER)


@pytest.mark.parametrize(("injuries", "level"), [(("head",), ORDER), (("limb",), ""), ((), "")])
@pytest.mark.parametrize("treatment", NITRATES)
def test_nitroglycerin_and_a_head_injury_are_told(treatment, injuries, level):
    assert grave("in the skull", treatment, NITRATES[treatment], high(patient=adult(injuries=injuries))) == level


def of_rules(treatment, minutes, value, unit, **more):
    return given(treatment, minutes, value, unit, route="IV", **more)


RUNS = of_rules("esmolol-infusion", 60, 50, "mcg/kg/min", status="running")


@pytest.mark.parametrize(
    ("treatment", "dose", "before", "level"),
    [
        ("diltiazem", (20, "mg"), other("verapamil 5 mg", 10, route="IV"), OVER),
        ("diltiazem", (20, "mg"), other("verapamil 80 mg", 10), ""),
        ("diltiazem", (20, "mg"), other("verapamil", 181, route="IV"), ""),
        ("diltiazem", (20, "mg"), other("esmolol 40 mg", 10, route="IV"), OVER),  # told by its name alone
        ("diltiazem", (25, "mg"), of_rules("diltiazem", 16, 20, "mg"), ""),
        ("labetalol", (20, "mg"), RUNS, ORDER),
        ("labetalol", (20, "mg"), other("metoprolol 5 mg", 10, route="IV"), ORDER),
        ("labetalol", (20, "mg"), other("metoprolol 50 mg", 10), ""),
        ("labetalol", (40, "mg"), of_rules("labetalol", 11, 20, "mg"), ""),
        ("esmolol", (40, "mg"), of_rules("labetalol", 30, 20, "mg"), ORDER),
        ("esmolol-infusion", (50, "mcg/kg/min"), of_rules("esmolol", 5, 40, "mg"), ""),
    ],
)
def test_two_that_slow_the_heart_do_not_meet_unheard(treatment, dose, before, level):
    """The three hours are chosen."""
    words = "verapamil and diltiazem" if before.name and "verapamil" in before.name else "two beta blockers"
    words = "with a beta blocker on board" if level == OVER and words == "two beta blockers" else words

    assert grave(words, treatment, dose, high(doses=(before,))) == level


# Adult life support (from memory); the two days are chosen.
@pytest.mark.parametrize(
    ("before", "level"),
    [
        (other("dipyridamole 75 mg", 120), ORDER),
        (other("Persantine", 47 * 60), ORDER),
        (other("carbamazepine 200 mg", 600), ORDER),
        (other("Tegretol", 600), ORDER),
        (other("dipyridamole", 5, route="IV"), ORDER),
        (other("carbamazepine", 49 * 60), ""),
        (other("lamotrigine", 120), ""),
        (other("aspirin 324 mg", 120), ""),
    ],
)
def test_adenosine_with_what_makes_it_stronger_begins_with_3_mg(before, level):
    known = facts(signs={"hr": 190, "rhythm": "SVT"}, **HIGH, doses=(before,))

    assert grave("begin with 3 mg", "adenosine", (6, "mg"), known) == level
    assert check("adenosine", 3, "mg", known).verdict == ORDER


# Phenylephrine narrows the vessels, and the heart slows by reflex (label, read).
PHENYLEPHRINE = {
    "phenylephrine-push-dose": ((100, "mcg"), {"stock": Amount(100, "mcg/mL")}),
    "phenylephrine-infusion": ((1, "mcg/kg/min"), {"concentration": Amount(100, "mcg/mL"), "new_rate": True}),
}


@pytest.mark.parametrize("treatment", PHENYLEPHRINE)
@pytest.mark.parametrize(
    ("signs", "patient", "impression", "verdict"),
    [
        ({"hr": 38, "rhythm": "complete heart block"}, {}, "septic", ORDER),
        ({"hr": 59}, {}, "septic", ORDER),
        ({"hr": 75, "rhythm": "Mobitz II"}, {}, "septic", ORDER),
        ({"hr": 90}, {}, "cardiogenic", ORDER),
        ({"hr": 120}, {}, "hemorrhagic", ORDER),
        *(
            ({"hr": 120}, {"bleeding_cause": each}, "undifferentiated", ORDER)
            for each in ("trauma", "postpartum", "gut")
        ),
        ({"hr": 60, "rhythm": "sinus"}, {}, "septic", "within"),
        ({"hr": 110}, {}, "neurogenic", "within"),
        ({"hr": 110}, {}, "undifferentiated", "within"),
    ],
)
def test_phenylephrine_for_a_slow_heart_a_failing_one_or_a_bleeding_patient_needs_an_order(
    treatment, signs, patient, impression, verdict
):
    dose, how = PHENYLEPHRINE[treatment]
    fluid = facts().doses
    runs = of_rules(
        "phenylephrine-infusion", 9, 0.6, "mcg/kg/min", status="running", concentration=Amount(100, "mcg/mL")
    )
    known = facts(
        adult(**patient), signs=signs, impression=impression, doses=(*fluid, runs) if "new_rate" in how else fluid
    )
    checked = check(treatment, *dose, known, **how)

    assert checked.verdict == verdict, checked.findings
    if "new_rate" not in how:
        assert told(treatment, known)["by_order"] == (verdict == ORDER)


# Dopamine label, contraindications (from memory): uncorrected tachyarrhythmias. Less of it is never held back.
@pytest.mark.parametrize(
    ("treatment", "rhythm", "rate", "start", "raised", "lowered"),
    [
        ("dopamine-infusion", "VT", 185, OVER, OVER, CAUTION),
        ("dopamine-infusion", "AF RVR", 170, ORDER, ORDER, CAUTION),
        ("dopamine-infusion", "sinus", 120, "", "", ""),
        ("dopamine-infusion", "SVT", 149, "", "", ""),
        ("dobutamine-infusion", "VT", 185, CAUTION, CAUTION, CAUTION),
        ("dobutamine-infusion", "sinus", 120, "", "", ""),
        ("epinephrine-infusion", "VT", 185, CAUTION, CAUTION, CAUTION),
        ("epinephrine-infusion", "AF RVR", 170, "", "", ""),
    ],
)
def test_what_drives_the_heart_is_not_begun_or_raised_unheard_in_a_fast_rhythm(
    treatment, rhythm, rate, start, raised, lowered
):
    low, usual, high = {"dop": (2, 5, 10), "dob": (2.5, 5, 10), "epi": (0.05, 0.1, 0.2)}[treatment[:3]]
    signs = {"rhythm": rhythm, "hr": rate, "sbp": 80, "dbp": 45}
    runs = of_rules(treatment, 9, usual, "mcg/kg/min", status="running")
    failing = {"signs": signs, "impression": "cardiogenic", "sbp": 80, "dbp": 45}
    for value, level, more, new in (
        (usual, start, (), False),
        (high, raised, (runs,), True),
        (low, lowered, (runs,), True),
    ):
        known = facts(doses=(*facts().doses, *more), **failing)
        found = check(treatment, value, "mcg/kg/min", known, new_rate=new, indication=None).findings
        of_it = (each.level for each in found if "fast rhythm" in each.text or "ventricular tachycardia" in each.text)

        assert max(of_it, key=LEVELS.index, default="") == level


# Life support (from memory): who is in shock from a fast rhythm is cardioverted.
@pytest.mark.parametrize(
    ("treatment", "value", "strength"), [("epinephrine-push-dose", 10, 10), ("phenylephrine-push-dose", 100, 100)]
)
@pytest.mark.parametrize(
    ("signs", "impression", "level"),
    [
        ({"rhythm": "VT", "hr": 140}, "cardiogenic", CAUTION),
        ({"rhythm": "VT", "hr": 185}, "septic", CAUTION),
        ({"rhythm": "AF RVR", "hr": 150}, "undifferentiated", CAUTION),
        ({"rhythm": "sinus", "hr": 149}, "septic", ""),
        ({"rhythm": "VT", "hr": 185}, "anaphylactic", ""),
        ({"rhythm": "sinus", "hr": 160}, "anaphylactic", ""),
    ],
)
def test_a_push_in_a_fast_rhythm_names_cardioversion_first(treatment, value, strength, signs, impression, level):
    known = facts(signs=signs, impression=impression)
    found = check(treatment, value, "mcg", known, stock=Amount(strength, "mcg/mL")).findings
    of_it = {each.level for each in found if "cardioversion first" in each.text}

    assert of_it == ({level} if level else set())


# A transplanted heart has no vagus nerve (case series); the glands have theirs.
@pytest.mark.parametrize(
    ("history", "indication", "verdict"),
    [
        (("transplant",), "bradycardia", ORDER),
        (("pacemaker",), "bradycardia", CAUTION),
        ((), "bradycardia", "within"),
        (("transplant",), "organophosphate", "within"),
    ],
)
def test_atropine_for_a_transplanted_heart_needs_an_order(history, indication, verdict):
    dose = {"bradycardia": (1, "mg"), "organophosphate": (2, "mg")}[indication]
    known = facts(adult(history=history), signs={"hr": 38})

    checked = check("atropine", *dose, known, indication=indication, stock=Amount(0.1, "mg/mL"))
    assert checked.verdict == verdict


@pytest.mark.parametrize(
    ("before", "words", "level"),
    [
        (other("digoxin 0.25 mg", 600), "with digoxin", CAUTION),
        (other("digoxin 0.25 mg", 49 * 60), "with digoxin", ""),
        (of_rules("sodium-bicarbonate", 5, 50, "mEq"), "they precipitate", CAUTION),
        (of_rules("sodium-bicarbonate", 16, 50, "mEq"), "they precipitate", ""),
        (other("aspirin", 5), "with digoxin", ""),
    ],
)
@pytest.mark.parametrize(
    ("treatment", "dose"), [("calcium-chloride", (1000, "mg")), ("calcium-gluconate", (3000, "mg"))]
)
def test_calcium_after_digoxin_or_bicarbonate_is_told(treatment, dose, before, words, level):
    assert grave(words, treatment, dose, facts(doses=(before,)), "hyperkalemia") == level


@pytest.mark.parametrize("pressure", [None, (120, 80)])
@pytest.mark.parametrize(
    ("treatment", "dose"),
    [("diltiazem", (20, "mg")), ("esmolol", (40, "mg")), ("esmolol-infusion", (50, "mcg/kg/min"))],
)
def test_what_slows_the_heart_wants_a_pressure_first(treatment, dose, pressure):
    """Never taken: an order still; low: over the hard limit, whatever the MAP."""
    sbp, dbp = pressure or (None, None)
    known = facts(sbp=sbp, dbp=dbp, signs={"hr": 140, "sbp": sbp})

    assert grave("systolic not measured", treatment, dose, known) == ("" if pressure else ORDER)
    assert grave("pressure is low", treatment, dose, facts(sbp=84, dbp=60, signs={"hr": 140, "sbp": 84})) == OVER


@pytest.mark.parametrize(
    ("patient", "level"),
    [(child(2, 12), OVER), (child(364, 9, "days"), ORDER), (child(3, 3.5, "days"), ORDER)],
)
def test_alprostadil_is_for_a_ductus_that_is_still_there(patient, level):
    """The year is chosen; the ductus is closed for good after a few weeks (from memory)."""
    known = facts(patient, sbp=80, dbp=50)
    checked = check("alprostadil-infusion", 0.05, "mcg/kg/min", known, concentration=Amount(10, "mcg/mL"))

    assert (checked.verdict == OVER) == (level == OVER)
    assert told("alprostadil-infusion", known)["held"] == (level == OVER)


def test_what_is_still_on_board_is_told_by_its_time_and_from_yesterday_by_how_long_ago():
    verapamil, sildenafil = other("verapamil", 12, route="IV"), other("sildenafil", 20 * 60)
    found = [
        each.text
        for treatment, dose in (("diltiazem", (20, "mg")), ("nitroglycerin-tongue", (0.4, "mg")))
        for each in check(treatment, *dose, high(doses=(sildenafil, verapamil))).findings
        if each.code == "contraindicated"
    ]

    assert [each.partition(": ")[0] for each in found] == ["verapamil at 09:48 UTC", "sildenafil 20 h before"]
