"""What slows a heart, or takes an escape rhythm away: not with a heart block, a slow heart, or the wrong rhythm.

Prescribing information, contraindications (from memory): second- or third-degree AV block or a sick sinus node without
a pacemaker, severe bradycardia; the 50 a minute is chosen. Torsades and irregular wide rhythms: adult life support
(from memory).
"""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Latest
from dosing.ground.phases import PhaseChange
from dosing.patient.rhythms import named
from dosing.rules.words import RHYTHMS
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, child, facts, given, told

ARREST = (PhaseChange("arrest", "arrest", ago(10)),)
FINE = {"sbp": 190, "dbp": 115}
STRENGTH = {"amiodarone": Amount(1.5, "mg/mL"), "lidocaine": Amount(20, "mg/mL")}
SLOWS = {
    ("amiodarone-infusion", None): (1, "mg/min"),
    ("amiodarone", "tachycardia"): (150, "mg"),
    ("lidocaine", "tachycardia"): (80, "mg"),
    ("adenosine", None): (6, "mg"),
    ("diltiazem", None): (20, "mg"),
    ("labetalol", "hypertension"): (20, "mg"),
    ("labetalol", "stroke"): (10, "mg"),
    ("esmolol", None): (40, "mg"),
    ("esmolol-infusion", None): (50, "mcg/kg/min"),
}


def barred(treatment, indication, dose, known, rules=RULES):
    """What stands over the hard limit, in words."""
    how = {"indication": indication, "stock": STRENGTH.get(treatment), "rules": rules}
    found = check(treatment, *dose, known, **how).findings
    return [each.text for each in found if each.level == "over_hard_limit"]


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("treatment", SLOWS, ids=str)
@pytest.mark.parametrize(
    ("rate", "rhythm", "history", "held_back"),
    [
        (38, "third-degree AV block", (), True),  # an escape rhythm
        (130, "complete heart block", (), True),
        (38, None, (), True),
        (49, "sinus", (), True),
        (50, "sinus, no AV block", (), False),
        (130, "1st degree AV block", (), False),
        (70, "paced, complete heart block", ("pacemaker",), False),
        (38, "paced", ("pacemaker",), True),
        (None, None, (), False),
    ],
)
def test_no_slow_heart_or_heart_block_is_slowed_further(treatment, rate, rhythm, history, held_back, rules):
    known = facts(adult(history=history), signs={"hr": rate, "rhythm": rhythm, "sbp": 190}, **FINE)

    assert bool(barred(*treatment, SLOWS[treatment], known, rules)) == held_back
    row = told(treatment[0], known, rules, treatment[1])
    assert row["held"] == held_back
    assert (row["usual"] == []) == held_back, "what must not be given is offered with no amount"


def test_a_rhythm_is_told_with_its_time_and_a_newer_one_opens_the_dose_again():
    known = facts(signs={"hr": 130, "rhythm": None}, **FINE)
    blocked = {"rhythm": Latest("Mobitz II", ago(125))}
    sinus = {"rhythm": Latest("sinus tachycardia", ago(4))}

    told_so = barred("esmolol", None, (40, "mg"), with_signs(known, blocked))
    assert told_so == ["heart block: esmolol can stop the heart (rhythm at 07:55 UTC: Mobitz II)"]
    assert not barred("esmolol", None, (40, "mg"), with_signs(known, sinus))


def with_signs(known, signs):
    known.latest.update(signs)
    return known


