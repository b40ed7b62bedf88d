"""What a check says to give, whole (contract, "checks"): dose, volume or rate, syringe, the line that is read aloud.

By hand: volume = dose / strength; INF-001: mL/h = mcg/kg/min x kg x 60 / (mcg/mL); a bolus mL x 60 / min. Syringes and
strengths are those of the demonstration rules; elemental calcium 27.2 and 9 mg/mL (life-support medication list).
"""

from typing import Any

import pytest

from dosing.check.giving import Give
from dosing.ground.facts import Amount
from tests.dosing.bedside import adult, check, child, facts

NOREPINEPHRINE = "norepinephrine-infusion"
OF_16 = {"concentration": Amount(16, "mcg/mL")}
UNWEIGHED = facts(adult(None))


def amount(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def give(dose: dict[str, Any], shown: str, *if_swapped: str, **more: Any) -> dict[str, Any]:
    """The answer; what is not named is null."""
    nothing = dict.fromkeys(("volume", "rate", "strength", "over_min", "shortest_min", "elemental", "syringe"))
    return {"dose": dose, **nothing, **more, "shown": shown, "if_swapped": list(if_swapped)}


PUSHED = give(
    amount(15, "mcg"),
    "15 mcg = 1.5 mL of 10 mcg per mL",
    "1.5 mL of 0.1 mg per mL would be 150 mcg",
    volume=amount(1.5, "mL"),
    strength=amount(10, "mcg/mL"),
    syringe=amount(3, "mL"),
)
DRIP = give(
    amount(0.1, "mcg/kg/min"),
    "0.1 mcg/kg/min = 30 mL/h of 16 mcg per mL",
    rate=amount(30, "mL/h"),
    strength=amount(16, "mcg/mL"),
)  # 0.1 x 80 x 60 / 16
ROWS = [
    (("epinephrine-push-dose", 15, "mcg"), {}, PUSHED),
    (("epinephrine-push-dose", 0.015, "mg"), {}, PUSHED),
    (
        ("crystalloid-bolus", 500, "mL"),
        {"over_min": 15},
        give(amount(500, "mL"), "500 mL over 15 min", volume=amount(500, "mL"), rate=amount(2000, "mL/h"), over_min=15),
    ),
    (("crystalloid-bolus", 500, "mL"), {}, give(amount(500, "mL"), "500 mL", volume=amount(500, "mL"))),
    (
        ("crystalloid-bolus", 10, "mL/kg"),
        {"over_min": 12},
        give(amount(800, "mL"), "800 mL over 12 min", volume=amount(800, "mL"), rate=amount(4000, "mL/h"), over_min=12),
    ),
    (
        ("crystalloid-bolus", 10, "mL/kg", facts(child(5, None))),
        {"over_min": 12},
        give(amount(10, "mL/kg"), "10 mL/kg over 12 min", over_min=12),
    ),
    (("blood-product", 2, "bag"), {"over_min": 30}, give(amount(2, "bag"), "2 bags over 30 min", over_min=30)),
    (
        ("blood-product", 300, "mL"),
        {"over_min": 30},
        give(amount(300, "mL"), "300 mL over 30 min", volume=amount(300, "mL"), rate=amount(600, "mL/h"), over_min=30),
    ),
    ((NOREPINEPHRINE, 0.1, "mcg/kg/min"), OF_16, DRIP),
    ((NOREPINEPHRINE, 8, "mcg/min"), OF_16, DRIP),
    ((NOREPINEPHRINE, 30, "mL/h"), OF_16, DRIP),
    ((NOREPINEPHRINE, 0.1, "mcg/kg/min"), {}, give(amount(0.1, "mcg/kg/min"), "0.1 mcg/kg/min")),
    (
        (NOREPINEPHRINE, 0.1, "mcg/kg/min", UNWEIGHED),
        OF_16,
        give(amount(0.1, "mcg/kg/min"), "0.1 mcg/kg/min", strength=amount(16, "mcg/mL")),
    ),
    (("ketamine", 16, "mg"), {}, give(amount(16, "mg"), "16 mg")),
    (
        ("ketamine", 16, "mg"),
        {"stock": Amount(50, "mg/mL")},
        give(
            amount(16, "mg"),
            "16 mg = 0.32 mL of 50 mg per mL",
            "0.32 mL of 10 mg per mL would be 3.2 mg",
            volume=amount(0.32, "mL"),
            strength=amount(50, "mg/mL"),
            syringe=amount(1, "mL"),
        ),
    ),
    (
        ("ketamine", 0.2, "mg/kg", UNWEIGHED),
        {"stock": Amount(50, "mg/mL")},
        give(amount(0.2, "mg/kg"), "0.2 mg/kg"),
    ),
    (
        ("fentanyl", 40, "mcg"),
        {"stock": Amount(0.05, "mg/mL")},
        give(
            amount(40, "mcg"),
            "40 mcg = 0.8 mL of 0.05 mg per mL",
            volume=amount(0.8, "mL"),
            strength=amount(0.05, "mg/mL"),
            syringe=amount(1, "mL"),
        ),
    ),
    (
        ("calcium-chloride", 1, "g"),  # 10 x 27.2
        {},
        give(
            amount(1000, "mg"),
            "1 g = 10 mL of 100 mg per mL (272 mg elemental calcium) over at least 5 min",
            volume=amount(10, "mL"),
            strength=amount(100, "mg/mL"),
            elemental=amount(272, "mg"),
            shortest_min=5,
            syringe=amount(10, "mL"),
        ),
    ),
    (
        ("calcium-gluconate", 3, "g"),  # 30 x 9; no syringe of the list holds 30 mL
        {},
        give(
            amount(3000, "mg"),
            "3 g = 30 mL of 100 mg per mL (279 mg elemental calcium) over at least 5 min",
            volume=amount(30, "mL"),
            strength=amount(100, "mg/mL"),
            elemental=amount(279, "mg"),
            shortest_min=5,
        ),
    ),
]


@pytest.mark.parametrize(("asked", "more", "expected"), ROWS, ids=lambda value: "")
def test_what_to_give_in_full(asked, more, expected):
    found = check(*asked, **more).give

    assert isinstance(found, Give)
    assert found.as_dict() == expected


@pytest.mark.parametrize(
    ("asked", "more", "words"),
    [
        (("epinephrine-push-dose", 15, "mcg"), {}, ("15 mcg", "= 1.5 mL", "of 10 mcg per mL", "")),
        ((NOREPINEPHRINE, 0.1, "mcg/kg/min"), OF_16, ("0.1 mcg/kg/min", "= 30 mL/h", "of 16 mcg per mL", "")),
        (("crystalloid-bolus", 500, "mL"), {"over_min": 15}, ("500 mL", "", "", "over 15 min")),
        (("ketamine", 16, "mg"), {}, ("16 mg", "", "", "")),
        (
            ("calcium-chloride", 1, "g"),
            {},
            ("1 g", "= 10 mL", "of 100 mg per mL (272 mg elemental calcium)", "over at least 5 min"),
        ),
    ],
)
def test_what_to_give_is_told_part_by_part(asked, more, words):
    found = check(*asked, **more).give

    assert isinstance(found, Give)
    assert tuple(found.words.values()) == words
