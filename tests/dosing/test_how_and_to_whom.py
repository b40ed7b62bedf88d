"""How a dose is given, and to whom: slowly, awake, whole, at what pressure; each danger beside what may be given."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dosing.check.bands import DoseLimits
from dosing.check.case import Question, bedside
from dosing.ground import units
from dosing.ground.airways import Airway
from dosing.ground.facts import Age, Amount, Latest, Patient, Reading, Weight
from dosing.ground.phases import PhaseChange
from dosing.rules.treatment import routes_alike
from dosing.rules.words import IMPRESSIONS
from dosing.tell.guidance import guidance
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, ago, check, child, codes, facts, given, told

FINE = {"sbp": 120, "dbp": 80}
BREATHES = {"rr": 16, "spo2": 97}
ARREST = (PhaseChange(id="phase", phase="arrest", at=ago(5)),)


def signs_missing(checked):
    return [each.text for each in checked.findings if each.code == "signs_missing"]


# ---- in what time


@pytest.mark.parametrize(
    ("treatment", "dose", "how", "shortest"),
    [
        # CRASH-2: 1 g over 10 min (read); BC ambulance handbook: magnesium 15 min, in arrest 1 min (read)
        ("tranexamic-acid", (1, "g"), {}, 10),
        ("tranexamic-acid", (1, "g"), {"over_min": 10}, None),
        ("magnesium-sulfate", (2, "g"), {"indication": "torsades", "stock": Amount(40, "mg/mL")}, 5),
        ("magnesium-sulfate", (5, "g"), {"route": "IM", "stock": Amount(500, "mg/mL")}, None),
        ("magnesium-sulfate", (4, "g"), {"route": "IV", "stock": Amount(40, "mg/mL")}, 15),
        ("ceftriaxone", (1, "g"), {"route": "IM", "stock": Amount(350, "mg/mL")}, None),
        ("calcium-chloride", (1, "g"), {}, 5),
        ("fentanyl", (50, "mcg"), {}, None),
    ],
)
def test_the_least_time_is_told_where_none_was_stated(treatment, dose, how, shortest):
    give = check(treatment, *dose, facts(**FINE), **how).give

    assert give.as_dict()["shortest_min"] == shortest
    assert (f"over at least {shortest} min" in give.shown) == (shortest is not None)


@pytest.mark.parametrize(
    ("treatment", "indication", "dose", "with_a_pulse", "in_arrest"),
    [
        ("calcium-chloride", "blood", (1, "g"), 5, None),  # life support: pushed in arrest (from memory)
        ("calcium-gluconate", "hyperkalemia", (3, "g"), 2, None),
        ("sodium-bicarbonate", "hyperkalemia", (50, "mEq"), 5, None),
        ("magnesium-sulfate", "torsades", (2, "g"), 5, 1),
    ],
)
def test_in_arrest_a_push_is_right_and_with_a_pulse_it_is_slow(treatment, indication, dose, with_a_pulse, in_arrest):
    for phases, shortest in (((), with_a_pulse), (ARREST, in_arrest)):
        known = facts(phases=phases, **FINE)
        how = {"indication": indication}
        entry = told(treatment, known, indication=indication)

        assert check(treatment, *dose, known, **how).give.shortest_min == shortest
        assert entry["shortest"] == (shortest and {"value": shortest, "unit": "min"})
        assert (entry["recipe"][-1] == f"Give over at least {shortest} min") == (shortest is not None)
        told_too_fast = "too_fast" in codes(check(treatment, *dose, known, over_min=0.5, **how))
        assert told_too_fast == (shortest is not None)


def test_what_goes_into_a_muscle_has_no_time():
    entry = told("ceftriaxone", facts(**FINE), route="IM")

    assert entry["shortest"] is None
    assert not any("over at least" in step for step in entry["recipe"])


# ---- what is offered first

PEOPLE = [adult(), adult(None), adult(50), child(), child(0.5, 7), child(10, 3.4, "days"), child(12, 45)]


def test_what_is_above_the_guide_is_offered_after_all_that_is_not():
    seen = 0
    for person in PEOPLE:
        for slug, known in RULES.given_for.items():
            for treatment, routes in ((each, routes) for each in known for routes in routes_alike(each)):
                entry = told(slug, facts(person, **FINE), indication=treatment.indication, route=routes[0])
                guide = entry["guide"] and units.quantity(Amount(**entry["guide"]))
                above = [
                    guide is not None and units.quantity(Amount(**each["amount"])) > guide for each in entry["usual"]
                ]
                assert [each["above_guide"] for each in entry["usual"]] == above == sorted(above), slug
                seen += any(above)
    assert seen > 0


# ---- alertness

CALMS = {"fentanyl": ("pain", 60, "mcg"), "midazolam": ("sedation", 1, "mg"), "ketamine": ("pain", 10, "mg")}
TUBE = Airway(id="tube", at=ago(3), site="Tube", outcome="done")


def of_alertness(treatment, signs, **more):
    indication, value, unit = CALMS[treatment]
    known = facts(signs=BREATHES | {"avpu": None} | signs, **FINE, **more)
    found = check(treatment, value, unit, known, indication=indication)
    return [each for each in found.findings if "awake" in each.text or "alertness" in each.text], known


@pytest.mark.parametrize("treatment", CALMS)
@pytest.mark.parametrize(
    ("signs", "grave"),
    [
        # GCS 8 or less is coma; ketamine leaves the breathing (both from memory)
        ({"gcs": 8}, "needs_order"),
        ({"gcs": 9}, ""),
        ({"gcs": {"eye": 2, "verbal": 2, "motor": 4}}, "needs_order"),
        ({"gcs": {"eye": 3, "verbal": 2, "motor": 4}}, ""),
        ({"avpu": "U"}, "needs_order"),
        ({"avpu": "P"}, ""),
        ({}, "caution"),
    ],
)
def test_nobody_who_is_hardly_awake_is_calmed_without_a_word(treatment, signs, grave):
    found, _ = of_alertness(treatment, signs)
    judged_so = ["caution" if treatment == "ketamine" else grave] if grave else []
    assert [each.level for each in found] == judged_so


@pytest.mark.parametrize(
    ("airways", "told_so"),
    [
        ((TUBE,), False),
        ((replace(TUBE, outcome="failed"),), True),
        ((replace(TUBE, outcome="attempted"),), True),
        ((replace(TUBE, at=ago(-1)),), True),
    ],
)
def test_an_airway_in_place_is_an_answer(airways, told_so):
    found, known = of_alertness("fentanyl", {"gcs": 3}, airways=airways)
    unknown = replace(known, latest={name: each for name, each in known.latest.items() if name != "gcs"})

    assert bool(found) == told_so
    assert ("gcs" in told("fentanyl", unknown)["missing"]) == told_so


@pytest.mark.parametrize(
    ("score", "letter", "told_so"),
    [((6, 9), ("A", 2), False), ((6, 2), ("A", 9), True), ((14, 9), ("U", 2), True), ((14, 2), ("U", 9), False)],
)
def test_the_newer_of_the_scales_decides(score, letter, told_so):
    known = facts(**FINE, signs=BREATHES)
    newest = {"gcs": Latest(score[0], ago(score[1])), "avpu": Latest(letter[0], ago(letter[1]))}
    known = replace(known, latest={**known.latest, **newest})
    found = signs_missing(check("fentanyl", 60, "mcg", known))

    assert bool(found) == told_so


def test_alertness_is_that_of_the_moment():
    """The patient was awake 5 min ago, and hardly 1 min after ten."""
    readings = (Reading(taken_at=ago(5), avpu="A"), Reading(taken_at=ago(-1), avpu="U"))
    known = replace(facts(**FINE, signs=BREATHES), readings=readings)
    known = replace(known, latest={**known.latest, "avpu": Latest("U", ago(-1))})

    assert not any("awake" in each for each in signs_missing(check("fentanyl", 60, "mcg", known)))


def test_the_words_say_what_was_seen():
    seen = [of_alertness("fentanyl", signs)[0][0].text for signs in ({"avpu": "U"}, {"gcs": 7}, {})]
    unsafe = "barely awake and no airway in place: this can stop the breathing"

    assert seen == [
        f"{unsafe} (unresponsive; wanted 9 or more)",
        f"{unsafe} (GCS 7; wanted 9 or more)",
        "alertness unknown; wanted a GCS of 9 or more",
    ]


@pytest.mark.parametrize(("treatment", "indication"), [("midazolam", "seizure"), ("fentanyl", "intubated")])
def test_a_seizure_and_a_tube_want_nobody_awake(treatment, indication):
    value, unit = {"midazolam": (5, "mg"), "fentanyl": (60, "mcg")}[treatment]
    known = facts(signs={**BREATHES, "avpu": "U"}, airways=(TUBE,), **FINE)

    assert not signs_missing(check(treatment, value, unit, known, indication=indication))


# ---- for what, and at what pressure


@pytest.mark.parametrize("impression", sorted(IMPRESSIONS))
def test_epinephrine_for_anaphylaxis_says_so_and_is_never_held_back(impression):
    checked = check("epinephrine-im", 0.3, "mg", facts(impression=impression), route="IM")

    assert bool(signs_missing(checked)) == (impression != "anaphylactic")
    assert checked.verdict == ("within" if impression == "anaphylactic" else "caution")


@pytest.mark.parametrize(
    ("patient", "sbp", "dbp", "told_so"),
    [
        # the limits of a high pressure in the rule set: local choices but for pregnancy (160/110)
        (adult(), 220, 120, True),
        (adult(), 200, 80, True),
        (adult(), 199, 119, False),
        (adult(), 150, 120, True),
        (adult(pregnancy_weeks=34), 160, 90, True),
        (adult(pregnancy_weeks=34), 159, 109, False),
        (adult(injuries=("head",)), 180, 90, True),
        (child(), 125, 70, True),
        (child(), 124, 70, False),
    ],
)
@pytest.mark.parametrize(("treatment", "unit"), [("crystalloid-bolus", "mL"), ("blood-product", "bag")])
def test_volume_at_a_high_pressure_is_told(treatment, unit, patient, sbp, dbp, told_so):
    dose = (100, "mL") if unit == "mL" or patient.age.value < 18 else (1, "bag")
    known = facts(patient, sbp=sbp, dbp=dbp, signs={"sbp": sbp, "dbp": dbp})
    found = [each for each in check(treatment, *dose, known).findings if each.code == "pressure_above_goal"]

    assert [each.level for each in found] == (["caution"] if told_so else [])


def test_the_words_of_a_high_pressure_name_its_limit():
    known = facts(sbp=220, dbp=120, signs={"sbp": 220, "dbp": 120})
    found = next(each for each in check("crystalloid-bolus", 250, "mL", known).findings if "volume" in each.text)

    assert (found.text, found.limit) == (
        "systolic 220, high at 200 or more: more volume raises it",
        Amount(200, "mmHg"),
    )


# ---- what lowers the pressure

LOWERS = {
    "labetalol": (20, "mg"),
    "hydralazine": (5, "mg"),
    "nitroglycerin-tongue": (0.4, "mg"),
    "nitroglycerin-infusion": (10, "mcg/min"),
    "nicardipine-infusion": (5, "mg/h"),
}


@pytest.mark.parametrize("treatment", ["labetalol", "hydralazine", "nitroglycerin-tongue"])
@pytest.mark.parametrize(("minutes", "before", "told_so"), [(3, "nicardipine-infusion", True), (3, "fentanyl", False)])
def test_the_interval_counts_over_all_that_widens_vessels(treatment, minutes, before, told_so):
    doses = (given(before, minutes, 5, {"nicardipine-infusion": "mg/h", "fentanyl": "mcg"}[before]),)
    known = facts(doses=doses, sbp=190, dbp=115, signs={"sbp": 190, "dbp": 115})

    assert ("too_soon" in codes(check(treatment, *LOWERS[treatment], known))) == told_so


@pytest.mark.parametrize("treatment", LOWERS)
@pytest.mark.parametrize(("readings", "told_so"), [((), True), ((6,), True), ((1,), False)])
def test_without_a_fresh_pressure_nothing_widens_vessels_on_standing_orders(treatment, readings, told_so):
    taken = tuple(Reading(taken_at=ago(each), sbp=190, dbp=115) for each in readings)
    found = codes(check(treatment, *LOWERS[treatment], replace(facts(), readings=taken)))

    assert ("pressure_unknown" in found) == told_so


def test_a_palpated_pressure_is_no_reason_to_fear_a_low_one_before_a_vasodilator():
    palpated = (Reading(taken_at=ago(1), sbp=190, bp_method="palpated"),)

    assert "pressure_unknown" not in codes(check("labetalol", 20, "mg", replace(facts(), readings=palpated)))
    unobtainable = (Reading(taken_at=ago(1), bp_method="unobtainable", pulses="none"),)
    found = codes(check("labetalol", 20, "mg", replace(facts(), readings=unobtainable)))
    assert {"pressure_unknown"} <= found
    assert "phase" not in found


@pytest.mark.parametrize(
    ("treatment", "dose", "blocks"),
    [
        ("labetalol", (20, "mg"), True),
        ("esmolol", (40, "mg"), True),
        ("esmolol-infusion", (50, "mcg/kg/min"), True),
        ("hydralazine", (5, "mg"), False),
        ("nicardipine-infusion", (5, "mg/h"), False),
    ],
)
@pytest.mark.parametrize("lungs", ["wheeze", "clear", "crackles"])
def test_a_beta_blocker_and_a_wheeze_are_told(treatment, dose, blocks, lungs):
    known = facts(signs={"lungs": lungs, "hr": 90, "sbp": 190, "dbp": 115}, sbp=190, dbp=115)
    found = any("wheeze" in each for each in signs_missing(check(treatment, *dose, known)))

    assert found == (blocks and lungs == "wheeze")


# ---- what is not divided

SPRAY = Amount(40, "mg/mL")


@pytest.mark.parametrize(
    ("value", "stock", "found"),
    [(4, SPRAY, False), (8, SPRAY, False), (2, SPRAY, True), (5, SPRAY, True), (2, Amount(1, "mg/mL"), False)],
)
def test_a_spray_is_given_whole(value, stock, found):
    checked = check("naloxone", value, "mg", facts(**FINE), route="IN", stock=stock)
    of_it = [each for each in checked.findings if each.code == "volume_not_measurable"]

    assert [each.level for each in of_it] == (["caution"] if found else [])
    assert (checked.give.syringe is None) == (stock == SPRAY)
    if found:
        assert "nasal spray, 4 mg in 0.1 mL is not divided, each gives 4 mg" in of_it[0].text
        assert of_it[0].limit == Amount(4, "mg")


def test_of_a_spray_whole_ones_alone_are_offered():
    rows = told("naloxone", facts(**FINE), route="IN")["usual"]
    sprays = [each["amount"]["value"] for each in rows for one in each["volumes"] if one["strength"]["value"] == 40]

    assert sprays == [4]


# ---- age


@pytest.mark.parametrize(
    ("age", "value", "found"),
    [(59, 2, False), (60, 1.5, False), (60, 2, True), (None, 2, False)],
)
def test_from_sixty_years_less_midazolam_is_usual(age, value, found):
    """Midazolam prescribing information (from memory): from 60 years at most 1.5 mg at a time."""
    person = Patient(age=None if age is None else Age(age, "years"), weight=Weight(80, "kg", "measured"))
    known = facts(person, **FINE, signs=BREATHES)
    checked = check("midazolam", value, "mg", known, indication="sedation", stock=Amount(1, "mg/mL"))

    assert ("above_guide" in codes(checked)) == found


@pytest.mark.parametrize(("age", "told_so"), [(64, False), (65, True), (None, False)])
def test_from_sixty_five_years_fentanyl_begins_with_the_least(age, told_so):
    person = Patient(age=None if age is None else Age(age, "years"), weight=Weight(80, "kg", "measured"))
    cautions = told("fentanyl", facts(person, **FINE))["cautions"]

    assert any("65 years" in each for each in cautions) == told_so


# ---- a child whom nobody has weighed


@pytest.mark.parametrize("slug", RULES.treatments)
def test_the_hard_limit_of_an_unweighed_child_is_no_more_than_that_of_the_likely_weight(slug):
    """But where the rules state a limit of their own for those whom nobody has weighed."""
    for years in (0, 1, 2, 5, 8, 11):
        unweighed = told_limits(slug, child(years, None))
        likely = unweighed.person.likely
        of_likely = DoseLimits(unweighed.treatment, replace(unweighed.person, weight=likely))
        grown = DoseLimits(
            unweighed.treatment, replace(unweighed.person, adult=True, weight=units.quantity(Amount(80, "kg")))
        )
        hard, at_likely, of_adult = (each.ceiling("hard") for each in (unweighed, of_likely, grown))
        if hard is None or unweighed.band("hard").where.weight == "unknown":
            continue
        for other in (at_likely, of_adult):
            assert other is None or hard.units != other.units or Fraction(hard.magnitude) <= Fraction(other.magnitude)


def told_limits(slug, patient):
    return Question(bedside=bedside(facts(patient, **FINE), RULES, TEN), treatment=RULES.treatment(slug)).limits


# ---- what must not be given


@pytest.mark.parametrize(
    ("treatment", "patient", "known", "held"),
    [
        ("labetalol", adult(), {"sbp": 70, "dbp": 40}, True),
        ("labetalol", adult(), {"sbp": 190, "dbp": 115}, False),
        ("oxytocin", adult(pregnancy_weeks=38), FINE, True),
        ("oxytocin", adult(), FINE, False),
        ("oxytocin", adult(pregnancy_weeks=38, bleeding_cause="postpartum"), FINE, False),
        ("ketamine", child(10, 3.4, "days"), FINE, True),
        ("epinephrine-arrest", adult(), FINE, False),  # another phase may be told at any moment
    ],
)
def test_of_what_must_not_be_given_no_amount_is_told(treatment, patient, known, held):
    entry = told(treatment, facts(patient, **known))
    amounts = [entry[name] for name in ("least", "guide", "most", "volumes")]

    assert entry["held"] == held
    assert (not any(amounts)) == (not entry["usual"]) == held
    assert not (held and entry["by_route"])
    assert not (held and entry["relevant"])


def test_the_rows_of_all_treatments_say_what_is_held():
    rows = guidance(facts(adult(pregnancy_weeks=38), **FINE), RULES, TEN)

    held = {"alprostadil-infusion", "oxytocin", "insulin", "insulin-infusion", "insulin-high-dose"}  # glucose 40
    assert {row["treatment"] for row in rows if row["held"]} == held
