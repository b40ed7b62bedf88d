"""Findings as the physician reads them, whole: level, words, limit, and the source of that very number.

Words and limits are worked by hand from the demonstration rules; the sources are those beside the number there.
"""

import json
from typing import Any

import pytest

from dosing.check.findings import Finding, amount_dict
from dosing.ground.facts import Amount, Dose, Facts, Order, Reading
from dosing.ground.phases import PhaseChange
from tests.copying import replace
from tests.dosing.bedside import adult, ago, check, child, codes, facts, given

PUSH, TXA, PHENYLEPHRINE = "epinephrine-push-dose", "tranexamic-acid", "phenylephrine-push-dose"
NOREPINEPHRINE = ("norepinephrine-infusion", 8, "mcg/min")
FLUID = given("crystalloid-bolus", 60, 1, "mL")
CHOICE = "Chosen for the demonstration; sources give no number [our choice]"
TRADE = "How the trade works: orders are repeated back, readings age, weights are guesses [our choice]"
CRASH = "CRASH-2 scheme, casualty care guidelines: 1 g over 10 min within 3 h of injury [read]"
EVERY_TWO = "Critical-care transport regimen: epinephrine 10-20 mcg every 2 min [read]"
ONSET = "Onset under 1 min, lasts 5-10 min (EB Medicine, EMCrit): first pressure at 1-2 min [read]"
SLOWS = "Phenylephrine prescribing information: bolus 50-250 mcg, another maker's 40-100 mcg up to 200 mcg; reflex "
SLOWS += "bradycardia [read]"
CAUTION, BY_ORDER, OVER = "caution", "needs_order", "over_hard_limit"
ADULTS = (
    "Life support, adults (course page and a summary of the 2020 guideline): epinephrine 1 mg every 3-5 min, no more "
)
ADULTS += "at once [read]"


def drip(rate: Amount | None) -> Facts:
    """A case in which an epinephrine infusion runs at this rate."""
    running = Dose(id="drip", treatment="epinephrine-infusion", given_at=ago(10), amount=rate, status="running")
    return facts(doses=(FLUID, running))


