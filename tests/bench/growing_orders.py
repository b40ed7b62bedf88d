"""Acts about orders that come back: per kg and misread, co-signed, and overtaken by what became known."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from tests.conftest import Consult

PUSH = "epinephrine-push-dose"


def misread(consult: Consult, at: datetime, number: int) -> None:
    """An order per kg of the physician's own, misread, read back, set back by another weight, withdrawn."""
    from consult.actions import cases, orders, read_back

    placed = UUID(consult.ask(0.1, "mcg/kg", at=at, by=consult.cast.merrin).resource.id)
    for value in (1, 0.1):
        said = {"treatment": PUSH, "route": "IV", "amount": {"value": value, "unit": "mcg/kg"}}
        read_back.read_back(consult.cast.osk, placed, {"id": uuid4(), **said}, at)
    weight = {"value": 70 + number % 20, "unit": "kg", "basis": "measured"}
    cases.patch_case(consult.cast.osk, consult.uid, {"id": uuid4(), "patient": {"weight": weight}}, at)
    orders.withdraw(consult.cast.merrin, placed, {"id": uuid4(), "reason": "pressure at goal"}, at)


def cosigned(consult: Consult, at: datetime, number: int) -> None:
    """An order beyond a hard limit, co-signed and withdrawn."""
    from consult.actions import orders

    placed = UUID(consult.ask(150, at=at, by=consult.cast.merrin, hard_limit_reason="arterial line in").resource.id)
    orders.cosign(consult.cast.quillan, placed, {"id": uuid4(), "reason": "agreed"}, at)
    orders.withdraw(consult.cast.merrin, placed, {"id": uuid4(), "reason": "pressure at goal"}, at)


def learned(consult: Consult, at: datetime, number: int) -> None:
    """An antibiotic, ordered and read back, is decided again for an allergy that also speaks against what runs."""
    from consult.actions import cases, interventions, orders, read_back

    def knows(**patient: Any) -> None:
        cases.patch_case(consult.cast.osk, consult.uid, {"id": uuid4(), "patient": patient}, at)

    knows(allergies=[])
    strength = {"value": 1600, "unit": "mcg/mL"}
    drip = consult.give("dopamine-infusion", 5, "mcg/kg/min", at=at, status="running", concentration=strength)
    ordered = {"treatment": "ceftriaxone", "route": "IV", "amount": {"value": 2, "unit": "g"}}
    order = UUID(consult.ask(2, "g", at=at, by=consult.cast.merrin, treatment="ceftriaxone").resource.id)
    read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **ordered}, at)
    knows(allergies=["sulfite", "penicillin"])
    orders.decide(consult.cast.merrin, order, {"id": uuid4(), "decision": "decline", "reason": "another one"}, at)
    ends = {"id": uuid4(), "at": at, "status": "stopped"}
    interventions.change_intervention(consult.cast.osk, UUID(drip.resource.id), ends, at)
