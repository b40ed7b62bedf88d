"""Which dose is the one that was ordered, and in which words a check says that an order does not hold (any more).

Contract, "Orders": an order counts once it is read back, for its drug, dose and route.
"""

from typing import Any

import pytest

from dosing.check import limits
from dosing.ground.facts import Amount, Order, Proposal
from tests.dosing.bedside import RULES, TEN, adult, ago, check, facts, given

PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"
FLUID = given("crystalloid-bolus", 60, 1, "mL")


def order(value: float | None = 30, unit: str = "mcg", **more: Any) -> Order:
    """Dr Okoye's order of an epinephrine push."""
    known = {"id": "o1", "treatment": PUSH, "state": "read_back", "route": "IV", "by": "Dr Okoye"} | more
    return Order(amount=None if value is None else Amount(value, unit), **known)


def carried_out(ordered: Order, value: float, unit: str, kg: float | None = 80, **more: Any) -> bool:
    proposal = Proposal(**{"treatment": PUSH, "amount": Amount(value, unit), "route": "IV", "at": TEN} | more)
    return limits.carries_out(proposal, facts(adult(kg)), RULES, ordered)


@pytest.mark.parametrize(
    ("ordered", "value", "unit", "carries"),
    [
        pytest.param(order(30), 30, "mcg", True, id="the very dose"),
        pytest.param(order(30), 0.03, "mg", True, id="in another unit"),
        pytest.param(order(30), 30.1, "mcg", False, id="more"),
        pytest.param(order(30), 20, "mcg", True, id="less"),
        pytest.param(order(None), 30, "mcg", True, id="no amount was named"),
        pytest.param(order(30, route=""), 30, "mcg", True, id="no route was named"),
        pytest.param(order(30, route="IO"), 30, "mcg", False, id="another route"),
        pytest.param(order(30, treatment="phenylephrine-push-dose"), 30, "mcg", False, id="another drug"),
        pytest.param(order(30, times=2, given=2), 30, "mcg", False, id="all given"),
    ],
)
def test_a_dose_carries_out_an_order_of_its_drug_route_and_amount(ordered, value, unit, carries):
    assert carried_out(ordered, value, unit) is carries


@pytest.mark.parametrize(
    ("kg", "rate", "carries"),
    [(80, 8, True), (80, 8.01, False), (60, 6, True), (60, 8, False)],
    ids=["80 kg: 8 mcg/min", "80 kg: more", "60 kg: 6 mcg/min", "60 kg: more"],
)
def test_an_order_per_kg_is_held_against_this_patients_weight(kg, rate, carries):
    """0.1 mcg/kg/min are 8 mcg/min at 80 kg and 6 at 60 kg."""
    ordered = order(0.1, "mcg/kg/min", treatment=DRIP, concentration=Amount(16, "mcg/mL"))

    assert carried_out(ordered, rate, "mcg/min", kg, treatment=DRIP) is carries


@pytest.mark.parametrize(("rate", "carries"), [(30, True), (31, False)])
def test_a_pump_rate_is_held_against_the_drug_that_was_ordered(rate, carries):
    """INF-001: 30 mL/h of 16 mcg/mL are 8 mcg/min, 0.1 mcg/kg/min at 80 kg."""
    ordered = order(0.1, "mcg/kg/min", treatment=DRIP, concentration=Amount(16, "mcg/mL"))

    assert carried_out(ordered, rate, "mL/h", treatment=DRIP, concentration=Amount(16, "mcg/mL")) is carries


STATES = {
    "requested": "the order is requested, not approved",
    "approved": "the order has not been read back",
    "declined": "the order was declined",
    "withdrawn": "the order was withdrawn",
    "expired": "the order has expired",
    "voided": "the order is no longer valid: the weight was changed",
    "given": "the order has already been carried out",
    "not_given": "the order was recorded as not given",
}


@pytest.mark.parametrize(("state", "words"), STATES.items())
def test_why_an_order_does_not_hold(state, words):
    """Contract, "Orders": the states of an order; all but read back leave what it was given for by order."""
    checked = check(PUSH, 30, "mcg", order=order(state=state))
    found = {one.code: one for one in checked.findings}

    assert found["order_not_read_back"].text == words
    assert found["above_most"].level == "needs_order"


@pytest.mark.parametrize(("by", "named"), [("Dr Okoye", "Dr Okoye"), ("", "the physician")])
def test_who_ordered_it_is_named(by, named):
    too_soon = facts(doses=(FLUID, given(PUSH, 3, 30, "mcg")))
    above, sooner = (
        check(PUSH, 30, "mcg", known, order=order(30, by=by, times=3, given=1, every_min=5)).findings
        for known in (facts(doses=(FLUID, given(PUSH, 9, 30, "mcg"))), too_soon)
    )

    assert f"ordered by {named}: 30 mcg is over the standing limit of 20 mcg for an adult of 80 kg" in [
        one.text for one in above
    ]
    assert (f"ordered by {named} no sooner than 5 min after the last dose", f"order by {named}") in [
        (one.text, one.source) for one in sooner
    ]


def test_the_interval_of_an_order_that_does_not_hold_says_nothing():
    """The rules say 2 min, the order that was not read back 5."""
    known = facts(doses=(FLUID, given(PUSH, 3, 30, "mcg")))
    checked = check(PUSH, 30, "mcg", known, order=order(state="approved", times=3, given=1, every_min=5))

    assert checked.next_at == ago(-2)
    assert "too_soon" not in {one.code for one in checked.findings}


def test_too_soon_by_the_rules_and_by_the_order_is_told_once():
    known = facts(doses=(FLUID, given(PUSH, 1, 30, "mcg")))
    checked = check(PUSH, 30, "mcg", known, order=order(times=3, given=1, every_min=5))

    assert [one.text for one in checked.findings if one.code == "too_soon"] == [
        "1 min after the last dose, no sooner than 2 min"
    ]


def test_a_treatment_that_the_rule_set_lacks_is_named():
    with pytest.raises(limits.UnknownTreatment, match=r"^enalaprilat$"):
        check("enalaprilat", 1, "mg")