ROWS: list[tuple[tuple[Any, ...], Finding]] = [
    (
        ("phenylephrine-infusion", 0.5, "mcg/kg/min", facts(child())),
        Finding(
            "age_not_covered",
            "crews do not start phenylephrine infusions in a child; published 0.1-0.5 mcg/kg/min "
            "(a child of 5 years and 18 kg)",
            "Merck Manual resuscitation drug table: phenylephrine 0.1-0.5 mcg/kg/min [read]",
            None,
            BY_ORDER,
        ),
    ),
    (
        ("fentanyl", 20, "mcg"),  # 70/40: MAP 50
        Finding(
            "pressure_low",
            "pressure low, systolic 70 (under 90) and MAP 50 (under 65): fentaNYL needs an order",
            "Chosen: a sedative or opioid by order under systolic 90 or MAP 65, "
            "whatever goal is permitted [our choice]",
            Amount(90, "mmHg"),
            BY_ORDER,
        ),
    ),
    (
        (TXA, 1, "g", facts(adult(bleeding_cause="gut", onset_at=ago(20)))),
        Finding("starts_by_order", "bleeding from the gut: tranexamic acid needs an order", CHOICE, None, BY_ORDER),
    ),
    (
        NOREPINEPHRINE,
        Finding("starts_by_order", "norepinephrine infusion needs an order to start", CHOICE, None, BY_ORDER),
    ),
    (
        (TXA, 1, "g", facts(adult(bleeding_cause="postpartum"))),
        Finding(
            "onset_unknown",
            "time of the birth unknown; useful only within 3 h of it: needs an order",
            CRASH,
            Amount(180, "min"),
            BY_ORDER,
        ),
    ),
    (
        ("hydrocortisone", 100, "mg"),
        Finding(
            "signs_missing",
            "no adrenal insufficiency or long-term steroids on record",
            "Adrenal crisis: 100 mg once [read]",
            None,
            CAUTION,
        ),
    ),
    (
        (PHENYLEPHRINE, 50, "mcg", facts(signs={"hr": None})),
        Finding(
            "signs_missing",
            "heart rate not measured; wanted 60 or more beats per min",
            SLOWS,
            Amount(60, "beats per min"),
            CAUTION,
        ),
    ),
    (
        (PHENYLEPHRINE, 50, "mcg", facts(signs={"hr": 50})),
        Finding(
            "signs_missing",
            "heart rate under 60: phenylephrine can slow it further (50 beats per min; wanted 60 or more)",
            SLOWS,
            Amount(60, "beats per min"),
            BY_ORDER,
        ),
    ),
    (
        (PHENYLEPHRINE, 50, "mcg", facts(impression="cardiogenic", signs={"hr": 70})),
        Finding(
            "signs_missing",
            "cardiogenic shock: phenylephrine increases afterload",
            "Phenylephrine push dose 50-200 mcg of 100 mcg per mL every 2-5 min (EMCrit, ResusNurse) [read]",
            None,
            BY_ORDER,
        ),
    ),
    (
        (PUSH, 10, "mcg", facts(doses=(FLUID, given(PUSH, 0, 10, "mcg")))),  # two at the same moment
        Finding("no_pressure_since_last_dose", "no pressure since the last dose", ONSET, None, BY_ORDER),
    ),
    (
        (PUSH, 10, "mcg", facts(readings=())),
        Finding("pressure_unknown", "no pressure has been recorded", CHOICE, Amount(5, "min"), BY_ORDER),
    ),
    (
        (PUSH, 10, "mcg", facts(readings=(Reading(taken_at=ago(6), sbp=70, dbp=40),))),
        Finding(
            "pressure_unknown",
            "last pressure (MAP 50, goal 65) is older than 5 min: recheck first",
            CHOICE,
            Amount(5, "min"),
            BY_ORDER,
        ),
    ),
    (
        (PUSH, 10, "mcg", facts(sbp=130, dbp=80)),  # (130 + 160) / 3 = 96.67
        Finding("well_above_goal", "MAP 97, goal 65: 31.7 mmHg above goal", CHOICE, None, BY_ORDER),
    ),
    (
        (PUSH, 10, "mcg", drip(Amount(2, "mcg/min"))),
        Finding("infusion_running", "EPINEPHrine infusion is running at 2 mcg/min", TRADE, None, CAUTION),
    ),
    (
        (PUSH, 10, "mcg", drip(None)),  # its rate was never told
        Finding("infusion_running", "EPINEPHrine infusion is running", TRADE, None, CAUTION),
    ),
    (
        ("epinephrine-arrest", 1, "mg"),
        Finding("phase", "EPINEPHrine in cardiac arrest is given only in cardiac arrest", ADULTS, None, OVER),
    ),
    (
        (PUSH, 10, "mcg", facts(phases=(PhaseChange("arrest", "arrest", ago(5)),))),
        Finding(
            "phase",
            "EPINEPHrine push dose is given only to a patient with a pulse, not in cardiac arrest",
            "Weingart, push-dose pressors (EMCrit 6; Clin Exp Emerg Med 2015); EB Medicine rapid reference [read]",
            None,
            OVER,
        ),
    ),
]


@pytest.mark.parametrize(("asked", "finding"), ROWS, ids=lambda value: value.code if type(value) is Finding else "")
def test_a_finding_in_full(asked, finding):
    assert finding in check(*asked).findings


def test_a_finding_as_the_api_answers_it():
    (found,) = (one for one in check(PUSH, 30, "mcg").findings if one.code == "above_most")

    assert found.as_dict() == {
        "code": "above_most",
        "level": "needs_order",
        "text": "30 mcg is over the standing limit of 20 mcg for an adult of 80 kg",
        "limit": {"value": 20, "unit": "mcg"},
        "source": EVERY_TWO,
    }


def test_a_restriction_of_fluid_holds_back_fluid_alone():
    restricted = facts(adult(fluid_restricted=True))

    assert "fluid_restricted" in codes(check("crystalloid-bolus", 100, "mL", restricted))
    assert "fluid_restricted" not in codes(check(PUSH, 10, "mcg", restricted))
    assert "fluid_restricted" not in codes(check("crystalloid-bolus", 100, "mL"))


def test_a_new_rate_of_what_runs_is_no_second_infusion():
    known = facts(doses=(FLUID, given("norepinephrine-infusion", 30, 8, "mcg/min", status="running")))

    assert "infusion_running" not in codes(check(*NOREPINEPHRINE, known, new_rate=True))


