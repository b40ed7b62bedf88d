"""What the crew steps up by order: where each stands, for card and pages."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from consult.case.fold.ordered import APPROVED, READ_BACK
from consult.case.order_words import NEWER
from consult.state.case import CaseState
from dosing.ground.facts import Number
from dosing.ground.kinds import Id
from dosing.ground.phases import present_since
from dosing.rules.rule_set import RuleSet
from dosing.tell import titration
from dosing.tell.titration import Titrating


def titrations(state: CaseState, rules: RuleSet) -> Iterator[Titrating]:
    """Where each order stands that lets the crew step up what runs, in the order in which they were asked for."""
    doses = {dose.id: dose for dose in state.doses if dose.goes_on and not dose.in_error}
    for order in state.orders:
        dose = doses.get(order.intervention or "")
        if order.titrate and order.state == READ_BACK and dose:
            pressure = _newest(state, order.titrate.goal.measure)
            weight, above = state.patient.weight, rules.pressure.well_above
            if stands := titration.stands(order.for_rules(), dose, pressure, weight, above):
                newer = _newer(state, dose.id)
                yield replace(stands, newer=newer, next=None, next_pump=None, next_at=None) if newer else stands


def _newer(state: CaseState, dose_id: str) -> Id | None:
    """The order about the same infusion that a physician has given since: once read back it ends the steps."""
    waits = (each for each in state.orders if each.intervention == dose_id and each.action in NEWER)
    return next((each.id for each in waits if each.state == APPROVED and each.waiting_for is None), None)


def _newest(state: CaseState, measure: str) -> Number | None:
    """The newest pressure of now, by the measure that the order goes by: none from before an arrest."""
    newest, since = state.pressure, present_since(state.phases)
    return getattr(newest, measure) if newest and (since is None or newest.taken_at >= since) else None