@pytest.mark.parametrize(
    ("rate", "pressure", "impression", "words", "level"),
    [
        (38, (72, 40), "cardiogenic", "slow heart", "over_hard_limit"),  # without a rhythm on record
        (38, (72, 40), "cardiogenic", "cardiogenic shock", "needs_order"),
        (130, (120, 80), "cardiogenic", "cardiogenic shock", "needs_order"),
        (130, (120, 80), "undifferentiated", "cardiogenic shock", None),
    ],
)
@pytest.mark.parametrize("treatment", [("amiodarone-infusion", None), ("amiodarone", "tachycardia")], ids=str)
def test_amiodarone_in_cardiogenic_shock_is_for_a_physician_to_weigh(
    treatment, rate, pressure, impression, words, level
):
    """The label bars it (from memory); that a physician may order it all the same is chosen."""
    known = facts(sbp=pressure[0], dbp=pressure[1], signs={"hr": rate}, impression=impression)
    found = check(treatment[0], *SLOWS[treatment], known, indication=treatment[1]).findings

    assert next((each.level for each in found if words in each.text), None) == level


@pytest.mark.parametrize("cardiogenic", [True, False])
def test_an_arrest_takes_amiodarone_whatever_shock_it_was(cardiogenic):
    impression = "cardiogenic" if cardiogenic else "undifferentiated"
    known = facts(signs={"hr": 38, "rhythm": "VF"}, phases=ARREST, impression=impression)

    assert not barred("amiodarone", "arrest", (300, "mg"), known)


@pytest.mark.parametrize(
    ("treatment", "indication", "dose", "rhythm", "held_back"),
    [
        *[
            ("amiodarone", "tachycardia", (150, "mg"), rhythm, True)
            for rhythm in ("torsades", "torsade de pointes, 220")
        ],
        ("amiodarone", "tachycardia", (150, "mg"), "polymorphic VT", False),
        ("amiodarone", "tachycardia", (150, "mg"), "no torsades, VT", False),
        ("amiodarone", "arrest", (300, "mg"), "VF", False),
        ("amiodarone-infusion", None, (1, "mg/min"), "TdP", True),
        ("adenosine", None, (6, "mg"), "torsades", True),
        ("adenosine", None, (6, "mg"), "polymorphic VT", True),
        ("adenosine", None, (6, "mg"), "irregular, wide", True),
        ("adenosine", None, (6, "mg"), "AF with WPW", True),
        ("adenosine", None, (6, "mg"), "SVT", False),
        ("adenosine", None, (6, "mg"), "regular wide complex", False),
        ("diltiazem", None, (20, "mg"), "pre-excited AF", True),
        ("diltiazem", None, (20, "mg"), "AF", False),
        ("lidocaine", "tachycardia", (80, "mg"), "torsades", False),
        ("lidocaine", "tachycardia", (80, "mg"), "complete block, ventricular escape 32", True),  # with a pulse of 32
        ("lidocaine", "tachycardia", (80, "mg"), "VT", False),
        ("lidocaine", "arrest", (80, "mg"), "complete heart block", False),
        ("magnesium-sulfate", "torsades", (2, "g"), "torsades", False),
    ],
)
def test_a_drug_is_for_its_rhythm(treatment, indication, dose, rhythm, held_back):
    phases = ARREST if indication == "arrest" else ()
    known = facts(signs={"hr": 32 if "32" in rhythm else 180, "rhythm": rhythm}, phases=phases, sbp=120, dbp=80)
    stock = {"magnesium-sulfate": Amount(40, "mg/mL")}.get(treatment, STRENGTH.get(treatment))
    found = check(treatment, *dose, known, indication=indication, stock=stock).findings

    assert any(each.level == "over_hard_limit" for each in found) == held_back


@pytest.mark.parametrize(
    ("rhythm", "verdict"), [("torsades", "needs_order"), ("VF", "within"), ("VT, no pulse", "within")]
)
def test_amiodarone_in_an_arrest_with_torsades_is_for_a_physician_to_order(rhythm, verdict):
    known = facts(signs={"rhythm": rhythm}, phases=ARREST, sbp=None)
    checked = check("amiodarone", 300, "mg", known, indication="arrest", stock=Amount(50, "mg/mL"))

    assert checked.verdict == verdict


