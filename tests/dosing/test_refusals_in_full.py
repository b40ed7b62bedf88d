"""What cannot be understood or computed, in the words, with the code and at the field that the API answers with.

Which unit is of which kind follows from the treatment: common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.facts import Amount
from dosing.units import WrongUnit
from tests.dosing.bedside import adult, check, child, facts

PUSH, DRIP, VASOPRESSIN = "epinephrine-push-dose", "norepinephrine-infusion", "vasopressin-infusion"
NOT_GIVEN = "EPINEPHrine push dose is not given in"
TRADE = "How the trade works: orders are repeated back, readings age, weights are guesses [our choice]"


@pytest.mark.parametrize(
    ("dose", "more", "refusal"),
    [
        (
            (DRIP, 30, "mL/h"),
            {},
            ("mL/h says nothing without the concentration", "concentration_missing", "concentration"),
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
            ("units/mL is no strength of EPINEPHrine push dose", "wrong_kind", "stock"),
        ),
        (
            (VASOPRESSIN, 0.03, "units/min"),
            {"concentration": Amount(1, "mcg/mL")},
            ("mcg/mL is no strength of vasopressin infusion", "wrong_kind", "concentration"),
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
    ("treatment", "value", "unit"), [("crystalloid-bolus", 500, "mL"), ("blood-product", 1, "bag")]
)
def test_what_is_measured_by_volume_has_no_strength_to_be_wrong(treatment: str, value: float, unit: str) -> None:
    assert check(treatment, value, unit, stock=Amount(1, "mg/mL")).verdict == "within"


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
            "weight unknown: the limit of 30 mL/kg cannot be worked out",
        ),
        (
            ("ketamine", 0.2, "mg/kg", facts(adult(None))),
            "weight unknown: the limit of 0.2 mg/kg cannot be worked out",
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
