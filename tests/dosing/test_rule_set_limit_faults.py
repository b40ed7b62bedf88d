"""Limits of one treatment held against each other: each fault with its entry and an example, of an invented treatment.

The rules that a set must keep are the project's own: a child never above the adult, a hard limit per kg for a child
and ten times its standing most above that, least not above most not above hard. The example's weight is arithmetic.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.units import Quantity
from dosing.load.limit_faults import limit_faults
from dosing.rules.parts import Band, Limit, Source, Strength, Where
from tests.copying import replace
from tests.dosing.bedside import RULES

INVENTED = Source("invented", "an invented source", "our choice")
PUSH, BLOOD, DRIP = (
    RULES.treatments[slug] for slug in ("epinephrine-push-dose", "blood-product", "norepinephrine-infusion")
)
GROWN = {"least": "10 mcg", "most": "20 mcg", "hard": "100 mcg"}
SMALL = {"least": "1 mcg", "most": "2 mcg/kg <= 10 mcg", "hard": "5 mcg/kg <= 20 mcg"}
TEN_TIMES = "ten times a child's standing limit is within its hard limit"


def quantity(said: str) -> Quantity:
    number, unit = said.split(" ")
    return units.quantity(Amount(float(number), unit))


def limit(said: str) -> Limit:
    """Of ``2 mcg/kg <= 10 mcg``: two micrograms per kg, at most ten."""
    amount, _, most = said.partition(" <= ")
    number, unit = amount.split(" ")
    return Limit(
        amount=Amount(float(number), unit),
        source=INVENTED,
        exact=quantity(amount),
        exact_most=quantity(most) if most else None,
        per_kg="/kg" in unit,
    )


def band(limits: dict[str, str], **where: Any) -> Band:
    return Band(where=Where(**where), **{name: limit(said) for name, said in limits.items()})


def grown(**limits: str) -> Band:
    return band(GROWN | limits, who="adult")


def small(**limits: str) -> Band:
    return band(SMALL | limits, who="child")


def faults(*bands: Band, treatment: Any = PUSH) -> list[tuple[str, str]]:
    return list(limit_faults(replace(treatment, bands=bands)))


def test_limits_that_agree_have_no_fault() -> None:
    assert faults(grown(), small()) == []
    assert faults(grown(most="100 mcg", least="100 mcg"), small()) == []
    assert faults(grown(), small(most="2 mcg/kg <= 20 mcg", hard="10.1 mcg/kg <= 100 mcg")) == []


@pytest.mark.parametrize(
    ("bands", "found"),
    [
        pytest.param(
            (grown(), small(hard="20 mcg")),
            [
                (".bands.1.hard", "a child has no hard limit per kg"),
                (".bands.1.most", f"{TEN_TIMES}: 1 mcg, 20 mcg for a child of 0.5 kg"),
            ],
            id="a child's hard limit that does not grow with it",
        ),
        pytest.param(
            (band({"most": "20 mcg"}, who="adult"), small()),
            [("", "adult of known weight: no hard limit"), ("", "adult of unknown weight: no hard limit")],
            id="no hard limit for adults",
        ),
        pytest.param(
            (grown(), band({"most": "2 mcg/kg <= 10 mcg"}, who="child")),
            [
                ("", "a child has no hard limit per kg"),
                ("", "child of known weight: no hard limit"),
                ("", "child of unknown weight: no hard limit"),
            ],
            id="no hard limit for children",
        ),
        pytest.param(
            (grown(), small(most="0.5 mcg/kg <= 10 mcg")),
            [(".bands.1.most", f"{TEN_TIMES}: 1.25 mcg, 12.5 mcg for a child of 2.5 kg")],
            id="a ten-fold slip at 5 mcg/kg",
        ),
        pytest.param(
            (grown(), small(most="2 mcg/kg <= 25 mcg", hard="15 mcg/kg <= 90 mcg")),
            [(".bands.1.most", "most of a child exceeds the adult's: 25 mcg against 20 mcg for a child of 30 kg")],
            id="a child's most above the adult's",
        ),
        pytest.param(
            (grown(), small(hard="5 mcg/kg <= 101 mcg")),
            [
                (".bands.1.most", f"{TEN_TIMES}: 10 mcg, 101 mcg for a child of 30 kg"),
                (".bands.1.hard", "hard of a child exceeds the adult's: 101 mcg against 100 mcg for a child of 30 kg"),
            ],
            id="a child's hard limit above the adult's",
        ),
        pytest.param(
            (grown(total="30 mcg"), small(total="5 mcg/kg <= 31 mcg")),
            [(".bands.1.total", "total of a child exceeds the adult's: 31 mcg against 30 mcg for a child of 30 kg")],
            id="a child's total above the adult's",
        ),
        pytest.param(
            (grown(total_hard="30 mcg"), small(total_hard="1 mcg/kg <= 31 mcg")),
            [
                (
                    ".bands.1.total_hard",
                    "total_hard of a child exceeds the adult's: 31 mcg against 30 mcg for a child of 49.9 kg",
                ),
            ],
            id="a child's hard total above the adult's",
        ),
        pytest.param(
            (grown(least="21 mcg"), small()),
            [(".bands.0.least", "least exceeds most: 21 mcg against 20 mcg for an adult of 30 kg")],
            id="least above most",
        ),
        pytest.param(
            (grown(most="101 mcg"), small()),
            [(".bands.0.most", "most exceeds hard: 101 mcg against 100 mcg for an adult of 30 kg")],
            id="most above hard",
        ),
        pytest.param(
            (band({"least": "10 mcg", "hard": "9 mcg"}, who="adult"), band({"hard": "1 mcg/kg <= 9 mcg"}, who="child")),
            [(".bands.0.least", "least exceeds hard: 10 mcg against 9 mcg for an adult of 30 kg")],
            id="least above hard where nothing is between",
        ),
        pytest.param(
            (grown(), small(least="3.1 mcg", most="1 mcg/kg <= 10 mcg")),
            [],
            id="a fixed least above the most of a child under 3 kg",
        ),
        pytest.param(
            (grown(), small(least="6 mcg", most="1 mcg/kg <= 10 mcg", hard="9 mcg/kg <= 90 mcg")),
            [(".bands.1.least", "least exceeds most: 6 mcg against 5 mcg for a child of 5 kg")],
            id="a fixed least above the most of a child of 5 kg",
        ),
    ],
)
def test_each_fault_stands_at_its_limit_with_an_example(bands: tuple[Band, ...], found: list[tuple[str, str]]) -> None:
    assert faults(*bands) == found


@pytest.mark.parametrize(
    ("where", "whom"),
    [
        ({"weight": "unknown"}, "an adult of unknown weight"),
        ({"from_kg": 90}, "an adult of 90 kg"),
        ({"under_kg": 0.4}, "an adult of 0.39 kg"),
        ({"from_kg": 60, "under_kg": 61}, "an adult of 60 kg"),
        ({"impressions": frozenset({"septic"})}, "an adult of 30 kg"),
        ({"pressure_low": True}, "an adult of 30 kg"),
        ({"bleeding_causes": frozenset({"gut"})}, "an adult of 30 kg"),
        ({"who": "child", "from_days": 28, "under_days": 365}, "a child of 30 kg"),
        ({"who": "child", "under_days": 28}, "a child of 30 kg"),
        ({"who": "child", "from_days": 6001}, "a child of 30 kg"),
    ],
    ids=str,
)
def test_a_band_for_few_is_judged_for_those_few(where: dict[str, Any], whom: str) -> None:
    found = dict(faults(grown(), small(), band({"most": "200 mcg"}, **where)))

    assert found[".bands.2.most"].startswith(("most exceeds hard: 200 mcg against ", "most of a child exceeds"))
    assert found[".bands.2.most"].endswith(f" for {whom}")


def test_blood_is_told_in_milliliters_and_an_infusion_in_its_unit_without_the_weight() -> None:
    bags = (band({"most": "4 bag", "hard": "900 mL"}, who="adult"), band({"hard": "9 mL/kg <= 900 mL"}, who="child"))
    bags = (replace(bags[0], most=replace(limit("2400 mL"), amount=Amount(4, "bag"))), bags[1])
    assert (".bands.0.most", "most exceeds hard: 2,400 mL against 900 mL for an adult of 30 kg") in faults(
        *bags, treatment=BLOOD
    )

    rates = (
        band({"most": "2 mcg/kg/min", "hard": "1 mcg/kg/min <= 80 mcg/min"}, who="adult"),
        band({"most": "0.5 mcg/kg/min <= 40 mcg/min", "hard": "1 mcg/kg/min <= 80 mcg/min"}, who="child"),
    )
    assert faults(*rates, treatment=DRIP) == [
        (".bands.0.most", "most exceeds hard: 60 mcg/min against 30 mcg/min for an adult of 30 kg")
    ]


def test_a_most_that_passes_the_hard_limit_only_of_the_heaviest_is_a_fault() -> None:
    """0.5 mcg/kg/min of 400 kg are 200 mcg/min; what is offered must be allowed."""
    rates = (
        band({"most": "0.5 mcg/kg/min", "hard": "1 mcg/kg/min <= 80 mcg/min"}, who="adult"),
        band({"most": "0.5 mcg/kg/min <= 40 mcg/min", "hard": "1 mcg/kg/min <= 80 mcg/min"}, who="child"),
    )
    assert faults(*rates, treatment=DRIP) == [
        (".bands.0.most", "most exceeds hard: 200 mcg/min against 80 mcg/min for an adult of 400 kg")
    ]


def strength(said: str) -> Strength:
    number, unit = said.split(" ")
    return Strength(amount=Amount(float(number), unit), source=INVENTED, exact=quantity(said))


def test_what_is_stated_in_another_kind_is_told_alone() -> None:
    """Nothing is compared then: a most over the hard limit goes unmentioned until the kinds agree."""
    mixed = (grown(most="200 mcg", total="3 mL"), small(least="1 units"))
    assert faults(*mixed) == [
        ("", "total is stated in mL, the treatment in mcg"),
        ("", "least is stated in units, the treatment in mcg"),
    ]
    odd = replace(PUSH, unit="mL", stocks=(strength("1 units/mL"),), concentrations=(strength("2 g/mL"),))
    assert faults(grown(), small(), treatment=odd) == [
        ("", "its unit is mL, which is not among its units"),
        ("", "a strength is stated in units/mL, the treatment in mL"),
    ]
    recipe = replace(PUSH.recipe, stock=strength("5 units/mL"), makes=strength("6 units/mL"))
    assert faults(grown(), small(), treatment=replace(PUSH, recipe=recipe)) == [
        ("", "a strength is stated in units/mL, the treatment in mcg")
    ]