@pytest.mark.parametrize(
    ("rate", "verdict"),
    [(25, "caution"), (100, "over_hard_limit")],
)
def test_less_of_what_runs_is_never_held_back(rate, verdict):
    running = given("esmolol-infusion", 30, 50, "mcg/kg/min", status="running", weight=adult().weight)
    known = facts(signs={"hr": 44, "sbp": 130, "rhythm": "complete heart block"}, sbp=130, dbp=80, doses=(running,))
    how = {"new_rate": True, "concentration": Amount(10, "mg/mL")}
    checked = check("esmolol-infusion", rate, "mcg/kg/min", known, **how)

    assert checked.verdict == verdict
    assert any("slow heart" in each.text for each in checked.findings), "it is told all the same"


@pytest.mark.parametrize(("rhythm", "told_so"), [("AF 170", True), ("a-fib with RVR", True), ("SVT", False)])
def test_adenosine_for_atrial_fibrillation_is_told(rhythm, told_so):
    found = check("adenosine", 6, "mg", facts(signs={"hr": 170, "rhythm": rhythm}, **FINE))

    assert any("does not end atrial fibrillation" in each.text for each in found.findings) == told_so
    assert found.verdict == "needs_order"


PRE_EXCITED = (
    *("A-fib with pre-excitation", "AF, preexcitation", "Wolff-Parkinson-White afib", "AF RVR, known WPW"),
    *("atrial fibrillation, accessory pathway", "FBI tachycardia", "delta waves, irregular", "AF with WPW"),
)
WIDE = ("wide complex tachycardia", "WCT", "regular wide complex tachycardia", "broad complex tach", "FBI")
LONG_QT = ("VT, QTc 560", "sinus, long QT", "QT/QTc 400/520")
TORSADES = ("PMVT QTc 600", "torsardes", "twisting of the points")
AMIODARONE = [("amiodarone", "tachycardia"), ("amiodarone-infusion", None)]
ESMOLOL = [("esmolol", None), ("esmolol-infusion", None)]
LABETALOL = [("labetalol", "hypertension"), ("labetalol", "stroke")]
DILTIAZEM, ADENOSINE = [("diltiazem", None)], [("adenosine", None)]
OVER, ORDER = "over_hard_limit", "needs_order"


# AF guideline of ACC/AHA 2023 (pre-excitation), prescribing information, adult life support: all from memory.
@pytest.mark.parametrize(
    ("treatments", "rhythms", "words", "level"),
    [
        (DILTIAZEM, (*PRE_EXCITED, "WPW 220", "SVT, known WPW"), "accessory pathway", OVER),
        ([*AMIODARONE, *ESMOLOL], PRE_EXCITED, "with an accessory pathway", OVER),
        ([*AMIODARONE, *ESMOLOL], ("SVT, known WPW",), "an accessory pathway: ", ORDER),
        (LABETALOL, (*PRE_EXCITED, "SVT, known WPW"), "accessory pathway", ORDER),
        (ADENOSINE, (*PRE_EXCITED, "irreg WCT", "AF, wide QRS"), "irregular and wide", OVER),
        (DILTIAZEM, WIDE, "wide: diltiazem can stop", OVER),
        (DILTIAZEM, ("polymorphic tachycardia", "torsardes"), "ventricular tachycardia", OVER),
        (DILTIAZEM, ("AF, known WPW",), "ventricular tachycardia", ""),
        (ESMOLOL, (*WIDE, "VT"), "wide or ventricular", ORDER),
        (AMIODARONE, LONG_QT, "long QT: magnesium", ORDER),
        (AMIODARONE, TORSADES, "torsades", OVER),
        # neighbors
        (DILTIAZEM, ("AF, no delta waves", "SVT, no WPW", "AF, RBBB"), "accessory pathway", ""),
        (DILTIAZEM, ("narrow complex tachycardia", "AF with LBBB", "AF, occasional wide PVCs"), "wide", ""),
        ([*AMIODARONE, *ESMOLOL], ("SVT, known WPW", "AF, no history of WPW"), "with an accessory pathway", ""),
        ([*AMIODARONE, *ESMOLOL, *LABETALOL], ("AF", "AF without delta waves"), "accessory pathway", ""),
        (ADENOSINE, ("regular wide complex", "SVT, known WPW", "irregular, narrow complex"), "irregular and wide", ""),
        (ESMOLOL, ("AF with RVR", "narrow complex, not wide"), "wide or ventricular", ""),
        (AMIODARONE, ("VT, QTc 440", "VT, QTc <500", "VT, QTc not prolonged", "VT, no long QT"), "long QT", ""),
        (AMIODARONE, ("polymorphic VT", "VT with AV dissociation"), "torsades", ""),
    ],
)
def test_a_rhythm_is_read_however_a_crew_writes_it(treatments, rhythms, words, level):
    for treatment, rhythm in ((each, rhythm) for each in treatments for rhythm in rhythms):
        known = facts(signs={"hr": 180, "rhythm": rhythm, "sbp": 190}, **FINE)
        how = {"indication": treatment[1], "stock": STRENGTH.get(treatment[0])}
        found = check(treatment[0], *SLOWS[treatment], known, **how).findings

        assert {each.level for each in found if words in each.text} == ({level} if level else set()), (
            treatment,
            rhythm,
        )
        if level == OVER:
            assert told(treatment[0], known, RULES, treatment[1])["held"]