@pytest.mark.parametrize(
    ("measured", "wanting"),
    [(3, True), (2.9, False), (0, False)],
    ids=["as the dose was given", "after it", "as the next is drawn up"],
)
def test_a_pressure_after_a_push_is_one_taken_after_it(measured, wanting):
    pressure = Reading(taken_at=ago(measured), sbp=70, dbp=40)
    found = codes(check(PUSH, 10, "mcg", facts(doses=(FLUID, given(PUSH, 3, 10, "mcg")), readings=(pressure,))))

    assert ("no_pressure_since_last_dose" in found) is wanting


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (1000.0, "1000"),
        (0.5, "0.5"),
        (2.0**53 - 1, "9007199254740991"),
        (2.0**53, "9007199254740992.0"),
    ],
)
def test_whole_numbers_are_written_whole_as_far_as_json_keeps_them(value, written):
    """RFC 7493, 2.2: whole numbers are interoperable up to 2^53 - 1."""
    assert json.dumps(amount_dict(Amount(value, "mg"))) == f'{{"value": {written}, "unit": "mg"}}'


PALPATED = (Reading(taken_at=ago(1), sbp=120, bp_method="palpated"),)


@pytest.mark.parametrize(
    ("asked", "code", "limit", "source"),
    [
        (
            ("crystalloid-bolus", 250, "mL", facts(sbp=205, dbp=90, signs={"sbp": 205, "dbp": 90})),
            "pressure_above_goal",
            Amount(200, "mmHg"),
            "Chosen: above 220/140 on one reading, 200/120 on two",
        ),
        (
            ("crystalloid-bolus", 250, "mL", facts(sbp=150, dbp=125, signs={"sbp": 150, "dbp": 125})),
            "pressure_above_goal",
            Amount(120, "mmHg"),
            "Chosen: above 220/140 on one reading, 200/120 on two",
        ),
        (
            ("adenosine", 6, "mg", facts(adult(history=("transplant",)), sbp=130, dbp=80)),
            "contraindicated",
            None,
            "Pediatric drug reference: contraindicated with a transplanted heart",
        ),
        (
            ("midazolam", 2, "mg", facts(readings=PALPATED)),
            "pressure_unknown",
            None,
            "Chosen: a sedative or opioid by order under systolic 90 or MAP 65",
        ),
    ],
)
def test_the_limit_and_the_source_are_those_of_the_very_rule(asked, code, limit, source):
    (found,) = (each for each in check(*asked).findings if each.code == code)

    assert found.limit == limit
    assert found.source.startswith(source)


def mg_per_ml(value: float, unit: str = "mg/mL") -> dict[str, Amount]:
    """A strength in hand."""
    return {"stock": Amount(value, unit)}


def after(*doses: Dose, sbp: float = 130, **more: Any) -> Facts:
    """A case in which these were given, with a pressure that is not low."""
    return facts(sbp=sbp, dbp=80, doses=(FLUID, *doses), **more)


# Numbers and sources: the demonstration rules, beside each other there.
SPRAY, BAG = Amount(40, "mg/mL"), {"concentration": Amount(900, "mcg/mL")}
ESMOLOL, LIDOCAINE = given("esmolol", 10, 40, "mg", route="IV"), given("lidocaine", 5, 100, "mg", route="IV")
CAROTID = (Reading(taken_at=ago(1), bp_method="unobtainable", pulses="carotid"),)
PUMPS, SLIP = "Hospital guide to injectable medicines", "Chosen: a slip of the point is a tenth"
LITERS = (given("crystalloid-bolus", 60, 1900, "mL"), given("crystalloid-bolus", 30, 900, "mL"))
HYPERTHERMIA = adult(allergies=("malignant hyperthermia",))
ONCE = Order(id="order", treatment=PUSH, state="read_back", amount=Amount(30, "mcg"), by="Dr. Merrin")
REPEATED = replace(ONCE, times=3, given=1, every_min=5)
SALINE = "Military trauma guidelines: 250 mL of 3 %"


