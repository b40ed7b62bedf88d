"""The case as it stood for the rules at a moment that is past: what is told late is judged by its place in time."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from consult.case.decide.asked import Past
from consult.case.fold.measured import KEPT_READINGS, order_of
from consult.state.case import CaseState, facts_of
from consult.state.parts import KeptReading
from dosing.ground.facts import Facts


def facts_then(state: CaseState, past: Past, at: datetime, new: KeptReading | None = None) -> Facts:
    """The facts for a question about `at`; the readings before it are looked up where the state lacks them.

    `new` is a set that the state holds and the rows do not yet.
    """
    facts, readings = facts_of(state), state.readings
    if len(readings) < KEPT_READINGS or readings[-1].taken_at <= at:
        return facts
    before = past.readings_before(at)
    if new and new.taken_at <= at:
        before = tuple(sorted((*before, new), key=order_of))
    return replace(facts, readings=before)