def test_a_long_qt_in_an_arrest_is_told_and_holds_nothing_back():
    known = facts(signs={"rhythm": "VF, long QT"}, phases=ARREST, sbp=None)
    checked = check("amiodarone", 300, "mg", known, indication="arrest", stock=Amount(50, "mg/mL"))

    assert checked.verdict == "caution"
    assert any("long QT" in each.text for each in checked.findings)


@pytest.mark.parametrize(
    ("rhythm", "kinds"),
    [
        *[
            (text, {"heart_block"})
            for text in ("3rd-degree AV block, escape 32", "CHB", "Mobitz II", "3° AVB", "2:1 AV block")
        ],
        *[
            (text, {"heart_block"})
            for text in ("Wenckebach", "AV block", "sinus pauses", "no pacing, complete heart block")
        ],
        *[
            (text, {"heart_block"})
            for text in ("1st degree AV block, now complete heart block", "idioventricular 32", "AV block I-II")
        ],
        *[
            (text, set())
            for text in ("no heart block", "no evidence of AV block", "1° AVB", "AV block, 1st degree", "RBBB")
        ],
        *[
            (text, set())
            for text in ("left bundle branch block", "flutter with 2:1 AV block", "not in complete heart block")
        ],
        ("torsades", {"torsades", "irregular_wide", "ventricular_tachycardia"}),
        ("polymorphic VT", {"irregular_wide", "ventricular_tachycardia"}),
        ("AF with WPW", {"irregular_wide", "atrial_fibrillation", "pre_excitation", "preexcited_fibrillation"}),
        ("wide, regular", {"wide"}),
        ("SVT", set()),
        ("", set()),
    ],
)
def test_what_a_crew_writes_is_read_as_these_rhythms(rhythm, kinds):
    """Wordings are common practice, no source; what is doubtful counts as the rhythm."""
    assert {kind for kind in RHYTHMS if named(rhythm, kind)} == kinds


