"""A syringe that nobody recorded: what is left follows from the pushes, 1 mL each 10 mcg, of the 10 mL of the recipe.

Common practice, no source: one goes on drawing from the syringe that is begun while it holds the dose.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from msgspec.structs import replace

from dosing.ground.facts import Amount, Container, Dose
from dosing.held import begun
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import PUSH, at, facts, push, syringe

KEPT_MIN = RULES.ledger.discard_after_h * 60

LEFT: dict[str, tuple[tuple[Dose, ...], tuple[Container, ...], float, str]] = {
    "nothing was given": ((), (), 10, "10"),
    "10 mcg were": ((push(0),), (), 10, "9"),
    "and 25 mcg more": ((push(0), push(3, 25)), (), 10, "13/2"),
    "others gave it": ((push(0, prior=True),), (), 10, "10"),
    "another drug was": ((replace(push(0), treatment="ketamine"),), (), 10, "10"),
    "from the recipe's strength, stated": ((push(0, stock=Amount(0.01, "mg/mL")),), (), 10, "9"),
    "from another strength": ((push(0, stock=Amount(20, "mcg/mL")),), (), 10, "10"),
    "it is empty: the next is a new one": ((push(0, 100),), (), 10, "10"),
    "the last did not fit in any more": ((push(0, 95), push(3)), (), 10, "9"),
    "a recorded one was in hand then": ((push(1),), (syringe(0),), 10, "10"),
    "a recorded one was discarded before": ((push(5),), (syringe(0, discarded_at=at(3)),), 10, "9"),
    "it must be discarded by now": ((push(0),), (), KEPT_MIN + 1, "10"),
    "one was begun after that": ((push(0), push(KEPT_MIN + 1)), (), KEPT_MIN + 2, "9"),
}


@pytest.mark.parametrize(("doses", "containers", "now", "left"), LEFT.values(), ids=LEFT)
def test_what_is_left_after(doses: tuple[Dose, ...], containers: tuple[Container, ...], now: float, left: str) -> None:
    known = facts(*containers, doses=doses)

    assert begun.left(RULES.treatments[PUSH], Fraction(10), known, RULES, at(now)) == Fraction(left)
