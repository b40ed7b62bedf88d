"""Entries of the guidance, whole, as the API answers them (contract, "guidance"), and what stands in them at the edges.

By hand from the demonstration rules: volume = dose / strength; INF-001: mL/h = mcg/kg/min x kg x 60 / (mcg/mL).
"""

from fractions import Fraction
from typing import Any

import pytest

from dosing.check.findings import Finding
from dosing.ground.facts import Amount
from dosing.tell import guidance
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, ago, child, facts, given, told

PUSH, BOLUS, BLOOD, NOREPINEPHRINE = (
    "epinephrine-push-dose",
    "crystalloid-bolus",
    "blood-product",
    "norepinephrine-infusion",
)
FLUID = given(BOLUS, 60, 1, "mL")
PRACTICE = "Weingart, push-dose pressors (EMCrit 6; Clin Exp Emerg Med 2015); EB Medicine rapid reference [read]"
ONSET = "Onset under 1 min, lasts 5-10 min (EB Medicine, EMCrit): first pressure at 1-2 min [read]"
CHOICE = "Chosen for the demonstration; sources give no number [our choice]"
SYRINGE = "One 10 mL syringe at 10 mcg per mL holds 100 mcg, five pushes of 20 mcg (arithmetic) [our choice]"
UNWEIGHED = facts(child(5, None))
PUSHES = tuple(given(PUSH, 3 * number, 20, "mcg") for number in range(1, 6))


