"""Doses that would harm by the way or the state they are given in; each beside two neighbors that must stay allowed."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Age, Amount, Latest, Patient, Proposal, Weight
from dosing.ground.phases import PhaseChange
from dosing.rules.treatment import routes_alike
from dosing.tell.delivery import flow
from tests.copying import replace
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, codes, facts, given, told

SPRAY = Amount(40, "mg/mL")
KETAMINE = Amount(50, "mg/mL")
AWAKE = {"rr": 16, "gcs": 15}
ARREST = (PhaseChange(id="arrest", phase="arrest", at=ago(5)),)
PRESSORS = {"epinephrine-push-dose": (10, "mcg"), "norepinephrine-infusion": (0.1, "mcg/kg/min")}


@pytest.mark.parametrize(
    ("patient", "dose", "route", "by_order"),
    [
        # Newborn resuscitation: no naloxone at birth, ventilate (from memory); a spray is 1.3 mg/kg at 3 kg
        (child(0, 3, "days"), (4, "mg"), "IN", True),
        (child(27, 3.8, "days"), (0.3, "mg"), "IV", True),
        (child(28, 4, "days"), (4, "mg"), "IN", False),
        (child(2, 12), (4, "mg"), "IN", False),
        (adult(), (4, "mg"), "IN", False),
    ],
)
def test_a_newborn_gets_naloxone_by_order_alone(patient, dose, route, by_order):
    stock = SPRAY if route == "IN" else None
    checked = check("naloxone", *dose, facts(patient, signs={"rr": 12}), route=route, stock=stock)

    assert (checked.verdict == "needs_order") == by_order
    assert ("starts_by_order" in codes(checked)) == by_order
    assert [each.text for each in checked.findings if each.code == "starts_by_order"] == [
        "not recommended for a newborn at birth: ventilate first"
    ] * by_order


@pytest.mark.parametrize(
    ("route", "sbp", "least", "most"),
    [
        # 0.5-0.75 mg/kg, at most 50 mg, into the nose (Andolfatto 2013, from memory); 0.1-0.3 mg/kg into a vein
        ("IN", 84, 40, 50),
        ("IN", 130, 40, 50),
        ("IM", 84, 8, 40),
        ("IV", 130, 8, 24),
        ("IV", 84, 8, 16),
    ],
)
def test_a_low_pressure_makes_a_vein_dose_of_ketamine_of_no_other(route, sbp, least, most):
    known = facts(sbp=sbp, dbp=50 if sbp < 90 else 80, signs=AWAKE)
    row = told("ketamine", known, route=route)
    how = {"route": route, "stock": KETAMINE}

    assert (row["least"]["value"], row["most"]["value"]) == (least, most)
    assert check("ketamine", most, "mg", known, **how).verdict == ("caution" if sbp < 90 else "within")
    assert "above_most" in codes(check("ketamine", most + 1, "mg", known, **how))


GOOD = {"sbp": 104, "dbp": 66}


@pytest.mark.parametrize(
    ("patient", "known", "dose", "verdict"),
    [
        # ISPAD 2022: 10-20 mL/kg over 20-30 min, fast in shock (draft, in part from memory); 10 mL/kg once is chosen
        (child(9, 30), {"signs": {"glucose_mg_dl": 520}}, 600, "needs_order"),
        (child(9, 30), {"signs": {"glucose_mg_dl": 520}}, 300, "within"),
        (child(9, 30), {"signs": {"glucose_mg_dl": None, "glucose_flag": "high"}}, 310, "needs_order"),
        (child(9, 30), {"signs": {"glucose_mg_dl": 250}}, 310, "needs_order"),
        (child(9, 30), {"signs": {"glucose_mg_dl": 249}}, 600, "within"),
        (child(9, 30), {"signs": {"glucose_mg_dl": None}}, 600, "within"),
        (child(9, 30), {"signs": {"glucose_mg_dl": 520}, "sbp": 78, "dbp": 40}, 600, "within"),
        (child(9, 30), {"signs": {"glucose_mg_dl": 300}, "impression": "septic"}, 600, "within"),
        (child(16, 60), {"signs": {"glucose_mg_dl": 520}}, 600, "needs_order"),
        (adult(30), {"signs": {"glucose_mg_dl": 520}}, 600, "within"),
    ],
)
def test_a_child_with_a_high_glucose_gets_little_fluid_unless_in_shock(patient, known, dose, verdict):
    known = facts(patient, **{**GOOD, "doses": (), **known})
    row = told("crystalloid-bolus", known)

    assert check("crystalloid-bolus", dose, "mL", known, over_min=20).verdict == verdict
    assert (row["most"]["value"] < dose) == (verdict == "needs_order")
    assert row["shortest"] == ({"value": 20, "unit": "min"} if row["most"]["value"] <= 500 else None)


def test_it_runs_no_faster_than_in_twenty_minutes_and_the_next_is_by_order():
    known = facts(child(9, 30), **GOOD, signs={"glucose_mg_dl": 520}, doses=())
    again = replace(known, doses=(given("crystalloid-bolus", 40, 300, "mL"),))

    assert "too_fast" in codes(check("crystalloid-bolus", 300, "mL", known, over_min=15))
    assert flow(proposal(300), known, RULES).over_min == 20
    assert "count_reached" in codes(check("crystalloid-bolus", 100, "mL", again, over_min=20))
    assert "above_most" in codes(check("crystalloid-bolus", 310, "mL", known, over_min=20, rules=CONSERVATIVE))
    assert any("the brain can swell" in each for each in told("crystalloid-bolus", known)["cautions"])


@pytest.mark.parametrize(
    ("number", "flag", "most"),
    [
        ((520, 9), ("high", 2), 300),
        ((120, 9), ("high", 2), 300),
        ((120, 2), ("high", 9), 900),
        ((520, 9), ("low", 2), 900),
    ],
)
def test_the_newer_of_number_and_flag_is_the_glucose(number, flag, most):
    newest = {"glucose_mg_dl": Latest(number[0], ago(number[1])), "glucose_flag": Latest(flag[0], ago(flag[1]))}
    known = facts(child(9, 30), **GOOD, doses=())
    known = replace(known, latest={**known.latest, **newest})

    assert told("crystalloid-bolus", known)["most"]["value"] == most


def proposal(milliliters):
    return Proposal(treatment="crystalloid-bolus", amount=Amount(milliliters, "mL"), route="IV", at=TEN)


@pytest.mark.parametrize(
    ("impression", "lungs", "told_so"),
    [
        ("cardiogenic", "crackles", False),  # where fluid itself needs an order
        ("cardiogenic", "clear", True),
        ("septic", "clear", True),
        ("septic", "crackles", False),
    ],
)
def test_no_pressor_waits_for_a_fluid_that_needs_an_order(impression, lungs, told_so):
    known = facts(impression=impression, signs={"lungs": lungs}, doses=())
    found = {each: codes(check(each, *PRESSORS[each], known)) for each in PRESSORS}

    assert {"no_fluid_yet" in each for each in found.values()} == {told_so}
    assert "no_fluid_yet" not in codes(check("epinephrine-push-dose", 10, "mcg", facts(signs={"lungs": lungs})))


# ---- what is offered contradicts nothing


def offered(treatment, known, route, **how):
    row = told(treatment, known, route=route, **how)
    return [(each["amount"]["value"], each["above_guide"]) for each in row["usual"]], row["guide"], row["least"]


@pytest.mark.parametrize(
    ("years", "route", "usual"),
    [
        # from 60 years at most 1.5 mg into a vein, 2-3 mg into a muscle (label, from memory); the nose: chosen
        (78, "IN", [(2.5, False), (5, True)]),
        (78, "IM", [(2.5, False), (3, False), (5, True)]),
        (78, "IV", [(1, False), (1.5, False), (2, True)]),
        (50, "IN", [(2.5, False), (5, False)]),
    ],
)
def test_the_usual_midazolam_of_the_old_is_none_that_is_above_the_usual(years, route, usual):
    old = Patient(age=Age(years, "years"), weight=Weight(70, "kg", "measured"))
    rows, guide, least = offered("midazolam", facts(old, **GOOD, signs=AWAKE), route, indication="sedation")

    assert rows == usual
    assert guide is None or guide["value"] >= least["value"]


@pytest.mark.parametrize("patient", [adult(), adult(55), child(), child(0.5, 7), Patient(age=Age(78, "years"))])
@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_the_usual_amount_is_never_below_the_least(patient, rules):
    for slug, known in rules.given_for.items():
        for treatment, routes in ((each, routes) for each in known for routes in routes_alike(each)):
            row = told(slug, facts(patient, **GOOD), rules, treatment.indication or None, routes[0])
            if row["guide"] and row["least"]:
                assert row["guide"]["value"] >= row["least"]["value"], (slug, treatment.indication, routes)


@pytest.mark.parametrize(
    ("treatment", "how", "drawn"),
    [
        # naloxone into the nose: 1 mg per mL (Bailey 2017, second-hand); amiodarone in arrest from the vial (AHA, read)
        ("naloxone", {"route": "IN"}, {(0.4, 1), (1, 1), (4, 1), (4, 40)}),
        ("naloxone", {"route": "IV"}, {(0.4, 0.4), (0.4, 1), (0.9, 0.4), (0.9, 1), (2, 0.4), (2, 1)}),
        ("amiodarone", {"indication": "arrest", "phases": ARREST}, {(150, 50), (300, 50)}),
        ("amiodarone", {"indication": "tachycardia"}, {(150, 1.5)}),
        ("methylprednisolone", {}, {(40, 62.5), (125, 62.5)}),  # no 68.75 mg, which the middle came to
    ],
)
def test_no_odd_amount_or_volume_is_offered(treatment, how, drawn):
    known = facts(**GOOD, phases=how.pop("phases", ()), signs={"rr": 6})
    rows = told(treatment, known, **how)["usual"]

    assert {(row["amount"]["value"], each["strength"]["value"]) for row in rows for each in row["volumes"]} == drawn
