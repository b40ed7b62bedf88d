"""What was given: always kept, checked and flagged, never refused; each opens the reassessment it asks for."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from consult import access, events, problems
from consult.access import Actor
from consult.actions import clocks, containers, judged_anew, order_book
from consult.actions.cases import sent
from consult.actions.entry import Data, Draft, Written, write
from consult.actions.proposals import OTHER, checked, proposal_of, unlisted
from consult.actions.reassessments import open_for
from consult.card import doses
from consult.card.doses import shown
from consult.card.facts import add_dose
from consult.card.then import facts_then
from consult.clock import when
from consult.models import Intervention, InterventionChange
from consult.render.order_story import sentence
from consult.resources import intervention_dict
from dosing.facts import Order

Ordered = dict[str, Any] | None


def record_intervention(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Record a treatment that was given or is running; the answer carries its check and the reassessment due."""
    return write(actor, case_uid, "intervention", data, now, act=_record, model=Intervention, show=intervention_dict)


def _record(draft: Draft, data: Data) -> Intervention:
    order = order_book.named(draft, data)
    containers.named(draft, data)
    check = _check(draft, data, order)
    row = Intervention(
        **draft.entry_fields(),
        given_at=data["given_at"],
        treatment=data["treatment"],
        status=data.get("status") or "given",
        order=order_book.row_of(draft, order),
        data=sent(draft.as_sent),
        verdict=check,
    )
    row.save(force_insert=True)
    containers.hung_with(draft, row, data)
    dose = doses.recorded(row, draft.rules, draft.sender.name)
    with judged_anew.after(draft, row.given_at):
        add_dose(draft.kept, dose)
    open_for(draft, row, dose)
    if order and row.order:
        order_book.count_given(draft, order, data, row.order.state)
    if not dose["prior"]:  # what others gave is no deviation of this crew's
        draft.flag(dose, check, row.given_at)
    draft.happened_at("given_at")
    draft.event = events.InterventionRecorded(id=row.uid, content=row.data, shown=dose["shown"], check=check)
    return row


def _check(draft: Draft, data: Data, order: Ordered) -> dict[str, Any]:
    ordered = msgspec.convert({**order, "told": sentence(order)}, Order) if order else None
    if data["treatment"] == OTHER:
        return unlisted(data, draft.rules, ordered)
    facts = facts_then(draft.case, draft.kept, data["given_at"])
    return checked(proposal_of(data, data["given_at"]), facts, draft.rules, ordered)


def change_intervention(actor: Actor, intervention_uid: UUID, data: Data, now: datetime) -> Written:
    """Record a new rate, or the end, of something that runs."""
    row = access.intervention_for(actor, intervention_uid)
    return write(
        actor,
        row.case.uid,
        "change",
        data,
        now,
        act=lambda draft, values: _change(draft, values, row.pk),
        model=Intervention,
        show=intervention_dict,
        target=intervention_uid,
    )


def _change(draft: Draft, data: Data, pk: int) -> Intervention:
    row = Intervention.objects.get(pk=pk)
    dose = next(each for each in draft.kept["doses"] if each["id"] == str(row.uid))
    at = _when_changed(draft, row, dose, data)
    order = order_book.change_ordered(draft, row.treatment, data, at)
    change = _kept_change(draft, row, data, at, order)
    if change.verdict is not None:
        told = {**dose, "shown": shown({**row.data, "amount": change.data["amount"]}, draft.rules)}
        draft.flag(told, change.verdict, at, less=_is_less(change.data["amount"], dose.get("amount")))
    dose = doses.changed(dose, row, change, draft.rules)
    add_dose(draft.kept, dose)
    row.status, row.in_force = dose["status"], _in_force(row, dose, change)
    row.save(update_fields=["status", "in_force"])
    open_for(draft, row, dose)
    if order:
        order_book.fulfil(draft, order, at)
    told_now = shown({**row.data, "amount": change.data.get("amount", dose["amount"])}, draft.rules)
    draft.event = events.InterventionChanged(intervention=row.uid, content=change.data, shown=told_now)
    return row


def _when_changed(draft: Draft, row: Intervention, dose: dict[str, Any], data: Data) -> datetime:
    """When the change was; raises WrongState where nothing runs that could change, Invalid where it lies before it."""
    at = clocks.not_before(draft, draft.happened_at(), row.given_at, row.clock_offset_s)
    if row.in_error:
        raise problems.WrongState("This intervention was entered in error.")
    if row.status != "running" and not (at and _late_rate(dose, data, at)):
        raise problems.WrongState(f"This intervention is {row.status}; only what runs can change.")
    if at is None:
        raise problems.Invalid.at("/at", "A change cannot come before the start.")
    return at


def _late_rate(dose: dict[str, Any], data: Data, at: datetime) -> bool:
    """Whether a rate is told late, of the time before the end."""
    return bool(data.get("amount") and dose["ended_at"] and at < when(dose["ended_at"]))


def _kept_change(draft: Draft, row: Intervention, data: Data, at: datetime, order: Ordered) -> InterventionChange:
    """Write down the change as it was told, with the check of a new rate."""
    containers.measurable("infused", data.get("infused"))
    content = sent({name: value for name, value in draft.as_sent.items() if name != "intervention"})
    judged = (
        _check(draft, {**row.data, "amount": content["amount"], "given_at": at}, order) if data.get("amount") else None
    )
    change = InterventionChange(**draft.entry_fields(), intervention=row, at=at, data=content, verdict=judged)
    change.save(force_insert=True)
    return change


def _in_force(row: Intervention, dose: dict[str, Any], change: InterventionChange) -> dict[str, Any]:
    """What the answer shows in the place of what was sent at the start: a rate with its check, how much went in."""
    if change.verdict is not None:
        return {**row.in_force, "amount": dose["amount"], "check": change.verdict}
    return {**row.in_force, "infused": dose["infused"]} if dose["infused"] else row.in_force


def _is_less(amount: Any, before: Any) -> bool:
    """Whether a rate is lower than the one before, where both are stated alike."""
    return bool(before) and amount["unit"] == before["unit"] and amount["value"] < before["value"]