def amount(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def without_sheets(entry: dict[str, Any]) -> dict[str, Any]:
    """An entry without what has tests of its own: the recipe, the cautions, the amounts to choose from."""
    apart = ("recipe", "cautions", "caution_sources", "usual", "limit_sources")
    return {key: value for key, value in entry.items() if key not in apart}


def test_a_push_dose_a_minute_after_the_first():
    shown = told(PUSH, facts(doses=(FLUID, given(PUSH, 1, 10, "mcg"))))

    assert without_sheets(shown) == {
        "treatment": PUSH,
        "indication": "",
        "for_what": "",
        "by_route": [],
        "interval": amount(2, "min"),
        "shortest": None,
        "held": False,
        "title": "EPINEPHrine push dose",
        "least": amount(10, "mcg"),
        "guide": None,
        "most": amount(20, "mcg"),
        "volumes": {
            "least": amount(1, "mL"),
            "most": amount(2, "mL"),
            "strength": amount(10, "mcg/mL"),
            "syringe": amount(3, "mL"),
        },
        "left": {"count": 4, "of": 5, "total": amount(90, "mcg"), "counted_whole": ""},
        "next_at": ago(-1),
        "missing": [],
        "source": PRACTICE,
        "relevant": True,
        "findings": [
            {
                "code": "too_soon",
                "level": "needs_order",
                "text": "1 min after the last dose, no sooner than 2 min",
                "limit": amount(2, "min"),
                "source": "Critical-care transport regimen: epinephrine 10-20 mcg every 2 min [read]",
            },
            {
                "code": "no_pressure_since_last_dose",
                "level": "needs_order",
                "text": "no pressure since the last dose",
                "limit": None,
                "source": ONSET,
            },
        ],
        "by_order": True,
        "routes": ["IO", "IV"],
        "drug_class": "pressor",
        "form": "push",
        "wears_off": {
            "last_at": ago(1),
            "earliest": ago(-4),
            "latest": ago(-9),
            "text": "The last push wears off 5 to 10 min after it",
            "source": ONSET,
        },
        "from_pushes": None,
        "no_mother": False,
        "start": None,
    }


@pytest.mark.parametrize(
    ("treatment", "known", "least", "most"),
    [
        (BLOOD, facts(), None, amount(1, "bag")),
        (BLOOD, facts(child()), None, amount(180, "mL")),  # 10 mL/kg
        (BLOOD, UNWEIGHED, None, None),
        ("vasopressin-infusion", facts(), amount(0.01, "units/min"), amount(0.04, "units/min")),
        ("vasopressin-infusion", facts(child()), amount(0.0002, "units/kg/min"), amount(0.002, "units/kg/min")),
        (NOREPINEPHRINE, facts(), amount(0.05, "mcg/kg/min"), amount(0.5, "mcg/kg/min")),
        (NOREPINEPHRINE, facts(adult(None)), amount(2, "mcg/min"), amount(30, "mcg/min")),
        ("ketamine", facts(adult(None)), None, None),
        ("phenylephrine-push-dose", facts(child()), None, None),
    ],
)
def test_limits_in_the_unit_in_which_this_patient_gets_it(treatment, known, least, most):
    shown = told(treatment, known)

    assert (shown["least"], shown["most"]) == (least, most)


@pytest.mark.parametrize(
    ("treatment", "strength", "patient", "least", "most"),
    [
        (NOREPINEPHRINE, 16, adult(), 15, 150),  # 0.05 to 0.5 mcg/kg/min at 80 kg
        (NOREPINEPHRINE, 16, adult(None), 7.5, 112.5),  # 2 to 30 mcg/min
        (NOREPINEPHRINE, 16, child(), 3.375, 33.75),  # 0.05 to 0.5 mcg/kg/min at 18 kg
        ("vasopressin-infusion", 1, adult(), 0.6, 2.4),  # 0.01 to 0.04 units/min
    ],
)
def test_an_infusion_of_one_strength_has_its_pump_rates(treatment, strength, patient, least, most):
    drip = RULES.treatments[treatment]
    (one,) = (each for each in drip.concentrations if each.amount.value == strength)
    rules = replace(RULES, treatments={treatment: replace(drip, concentrations=(one,))})

    assert told(treatment, facts(patient), rules)["volumes"] == {
        "least": amount(least, "mL/h"),
        "most": amount(most, "mL/h"),
        "strength": amount(strength, one.amount.unit),
        "syringe": None,
    }


def test_a_limit_that_is_shown_passes_its_own_check():
    """0.04 units/min at 20.6 kg is a fraction without an end: the number shown must not lie above it."""
    most = told("vasopressin-infusion", facts(child(7, 20.6)))["most"]
    below = Fraction("0.04") - Fraction("20.6") * Fraction(str(most["value"]))

    assert most["unit"] == "units/kg/min"
    assert 0 <= below < Fraction(1, 10**15)


@pytest.mark.parametrize(
    ("treatment", "known", "left"),
    [
        (BOLUS, facts(doses=()), {"count": None, "of": None, "total": amount(3000, "mL")}),
        (BOLUS, facts(child(5, None), doses=(FLUID,)), {"count": None, "of": None, "total": None}),
        (BLOOD, facts(doses=(given(BLOOD, 20, 1, "bag"),)), {"count": 0, "of": 1, "total": None}),
        (PUSH, facts(doses=PUSHES), {"count": 0, "of": 5, "total": amount(0, "mcg")}),
        (NOREPINEPHRINE, facts(), {"count": None, "of": None, "total": None}),
    ],
    ids=["nothing given", "no weight", "blood", "five pushes", "an infusion"],
)
def test_what_is_left_before_an_order(treatment, known, left):
    assert told(treatment, known)["left"] == left | {"counted_whole": ""}


BOLUSES = tuple(given(BOLUS, 20 * number, 1000, "mL") for number in range(1, 4))
BAGS = tuple(given(BLOOD, 30 + number, 1, "bag") for number in range(5))
CALCIUM = (given("calcium-chloride", 10, 1, "g"), given("calcium-chloride", 20, 1, "g"))
AFTER_BLOOD = "Casualty care guidelines: 1 g of calcium chloride or 3 g of gluconate after the first blood [memory]"


@pytest.mark.parametrize(
    ("treatment", "doses", "code", "words", "limit", "source"),
    [
        (PUSH, PUSHES, "count_reached", "5 pushes", Amount(5, "pushes"), SYRINGE),
        (PUSH, PUSHES, "total_reached", "100 mcg in all", Amount(100, "mcg"), SYRINGE),
        (BOLUS, BOLUSES, "count_reached", "3 full boluses", Amount(3, "full boluses"), CHOICE),
        (BOLUS, BOLUSES, "total_reached", "3,000 mL in all", Amount(3000, "mL"), CHOICE),  # 90 mL/kg, at most 3,000 mL
        (
            "calcium-chloride",  # five bags open a second dose
            (*BAGS, *CALCIUM),
            "count_reached",
            "2 doses (1 dose for each 4 bags of blood)",
            Amount(2, "dose for each 4 bags of blood"),
            AFTER_BLOOD,
        ),
    ],
)
def test_what_is_used_up_is_told_in_full(treatment, doses, code, words, limit, source):
    found = Finding(code, f"{words} before an order, all given", source, limit, "needs_order")

    assert found.as_dict() in told(treatment, facts(doses=(FLUID, *doses)))["findings"]


def test_strengths_that_have_a_name_are_listed_by_it():
    assert told("dextrose")["recipe"][:3] == [
        "dextrose: 100 mg per mL, dextrose 10 %",
        "dextrose: 250 mg per mL, dextrose 25 %",
        "dextrose: 500 mg per mL, dextrose 50 %",
    ]


@pytest.mark.parametrize(
    ("treatment", "known", "missing"),
    [
        ("dextrose", facts(), []),
        ("atropine", facts(child(5, None), signs={"hr": None}), ["weight", "hr"]),
        ("atropine", facts(child(5, None)), ["weight"]),
    ],
)
def test_what_must_be_known_first_is_named_the_weight_before_all(treatment, known, missing):
    assert told(treatment, known)["missing"] == missing


@pytest.mark.parametrize(
    ("impression", "first"),
    [("anaphylactic", "epinephrine-im"), ("septic", "crystalloid-bolus"), ("undifferentiated", "crystalloid-bolus")],
)
def test_the_first_line_treatment_of_the_impression_stands_first(impression: str, first: str) -> None:
    """Anaphylaxis: epinephrine into the muscle before all else (World Allergy Organization, 2020, from memory)."""
    known = facts(impression=impression, signs={"hr": 110, "rr": 22, "glucose_mg_dl": 100})
    ordered = [each["treatment"] for each in guidance.guidance(known, RULES, TEN)]

    assert ordered[0] == first
    assert sorted(ordered) == sorted(RULES.treatments)