# Adult life support and the label (read): adenosine 6 mg, then 12; lidocaine 1-1.5 mg/kg, then half of it.
@pytest.mark.parametrize(
    ("treatment", "dose", "patient", "before", "told_so"),
    [
        ("adenosine", (12, "mg"), adult(), (), True),
        ("adenosine", (6, "mg"), adult(), (), False),
        ("adenosine", (12, "mg"), adult(), ((6, "mg"),), False),
        ("adenosine", (6, "mg"), adult(40), (), True),  # 0.1 mg/kg are 4 mg
        ("adenosine", (3.6, "mg"), child(), (), True),  # 0.2 mg/kg of 18 kg
        ("adenosine", (3.6, "mg"), child(), ((1.8, "mg"),), False),
        ("lidocaine", (120, "mg"), adult(), (), False),  # 1.5 mg/kg of 80 kg
        ("lidocaine", (120, "mg"), adult(), ((120, "mg"),), True),
        ("lidocaine", (60, "mg"), adult(), ((120, "mg"),), False),
        ("lidocaine", (100, "mg"), adult(None), ((100, "mg"),), True),
        ("lidocaine", (50, "mg"), adult(None), ((100, "mg"),), False),
    ],
)
def test_the_first_dose_and_the_next_have_their_own_usual_amounts(treatment, dose, patient, before, told_so):
    doses = tuple(given(treatment, 10, *each, route="IV") for each in before)
    checked = check(
        treatment, *dose, facts(patient, signs={"hr": 190}, doses=doses, **FINE), stock=STRENGTH.get(treatment)
    )

    assert any(each.code == "above_guide" for each in checked.findings) == told_so


# Life support, children: an infant's heart under 80 to 100 is slow (from memory); the 80 is chosen.
@pytest.mark.parametrize(
    ("age", "rate", "held_back"),
    [((3, "months"), 65, True), ((3, "months"), 79, True), ((3, "months"), 80, False), ((2, "years"), 65, False)],
)
@pytest.mark.parametrize(
    "treatment", [("adenosine", None), ("amiodarone", "tachycardia"), ("amiodarone-infusion", None)]
)
def test_an_infant_is_slow_under_80(treatment, age, rate, held_back):
    dose = {"amiodarone-infusion": (5, "mcg/kg/min"), "adenosine": (0.5, "mg")}.get(treatment[0], (25, "mg"))
    known = facts(child(age[0], 6, age[1]), signs={"hr": rate}, **FINE)

    assert any("slow heart" in each for each in barred(*treatment, dose, known)) == held_back


# That a pulse of 100 is never slow is chosen; a pharmacist's case is the ventricular tachycardia of 185.
@pytest.mark.parametrize(
    ("rate", "rhythm", "indication", "level"),
    [
        (185, "VT", "bradycardia", ORDER),
        (100, "sinus", "bradycardia", ORDER),
        (80, "sinus", "bradycardia", "caution"),
        (45, "sinus", "bradycardia", ""),
        (None, None, "bradycardia", "caution"),
        (185, "sinus", "organophosphate", ""),
    ],
)
def test_atropine_for_a_fast_heart_needs_an_order(rate, rhythm, indication, level):
    known = facts(signs={"hr": rate, "rhythm": rhythm}, **FINE)
    found = check("atropine", {"bradycardia": 1}.get(indication, 2), "mg", known, indication=indication).findings

    assert [each.level for each in found if each.code == "signs_missing"] == ([level] if level else [])


# Amiodarone label: a low pressure is its most common reaction; slow it or stop it.
@pytest.mark.parametrize(
    ("sbp", "rate", "new_rate", "level"),
    [(70, 1, False, ORDER), (85, 1, True, ORDER), (85, 0.25, True, "caution"), (90, 1, True, ""), (120, 1, False, "")],
)
def test_an_amiodarone_infusion_at_a_low_pressure_needs_an_order(sbp, rate, new_rate, level):
    bag = Amount(1.8, "mg/mL")
    runs = given("amiodarone-infusion", 30, 0.5, "mg/min", route="IV", status="running", concentration=bag)
    known = facts(signs={"hr": 90, "sbp": sbp}, sbp=sbp, dbp=45, doses=(runs,) if new_rate else ())
    how = {"new_rate": new_rate, "concentration": bag}
    found = check("amiodarone-infusion", rate, "mg/min", known, **how).findings

    assert [each.level for each in found if "pressure is low" in each.text] == ([level] if level else [])
