"""What was given: always kept, checked and flagged, never refused; each opens the reassessment it asks for."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec

from consult import access, events, problems
from consult.access import Actor
from consult.actions import clocks, containers, order_book
from consult.actions.cases import sent
from consult.actions.entry import Data, Draft, Written, write
from consult.actions.proposals import OTHER, checked, proposal_of, shown, title_of, unlisted
from consult.actions.reassessments import open_for
from consult.card.facts import add_dose, clinical
from consult.clock import stamp, when
from consult.models import Intervention
from consult.render.order_story import sentence
from consult.resources import intervention_dict
from dosing.facts import Order
from dosing.findings import BEYOND, PASSING
from dosing.watch import Cause

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
    dose = dose_dict(row, draft)
    add_dose(draft.kept, dose)
    open_for(draft, row, dose)
    if order and row.order:
        order_book.count_given(draft, order, data, row.order.state)
    if not dose["prior"]:  # what others gave is no deviation of this crew's
        _flag(draft, dose, check, row.given_at)
    draft.happened_at("given_at")
    draft.event = events.InterventionRecorded(id=row.uid, content=row.data, shown=dose["shown"], check=check)
    return row


def _check(draft: Draft, data: Data, order: Ordered) -> dict[str, Any]:
    ordered = msgspec.convert({**order, "told": sentence(order)}, Order) if order else None
    if data["treatment"] == OTHER:
        return unlisted(data, draft.rules, ordered)
    facts = clinical(draft.case, draft.kept)
    return checked(proposal_of(data, data["given_at"]), facts, draft.rules, ordered)


def dose_dict(row: Intervention, draft: Draft) -> dict[str, Any]:
    """A treatment as facts and card hold it."""
    data = row.data
    return {
        "id": str(row.uid),
        "seq": row.seq,
        "treatment": row.treatment,
        "title": title_of(data, draft.rules),
        "shown": shown(data, draft.rules),
        "amount": data.get("amount"),
        "route": data.get("route", ""),
        "given_at": stamp(row.given_at),
        "status": row.status,
        "ended_at": None,
        "changed_at": None,
        "infused": None,
        "concentration": data.get("concentration"),
        "over_min": data.get("over_min"),
        "order": data.get("order"),
        "prior": bool(data.get("prior")),
        "prior_by": data.get("prior_by"),
        "name": data.get("name"),
        "amount_text": data.get("amount_text"),
        "verdict": row.verdict["verdict"],
        "by": data.get("given_by") or draft.sender.name,
        "stock": data.get("stock"),
        "container": data.get("container"),
        "weight": row.verdict.get("weight_used"),
        "rates": _rates(row),
        "in_error": False,
    }


def _rates(row: Intervention) -> list[dict[str, Any]]:
    """The first rate of what runs at one, with the weight by which it was judged."""
    amount = row.data.get("amount")
    if row.status != "running" or not amount or "/" not in amount["unit"]:
        return []
    return [{"at": stamp(row.given_at), "amount": amount, "weight": row.verdict.get("weight_used")}]


def _flag(draft: Draft, dose: dict[str, Any], check: dict[str, Any], at: datetime, *, less: bool = False) -> None:
    """One alert that names all findings that wanted an order; ``less`` of what runs need wait for no reading."""
    waived = PASSING if less else ()
    beyond = [each for each in check["findings"] if each["level"] in BEYOND and each["code"] not in waived]
    if not beyond:
        return
    draft.case.outside_limits = True
    found = [finding["text"] for finding in beyond]
    text = f"{dose['shown']}: {'; '.join(found)}"[:500]
    draft.happened.append(Cause("dose_outside_limits", dose["id"], "high", text, at))


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
    dose = dict(next(each for each in draft.kept["doses"] if each["id"] == str(row.uid)))
    if row.in_error:
        raise problems.WrongState("This intervention was entered in error.")
    at = clocks.not_before(draft, draft.happened_at(), row.given_at, row.clock_offset_s)
    if at is None:
        raise problems.Invalid.at("/at", "A change cannot come before the start.")
    if row.status != "running" and not _late_rate(dose, data, at):
        raise problems.WrongState(f"This intervention is {row.status}; only what runs can change.")
    order = order_book.change_ordered(draft, row.treatment, data, at)
    _apply(row, dose, data, at, draft, order)
    row.save(update_fields=["data", "status", "verdict"])
    add_dose(draft.kept, dose)
    open_for(draft, row, dose)
    if order:
        order_book.fulfil(draft, order, at)
    content = sent({name: value for name, value in draft.as_sent.items() if name != "intervention"})
    told = shown({**row.data, "amount": content.get("amount", row.data.get("amount"))}, draft.rules)
    draft.event = events.InterventionChanged(intervention=row.uid, content=content, shown=told)
    return row


def _late_rate(dose: dict[str, Any], data: Data, at: datetime) -> bool:
    """Whether a rate is told late, of the time before the end."""
    return bool(data.get("amount") and dose["ended_at"] and at < when(dose["ended_at"]))


def _apply(row: Intervention, dose: dict[str, Any], data: Data, at: datetime, draft: Draft, order: Ordered) -> None:
    """Write the change into the row and into the dose on the card."""
    containers.measurable("infused", data.get("infused"))
    changed = {name: data[name] for name in ("status", "infused") if data.get(name) is not None}
    row.data = {**row.data, **msgspec.to_builtins(changed)}
    row.status = data.get("status") or row.status
    dose["status"], dose["infused"] = row.status, row.data.get("infused")
    if data.get("status"):
        dose["ended_at"] = stamp(at)
    if data.get("amount"):
        _change_rate(row, dose, msgspec.to_builtins(data["amount"]), at, draft, order)


def _is_less(amount: Any, before: Any) -> bool:
    """Whether a rate is lower than the one before, where both are stated alike."""
    return bool(before) and amount["unit"] == before["unit"] and amount["value"] < before["value"]


def _change_rate(
    row: Intervention, dose: dict[str, Any], amount: Any, at: datetime, draft: Draft, order: Ordered
) -> None:
    """Judge and flag the new rate; one that is told late leaves in force the rate that was set after it."""
    told = {**row.data, "amount": amount}
    row.verdict = _check(draft, {**told, "given_at": at}, order)
    less = _is_less(amount, dose.get("amount"))
    _flag(draft, {**dose, "shown": shown(told, draft.rules)}, row.verdict, at, less=less)
    rate = {"at": stamp(at), "amount": amount, "weight": row.verdict.get("weight_used")}
    dose["rates"] = sorted([*dose["rates"], rate], key=lambda each: when(each["at"]))
    row.data = {**row.data, "amount": dose["rates"][-1]["amount"]}
    in_force = {"amount": row.data["amount"], "changed_at": dose["rates"][-1]["at"]}
    if dose["rates"][-1] is rate:
        in_force["verdict"] = row.verdict["verdict"]
    dose |= {**in_force, "shown": shown(row.data, draft.rules)}
