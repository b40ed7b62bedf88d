"""What cannot be understood or computed, in the words, with the code and at the field that the API answers with.

Which unit is of which kind follows from the treatment: common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.check.findings import Finding
from dosing.ground.facts import Amount
from dosing.ground.units import WrongUnit
from tests.dosing.bedside import adult, ago, check, child, facts, given

PUSH, DRIP, VASOPRESSIN = "epinephrine-push-dose", "norepinephrine-infusion", "vasopressin-infusion"
NOT_GIVEN = "EPINEPHrine push dose is not given in"
TRADE = "How the trade works: orders are repeated back, readings age, weights are guesses [our choice]"


@pytest.mark.parametrize(
    ("dose", "more", "refusal"),
    [
        (
            (DRIP, 30, "mL/h"),
            {},
            ("mL/h needs the concentration", "concentration_missing", "concentration"),
        ),
        (
            (PUSH, 10, "mL"),
            {},
            (f"{NOT_GIVEN} mL to an adult of 80 kg", "wrong_kind", "amount"),
        ),
        (
            (PUSH, 10, "mcg/kg/min", facts(child())),
            {},
            (
                "EPINEPHrine push dose is not given in mcg/kg/min to a child of 5 years and 18 kg",
                "wrong_kind",
                "amount",
            ),
        ),
        (
            (PUSH, 10, "mcg"),
            {"stock": Amount(1, "units/mL")},
            ("units/mL is not a strength of EPINEPHrine push dose", "wrong_kind", "stock"),
        ),
        (
            (VASOPRESSIN, 0.03, "units/min"),
            {"concentration": Amount(1, "mcg/mL")},
            ("mcg/mL is not a strength of vasopressin infusion", "wrong_kind", "concentration"),
        ),
    ],
    ids=["a pump rate alone", "mL of a drug", "a rate of a push", "a vial of another kind", "a bag of another kind"],
)
def test_a_unit_of_another_kind_is_refused_where_it_stands(
    dose: tuple[Any, ...], more: dict[str, Any], refusal: tuple[str, str, str]
) -> None:
    with pytest.raises(WrongUnit) as refused:
        check(*dose, **more)

    assert (refused.value.detail, refused.value.code, refused.value.field) == refusal
    assert str(refused.value) == refusal[0]


@pytest.mark.parametrize(
    ("treatment", "value", "unit"), [("crystalloid-bolus", 250, "mL"), ("blood-product", 1, "bag")]
)
def test_what_is_measured_by_volume_has_no_strength_to_be_wrong(treatment: str, value: float, unit: str) -> None:
    known = facts(impression="hemorrhagic")
    assert check(treatment, value, unit, known, stock=Amount(1, "mg/mL")).verdict == "within"


@pytest.mark.parametrize(
    ("dose", "route", "words"),
    [
        ((PUSH, 10, "mcg"), "IM", "not by IM: IO or IV only"),
        (("epinephrine-im", 0.3, "mg"), "IV", "not by IV: IM only"),
        (("naloxone", 0.4, "mg"), "PO", "not by PO: IM or intranasal or IO or IV or subcut only"),
    ],
)
def test_another_route_is_named_beside_those_that_are_allowed(
    dose: tuple[str, float, str], route: str, words: str
) -> None:
    (found,) = [each for each in check(*dose, route=route).findings if each.code == "route_not_allowed"]

    assert (found.text, found.source, found.level) == (words, TRADE, "over_hard_limit")


@pytest.mark.parametrize(
    ("dose", "words"),
    [
        ((PUSH, 1, "mcg/kg", facts(adult(None))), "1 mcg/kg cannot be computed: weight unknown"),
        ((DRIP, 0.1, "mcg/kg/min", facts(adult(None))), "0.1 mcg/kg/min cannot be computed: weight unknown"),
        (
            ("crystalloid-bolus", 20, "mL/kg", facts(child(5, None))),
            "weight unknown: cannot calculate the 30 mL/kg limit",
        ),
        (
            ("ketamine", 0.2, "mg/kg", facts(adult(None))),
            "weight unknown: cannot calculate the 0.2 mg/kg limit",
        ),
    ],
    ids=[
        "a dose per kg, limits not",
        "a rate per kg, limits not",
        "limits per kg of a fluid",
        "limits per kg of a drug",
    ],
)
def test_an_unknown_weight_says_what_it_keeps_from_being_known(dose: tuple[Any, ...], words: str) -> None:
    found = [each for each in check(*dose).findings if each.code == "weight_unknown"]

    assert [(each.text, each.source, each.level) for each in found] == [(words, TRADE, "needs_order")]


BOLUS, CHOICE = "crystalloid-bolus", "Chosen for the demonstration; sources give no number [our choice]"
LITERS = tuple(given(BOLUS, minutes, ml, "mL") for minutes, ml in ((60, 1000), (40, 1000), (20, 500)))


@pytest.mark.parametrize(
    ("dose", "more", "found"),
    [
        (
            (BOLUS, 1000, "mL", facts(adult(80), doses=LITERS)),
            {},
            [
                Finding(
                    "total_reached",
                    "cumulative 3,500 mL; standing limit 3,000 mL (90 mL/kg, at most 3,000 mL)",
                    CHOICE,
                    Amount(3000, "mL"),
                    "needs_order",
                ),
                Finding(
                    "count_reached",
                    "cumulative 3,500 mL; limit 3 full boluses of 1,000 mL without an order",
                    CHOICE,
                    Amount(3, "full boluses"),
                    "needs_order",
                ),
            ],
        ),
        (
            ("tranexamic-acid", 1, "g", facts(adult(80, bleeding_cause="trauma", onset_at=ago(30)))),
            {"over_min": 5},
            [
                Finding(
                    "too_fast",
                    "over 5 min; no faster than 10 min",
                    "CRASH-2 scheme, casualty care guidelines: 1 g over 10 min within 3 h of injury [read]",
                    Amount(10, "min"),
                    "needs_order",
                )
            ],
        ),
        (
            ("atropine", 0.15, "mg", facts(child(1, 4))),
            {"stock": Amount(0.1, "mg/mL")},
            [
                Finding(
                    "above_most",
                    "0.15 mg is over the standing limit of 0.1 mg (0.02 mg/kg, at least 0.1 mg) "
                    "for a child of 1 year and 4 kg",
                    "Life support, children: 0.02 mg/kg, 0.1 to 0.5 mg, repeated once, 1 mg in all [read]",
                    Amount(0.1, "mg"),
                    "needs_order",
                )
            ],
        ),
    ],
    ids=["a total and a count by volume", "too fast", "a least in a limit per kg"],
)
def test_a_finding_tells_limit_and_source_of_that_very_number(
    dose: tuple[Any, ...], more: dict[str, Any], found: list[Finding]
) -> None:
    """2,500 mL and 1,000 mL are 3,500 mL; 0.02 mg/kg of 4 kg are 0.08 mg, below the 0.1 mg of the label."""
    codes = {each.code for each in found}

    assert [each for each in check(*dose, **more).findings if each.code in codes] == found
