"""A push from a syringe that holds no more of it, by the record: by hand, 10 mcg of 10 mcg/mL are 1 mL."""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Proposal
from dosing.held.lacking import lacking
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import PUSH, TEN_MCG, at, facts, push, syringe

EMPTY = "by the record 0 mL left in the syringe in hand, this draws 2 mL: record the new one, or a dose is double"
SHORT = "by the record 1 mL left in the syringe in hand, this draws 2 mL: record the new one, or a dose is double"


def found(known: Any, mcg: float = 20, **more: Any) -> str | None:
    proposal = Proposal(**{"treatment": PUSH, "amount": Amount(mcg, "mcg"), "route": "IV", "at": at(30)} | more)
    one = lacking(proposal, known, RULES)
    assert one is None or (one.level == "caution" and one.source)
    return one and one.text


@pytest.mark.parametrize(
    ("given", "told"),
    [
        pytest.param((50, 50), EMPTY, id="empty"),
        pytest.param((50, 40), SHORT, id="less than the push"),
        pytest.param((50, 30), None, id="just as much"),
        pytest.param((), None, id="full"),
    ],
)
def test_a_push_that_the_syringe_cannot_hold_is_told(given: tuple[float, ...], told: str | None):
    doses = tuple(push(minute, mcg) for minute, mcg in enumerate(given))

    assert found(facts(syringe(), doses=doses)) == told


USED_UP = (push(1, 50), push(2, 50))


@pytest.mark.parametrize(
    ("known", "more"),
    [
        pytest.param(facts(doses=USED_UP), {}, id="none was recorded"),
        pytest.param(facts(syringe(), syringe(10, name="new"), doses=USED_UP), {}, id="a new one is in hand"),
        pytest.param(facts(syringe(discarded_at=at(20)), doses=USED_UP), {}, id="discarded since"),
        pytest.param(facts(syringe(), doses=USED_UP), {"at": at(0.5)}, id="told late, given before the others"),
        pytest.param(
            facts(syringe(strength=Amount(100, "mcg/mL")), doses=(push(1, 1000),)),
            {"stock": TEN_MCG},
            id="another strength",
        ),
        pytest.param(
            facts(syringe(), doses=USED_UP), {"treatment": "crystalloid-bolus", "amount": Amount(1, "L")}, id="fluid"
        ),
    ],
)
def test_it_is_quiet_otherwise(known: Any, more: dict[str, Any]):
    assert found(known, **more) is None
