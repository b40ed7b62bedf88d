"""The amounts that are offered: usual ones, each with its volume, none beyond the standing limits of this patient."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Container
from dosing.ground.text import amount_text
from dosing.rules import rule_set
from dosing.tell.guidance import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, facts, given, told

FLUID, PUSH, MUSCLE = "crystalloid-bolus", "epinephrine-push-dose", "epinephrine-im"
NOREPINEPHRINE = "norepinephrine-infusion"
NEWBORN = child(10, 3.4, "days")
RUNS = {"doses": (given(NOREPINEPHRINE, 5, 0.05, "mcg/kg/min", status="running"),)}
PATIENTS = [adult(), adult(None), adult(43.7), child(), child(3, 13.7), child(0.5, 7), child(5, None), NEWBORN]


def in_words(amount: dict) -> str:
    return amount_text(Amount(**amount))


def offered(treatment, patient, rules=RULES, **more):
    """Each amount as it is said, with its first volume where the amount is none itself."""
    rows = told(treatment, facts(patient, **more), rules)["usual"]
    return [" = ".join(map(in_words, [row["amount"], *(one["volume"] for one in row["volumes"][:1])])) for row in rows]


# Fluid of a child: 10 and 20 mL/kg (Surviving Sepsis Campaign, children 2020) and the most of the rules, 30 mL/kg.
# Push dose 10 and 20 mcg of 10 mcg per mL (critical-care transport regimen); by weight 1 mcg/kg (REBEL EM).
# Others: the least and most of the rule set, and between them the geometric middle in one digit, worked by hand.
@pytest.mark.parametrize(
    ("treatment", "patient", "amounts"),
    [
        (FLUID, child(5, 18), ["180 mL", "360 mL", "540 mL"]),
        (FLUID, child(3, 13.7), ["135 mL", "270 mL", "410 mL"]),  # 137, 274, 411
        (FLUID, NEWBORN, ["8 mL", "17 mL", "34 mL"]),  # 10 mL/kg is the most of a newborn
        (FLUID, adult(80), ["250 mL", "500 mL", "1,000 mL"]),
        (PUSH, adult(80), ["10 mcg = 1 mL", "20 mcg = 2 mL"]),
        (PUSH, child(0.5, 7), ["1 mcg = 0.1 mL", "7 mcg = 0.7 mL", "10 mcg = 1 mL"]),
        (PUSH, child(5, 18), ["1 mcg = 0.1 mL", "3 mcg = 0.3 mL", "10 mcg = 1 mL"]),
        (PUSH, child(5, None), []),
        ("phenylephrine-push-dose", adult(80), ["50 mcg = 0.5 mL", "100 mcg = 1 mL", "200 mcg = 2 mL"]),
        (MUSCLE, adult(None), ["0.3 mg = 0.3 mL", "0.5 mg = 0.5 mL"]),
        (MUSCLE, child(3, 13.7), ["0.15 mg = 0.15 mL"]),
        (MUSCLE, child(4, 16.7), ["0.16 mg = 0.16 mL"]),  # 0.167 mL: a 1 mL syringe reads 0.01 mL
        # 80 kg at 16 mcg per mL: 0.05 x 80 x 60 / 16 = 15 mL/h
        (NOREPINEPHRINE, adult(80), ["0.05 mcg/kg/min = 15 mL/h", "0.1 mcg/kg/min = 30 mL/h"]),
        ("tranexamic-acid", child(0.5, 7), ["100 mg = 1 mL"]),  # 15 mg/kg: 1.05 mL, a 3 mL syringe reads 0.1 mL
        ("blood-product", adult(80), ["1 bag"]),
    ],
)  # fmt: skip
def test_the_usual_amounts_with_their_volumes(treatment, patient, amounts):
    assert offered(treatment, patient) == amounts


# What an infusion starts with, by its prescribing information: norepinephrine 8-12 mcg/min, dopamine 2-5 mcg/kg/min,
# nicardipine 5 mg/h, esmolol 50 mcg/kg/min; norepinephrine per kg 0.05-0.1 (Merck Manual, resuscitation drugs).
@pytest.mark.parametrize(
    ("treatment", "patient", "starts"),
    [
        (NOREPINEPHRINE, child(5, 18), [0.05, 0.1]),
        (NOREPINEPHRINE, adult(None), [2, 5, 12]),
        ("dopamine-infusion", adult(80), [2, 3, 5]),
        ("dopamine-infusion", adult(80, history=("maoi",)), [0.2, 0.3, 0.5]),
        ("nicardipine-infusion", adult(80), [3, 5]),
        ("esmolol-infusion", adult(80), [50]),
    ],
)
def test_an_infusion_starts_with_what_it_starts_with_and_goes_up_by_steps(treatment, patient, starts):
    """The standing limit above is for steps: once it runs, it is offered, and nothing is said of a start."""
    shown = told(treatment, facts(patient, sbp=180, dbp=100, signs={"hr": 110}))
    assert [each["amount"]["value"] for each in shown["usual"]] == starts
    assert shown["start"]["value"] == starts[-1] <= shown["most"]["value"]


@pytest.mark.parametrize(("rate", "runs", "found"), [(0.1, False, False), (0.2, False, True), (0.2, True, False)])
def test_a_start_above_the_usual_one_is_told_and_a_step_is_not(rate, runs, found):
    known = facts(adult(80), **(RUNS if runs else {}))
    checked = check(NOREPINEPHRINE, rate, "mcg/kg/min", known, new_rate=runs)
    (row,) = (each for each in guidance(known, RULES, TEN) if each["treatment"] == NOREPINEPHRINE)

    assert ("above_guide" in {each.code for each in checked.findings}) is found
    assert [each["amount"]["value"] for each in row["usual"]] == ([0.05, 0.2, 0.5] if runs else [0.05, 0.1])


@pytest.mark.parametrize("kilograms", [0.5, 1, 2, 3.4, 5, 10, 18])
def test_no_volume_is_offered_that_is_but_one_mark_of_the_smallest_syringe_or_less(kilograms):
    """A 1 mL syringe is marked every 0.01 mL (rule set); that one mark measures nothing is common practice."""
    patient = child(10, kilograms, "days") if kilograms < 5 else child(1, kilograms)
    rows = [row for slug in RULES.treatments for row in told(slug, facts(patient))["usual"]]
    volumes = [one["volume"] for row in rows for one in row["volumes"] if one["volume"]["unit"] == "mL"]

    assert volumes
    assert min(each["value"] for each in volumes) > 0.01


def test_what_only_one_strength_measures_is_offered_of_that_one_alone():
    """Ketamine 0.1 mg/kg for 4.5 kg: 0.045 mL of 10 mg per mL, of 50 mg per mL 0.009 mL."""
    least = told("ketamine", facts(child(4, 4.5, "months")))["usual"][0]

    assert in_words(least["amount"]) == "0.45 mg"
    assert [in_words(one["strength"]) for one in least["volumes"]] == ["10 mg per mL"]


def test_in_bleeding_the_steps_are_small():
    assert offered(FLUID, adult(80), impression="hemorrhagic") == ["60 mL", "125 mL", "250 mL"]


def test_every_strength_has_its_pump_rate():
    first = told(NOREPINEPHRINE, facts(adult(80)))["usual"][0]["volumes"]

    assert [(in_words(one["strength"]), in_words(one["volume"])) for one in first] == [
        ("16 mcg per mL", "15 mL/h"),
        ("32 mcg per mL", "7.5 mL/h"),
        ("64 mcg per mL", "3.75 mL/h"),
    ]


@pytest.mark.parametrize(
    ("rules", "total"), [(RULES, "Chosen for the demonstration"), (CONSERVATIVE, "Chosen: an adult gets 30 mL/kg")]
)
def test_an_adults_total_is_our_choice_and_stands_among_the_sources(rules, total):
    """What is left of it is told beside the single most, which is 30 mL/kg of a guideline for adults."""
    shown = told(FLUID, facts(adult(80)), rules)

    assert shown["left"]["total"]
    assert shown["limit_sources"][0].startswith("Surviving Sepsis Campaign, adults 2021")
    assert any(each.startswith(total) and each.endswith("[our choice]") for each in shown["limit_sources"])
    assert not any("children 2020" in each for each in shown["limit_sources"])


def test_a_childs_bolus_names_the_sources_of_the_childs_numbers():
    shown = told(FLUID, facts(child(5, 18)))

    assert [(in_words(row["per_kg"]), row["source"].split(":")[0]) for row in shown["usual"]] == [
        ("10 mL/kg", "Surviving Sepsis Campaign, children 2020"),
        ("20 mL/kg", "Surviving Sepsis Campaign, children 2020"),
        ("30 mL/kg", "Chosen"),
    ]
    assert not any("adults" in source for source in shown["limit_sources"])


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("patient", PATIENTS, ids=lambda who: f"{who.age.value:g} {who.age.unit} {who.weight}")
def test_what_is_offered_is_never_beyond_the_standing_limits(patient, rules: rule_set.RuleSet):
    beyond = {"above_most", "above_hard_limit", "below_least", "weight_unknown"}
    for treatment in rules.treatments:
        known = facts(patient)
        for row in told(treatment, known, rules)["usual"]:
            amount = row["amount"]
            checked = check(treatment, amount["value"], amount["unit"], known, rules=rules)
            found = {each.code for each in checked.findings if (each.code, each.level) != ("weight_unknown", "caution")}
            assert not found & beyond, (treatment, amount)


def syringe(mcg_per_ml, *, minutes=5, discarded=None, treatment="epinephrine-push-dose"):
    away = None if discarded is None else ago(discarded)
    return Container(
        id=f"{mcg_per_ml} {minutes}",
        form="syringe",
        at=ago(minutes),
        treatment=treatment,
        strength=Amount(mcg_per_ml, "mcg/mL"),
        volume=Amount(10, "mL"),
        discarded_at=away,
    )


@pytest.mark.parametrize(
    ("containers", "milliliters", "strength"),
    [
        ([], [1, 2], 10),
        ([syringe(10)], [1, 2], 10),
        ([syringe(9.95)], [1, 2], 10),
        ([syringe(20)], [0.5, 1], 20),
        ([syringe(100)], [0.1, 0.2], 100),
        ([syringe(10), syringe(20, minutes=2)], [0.5, 1], 20),
        ([syringe(20), syringe(10, minutes=2)], [1, 2], 10),
        ([syringe(20, discarded=1)], [1, 2], 10),
        ([syringe(20, discarded=-1)], [0.5, 1], 20),
        ([syringe(20, minutes=-1)], [1, 2], 10),
        ([syringe(20, treatment="phenylephrine-push-dose")], [1, 2], 10),
        ([syringe(1000)], None, None),
    ],
    ids=[
        *("none", "as the recipe makes", "rounded", "twice as strong", "undiluted", "the newest"),
        *("the newest by the recipe", "discarded", "not yet discarded", "mixed later", "another drug", "a wrong vial"),
    ],
)
def test_volumes_are_those_of_the_syringe_in_hand(containers, milliliters, strength):
    """10 and 20 mcg: volume = dose / strength; the check of each amount says the same volume."""
    known = facts(containers=tuple(containers))
    shown = told("epinephrine-push-dose", known)
    asked = [check("epinephrine-push-dose", mcg, "mcg", known) for mcg in (10, 20)]
    given_as = [each.give.volume and each.give.volume.value for each in asked]

    if milliliters is None:
        assert (shown["volumes"], [each["volumes"] for each in shown["usual"]], given_as) == (
            None,
            [[], []],
            [None, None],
        )
        return
    assert [each["volume"]["value"] for row in shown["usual"] for each in row["volumes"]] == milliliters == given_as
    assert {each["strength"]["value"] for row in shown["usual"] for each in row["volumes"]} == {strength}
    assert (shown["volumes"]["least"]["value"], shown["volumes"]["most"]["value"]) == tuple(milliliters)
    assert shown["volumes"]["strength"]["value"] == strength