@pytest.mark.parametrize(
    ("code", "asked", "more", "limit", "source"),
    [
        ("pressure_unknown", (PUSH, 10, "mcg", facts(readings=CAROTID)), {}, None, "Chosen for the demonstration"),
        ("phase", ("epinephrine-arrest", 1, "mg"), {}, None, "Life support, adults"),
        ("contraindicated", ("diltiazem", 20, "mg", after(ESMOLOL)), {}, (180, "min"), "Diltiazem prescribing inform"),
        (
            "history",
            ("amiodarone", 150, "mg", after(LIDOCAINE)),
            {},
            (60, "min"),
            "Life support, adults: amiodarone or",
        ),
        (
            "contraindicated",
            ("succinylcholine", 120, "mg", after(patient=HYPERTHERMIA)),
            {},
            None,
            "Succinylcholine pr",
        ),
        (
            "weight_unknown",
            ("dextrose", 5, "g", facts(child(5, None))),
            mg_per_ml(100),
            (10, "g"),
            "How the trade works",
        ),
        (
            "wrong_stock",
            ("dextrose", 2, "g", facts(child(0.25, 5))),
            mg_per_ml(250),
            None,
            "EMS guideline for children",
        ),
        ("unlisted_strength", ("dextrose", 5, "g", facts(child())), mg_per_ml(500), None, "Merck Manual: 25 g"),
        ("wrong_stock", ("naloxone", 0.4, "mg"), {"stock": SPRAY}, None, "Naloxone nasal spray label"),
        ("wrong_stock", ("fentanyl", 50, "mcg"), mg_per_ml(500, "mcg/mL"), None, "EMS pain protocol: 1 mcg/kg"),
        ("wrong_stock", (PUSH, 10, "mcg"), mg_per_ml(1), (0.1, "mg/mL"), "Weingart, push-dose pressors"),
        ("wrong_stock", ("hypertonic-saline", 100, "mL"), mg_per_ml(234), (30, "mg/mL"), SALINE),
        ("unlisted_strength", ("hypertonic-saline", 100, "mL"), mg_per_ml(6), (30, "mg/mL"), SALINE),
        (
            "volume_not_measurable",
            ("naloxone", 3, "mg"),
            {"stock": SPRAY, "route": "IN"},
            (4, "mg"),
            "Naloxone nasal spr",
        ),
        ("rate_not_deliverable", ("norepinephrine-infusion", 0.15, "mcg/min"), BAG, (0.1, "mL/h"), PUMPS),
        ("rate_not_deliverable", ("norepinephrine-infusion", 2.1, "mcg/min"), BAG, (0.1, "mL/h"), PUMPS),
        ("rate_not_deliverable", ("norepinephrine-infusion", 16, "mg/min"), BAG, (999, "mL/h"), PUMPS),
        ("above_hard_limit", ("atropine", 0.1, "mg/kg", facts(adult(None))), {}, (1, "mg"), "Life support: 1 mg every"),
        (
            "above_hard_limit",
            ("atropine", 1, "mg", after(given("atropine", 9, 2.5, "mg"))),
            {},
            (3, "mg"),
            "Life support",
        ),
        ("above_guide", ("labetalol", 20, "mg", after(given("labetalol", 9, 130, "mg"))), {}, (140, "mg"), "ACOG"),
        ("count_reached", ("crystalloid-bolus", 500, "mL", facts(doses=LITERS)), {}, (3, "full boluses"), CHOICE[:20]),
        ("below_least", (TXA, 100, "mg"), {}, (1000, "mg"), SLIP),
        (
            "too_soon",
            (PUSH, 30, "mcg", facts(doses=(given(PUSH, 3, 10, "mcg"),))),
            {"order": REPEATED},
            (5, "min"),
            "order by",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_limit_and_the_source_where_more_is_told(code, asked, more, limit, source):
    (found,) = (each for each in check(*asked, **more).findings if each.code == code)

    assert found.limit == (None if limit is None else Amount(*limit))
    assert found.source.startswith(source)


@pytest.mark.parametrize(("sbp", "wanted"), [(95, [110]), (105, [110]), (110, [])])
def test_of_two_like_signs_of_one_measurement_the_last_that_fits_is_told(sbp, wanted):
    """Nitroglycerin: under 100 for everybody, under 110 in heart failure too (the rule set's own numbers)."""
    known = facts(adult(), sbp=sbp, dbp=60, signs={"sbp": sbp, "dbp": 60}, impression="cardiogenic")
    found = [each for each in check("nitroglycerin-tongue", 0.4, "mg", known).findings if each.code == "signs_missing"]

    assert [each.limit for each in found] == [Amount(each, "mmHg") for each in wanted]
