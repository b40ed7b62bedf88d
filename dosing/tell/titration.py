"""A rate that is stepped up by order: the order in words, and where it stands, with its next step."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct

from dosing.check.infusion import last_set, restated, set_for
from dosing.ground import text, units
from dosing.ground.exact import exact
from dosing.ground.facts import Amount, Dose, Number, Order, Weight
from dosing.ground.kinds import Id, Time
from dosing.ground.language import gettext as _
from dosing.ground.titration import Titration
from dosing.ground.units import WrongUnit

MEASURES = {"map": "MAP", "sbp": "systolic"}
PUMP = "mL/h"


class Titrating(Struct, frozen=True, kw_only=True):
    """Where an order with steps stands: the rate ``now`` and the ``next`` one that it allows.

    Both also as the pump shows them, null if strength or weight is not known. ``next`` is null at the maximum, while
    held, and while a ``newer`` order about the same infusion waits for its read-back, which ends this one. It may be
    set from ``next_at`` on, null: at once. ``call``: the crew calls before it goes on. ``at_goal``: by the newest
    pressure no further step is needed. ``well_above_by``: how many mmHg above the goal, if the rules call that well
    above: time to think of a lower rate, which the order allows at any time.
    """

    order: Id
    intervention: Id
    now: Amount
    now_pump: Amount | None
    next: Amount | None
    next_pump: Amount | None
    next_at: Time | None
    call: bool
    at_most: bool
    at_goal: bool
    well_above_by: Number | None = None
    held: bool
    newer: Id | None = None


def told(titrate: Titration) -> str:
    """The order in words: ``up by 0.05 mcg/kg/min every 3 min to MAP 65, most 0.3 mcg/kg/min, call at ...``."""
    goal = f"{MEASURES[titrate.goal.measure]} {text.number_text(titrate.goal.floor)}"
    step, most = text.amount_text(titrate.step), text.amount_text(titrate.most)
    call = _(", call at {call_at}", call_at=text.amount_text(titrate.call_at)) if titrate.call_at else ""
    return _(
        "up by {step} every {every_min} to {goal}, most {most}{call}",
        step=step,
        every_min=text.minutes_text(titrate.every_min),
        goal=goal,
        most=most,
        call=call,
    )


def differences(one: Titration | None, other: Titration | None) -> list[str]:
    """Which parts differ, however their amounts are spelled: ``titrate.step``; ``titrate`` where one is None."""
    if one is None or other is None:
        return [] if one is other else ["titrate"]
    alike = {name: getattr(one, name) == getattr(other, name) for name in ("every_min", "goal")}
    alike |= {name: _alike(getattr(one, name), getattr(other, name)) for name in ("step", "most", "call_at")}
    return [f"titrate.{name}" for name in Titration.__struct_fields__ if not alike[name]]


def _alike(one: Amount | None, other: Amount | None) -> bool:
    return one is other if one is None or other is None else units.same(one, other)


def stands(
    order: Order, dose: Dose, pressure: float | None, weight: Weight | None, well_above: float
) -> Titrating | None:
    """Where the order stands with what runs by it and the newest `pressure` in mmHg; None where rates say nothing."""
    titrate, rate = order.titrate, last_set(dose)
    running = set_for(rate, weight) if rate else None
    if titrate is None or order.amount is None or running is None:
        return None
    unit, strength = titrate.step.unit, dose.concentration
    try:
        now, step, most, first = (
            restated(each, unit, weight, strength) if each.unit != unit else each
            for each in (running, titrate.step, titrate.most, order.amount)
        )
        call_at = titrate.call_at and restated(titrate.call_at, unit, weight, strength)
    except WrongUnit:
        return None
    held, at_most = dose.status == "held", now.value >= most.value
    begun = order.action == "start" or order.given > 0
    following = None if held or at_most else _least(_sum(now, step), most) if begun else first
    return Titrating(
        order=order.id,
        intervention=dose.id,
        now=now,
        now_pump=_pump(now, dose, weight),
        next=following,
        next_pump=_pump(following, dose, weight),
        next_at=_next_at(dose, titrate) if following and begun else None,
        call=call_at is not None and now.value >= call_at.value,
        at_most=at_most,
        at_goal=pressure is not None and pressure >= titrate.goal.floor,
        well_above_by=_above(pressure, titrate.goal.floor, well_above),
        held=held,
    )


def _above(pressure: float | None, floor: float, least: float) -> float | None:
    """By how much a pressure is above the goal, where that is at least so much: exactly, as 79.99 is not 80."""
    by = None if pressure is None else exact(pressure) - exact(floor)
    return None if by is None or by < exact(least) else float(by)


def _next_at(dose: Dose, titrate: Titration) -> datetime:
    return dose.rates[-1].at + timedelta(minutes=titrate.every_min)


def _sum(one: Amount, other: Amount) -> Amount:
    return units.amount(units.quantity(one) + units.quantity(other), one.unit)


def _least(one: Amount, other: Amount) -> Amount:
    return min(one, other, key=lambda amount: amount.value)


def _pump(rate: Amount | None, dose: Dose, weight: Weight | None) -> Amount | None:
    try:
        return rate and restated(rate, PUMP, weight, dose.concentration)
    except WrongUnit:
        return None
