"""Which rows an entry makes or changes, as columns by table and id; nothing is written here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from uuid import UUID

import msgspec

from consult import events
from consult.case.fold.ordered import order_told
from consult.events import Event
from consult.models import (
    Container,
    ControlOffer,
    Correction,
    Intervention,
    Note,
    Order,
    PhaseChange,
    Procedure,
    Reassessment,
    Review,
    Vitals,
)
from consult.rows import alerts
from consult.rows.questions import questions
from consult.rows.rows import Columns, Happened, Rows, Table, plain
from consult.rows.took_part import took_part
from consult.state.case import CaseState
from consult.state.parts import InHand
from consult.state.parts import Order as OrderState
from dosing.ground.facts import Reassessment as Asked

CORRECTABLE: Mapping[str, Table] = {
    "vitals": Vitals,
    "intervention": Intervention,
    "procedure": Procedure,
    "note": Note,
    "phase": PhaseChange,
    "container": Container,
}


def _sent(content: msgspec.Raw) -> Columns:
    sent: Columns = msgspec.json.decode(content)
    return sent


def project(rows: Rows, happened: Happened) -> None:
    """Take in one more entry."""
    event = happened.entry.event
    if (make := PROJECTIONS.get(type(event))) is not None:
        make(rows, event, happened)
    _orders(rows, event, happened)
    questions(rows, event, happened)
    took_part(rows, event, happened)
    _offer_ended(rows, event, happened)
    for asked in event.reassessments if isinstance(event, events.EntryCorrected) else ():
        _reassessment(rows, asked)


def _vitals(rows: Rows, event: events.VitalsRecorded, happened: Happened) -> None:
    columns = {
        "taken_at": event.taken_at,
        "data": {"taken_at": happened.at_as_sent.isoformat().replace("+00:00", "Z"), **plain(event.values)},
        "derived": plain(event.derived),
        "unlikely": list(event.unlikely),
    }
    rows.make(Vitals, event.id, {**happened.of_sender, **columns})


def _intervention(rows: Rows, event: events.InterventionRecorded, happened: Happened) -> None:
    columns = {
        "given_at": event.dose.given_at,
        "treatment": event.dose.treatment,
        "status": event.dose.status,
        "order": event.dose.order,
        "data": _sent(event.content),
        "verdict": plain(event.check),
        "reassessment": plain(event.reassessment),
    }
    rows.make(Intervention, event.id, {**happened.of_sender, **columns})
    rows.answers.add(event.id)
    if event.hung:
        hung = {"data": _hung(event.hung), **_container_columns(event.hung), "hung_with": event.id}
        rows.make(Container, event.hung.id, {**happened.of_sender, **hung})
    if event.reassessment:
        _asked(rows, event.reassessment, new=True)


def _changed(rows: Rows, event: events.InterventionChanged, happened: Happened) -> None:
    columns: Columns = {"status": event.dose.status}
    if event.check:
        columns |= {"rate": plain(event.dose.amount), "rate_check": plain(event.check)}
    if event.dose.infused:
        columns["infused"] = plain(event.dose.infused)
    rows.change(Intervention, event.intervention, {**columns, "reassessment": plain(event.reassessment)})
    rows.answers.add(event.intervention)
    if event.reassessment:
        _asked(rows, event.reassessment, new=False)


def _asked(rows: Rows, asked: Asked, *, new: bool) -> None:
    columns = {name: getattr(asked, name) for name in ("because", "counts_from", "due_at", "overdue_at")}
    columns |= {"needs": list(asked.needs), "also": list(asked.also), "state": asked.state, "done_at": asked.done_at}
    rows.put(Reassessment, asked.id, {**columns, "intervention": asked.intervention}, new=new)


def _moved(rows: Rows, event: events.ReassessmentMoved, happened: Happened) -> None:
    known = [each for each in happened.before.reassessments if each.id == event.reassessment] if happened.before else []
    for each in known:
        _reassessment(rows, msgspec.structs.replace(each, state=event.state, done_at=event.done_at))
    if not known:  # one that is only counted
        rows.change(Reassessment, event.reassessment, {"state": event.state, "done_at": event.done_at})


def _renewed(rows: Rows, event: events.ReassessmentRenewed, happened: Happened) -> None:
    _asked(rows, event.reassessment, new=False)
    _reassessment(rows, event.reassessment)


def _reassessment(rows: Rows, asked: Asked) -> None:
    rows.change(Reassessment, asked.id, {"state": asked.state, "done_at": asked.done_at})
    if asked.intervention in rows.answers:  # the answer to this very write says how it stands by now
        rows.change(Intervention, asked.intervention, {"reassessment": plain(asked)})


def _countersigned(rows: Rows, event: events.InterventionCountersigned, happened: Happened) -> None:
    rows.change(Intervention, event.intervention, {"countersigned": plain(event.countersigned)})


def _judged_anew(rows: Rows, event: events.InterventionJudgedAnew, happened: Happened) -> None:
    rows.change(Intervention, event.intervention, {"judged_anew": plain(event.check)})


def _procedure(rows: Rows, event: events.ProcedureRecorded, happened: Happened) -> None:
    rows.make(Procedure, event.id, {**happened.of_sender, "at": happened.entry.at, "data": _sent(event.content)})


def _note(rows: Rows, event: events.NoteAdded, happened: Happened) -> None:
    columns = {"at": happened.entry.at, "at_as_sent": happened.at_as_sent, "text": event.text}
    rows.make(Note, event.id, {**happened.of_sender, **columns})


def _phase(rows: Rows, event: events.PhaseChanged, happened: Happened) -> None:
    columns = {"at": happened.entry.at, "data": {"at": happened.at_as_sent.isoformat(), "phase": event.phase}}
    rows.make(PhaseChange, event.id, {**happened.of_sender, **columns})


def _review(rows: Rows, event: events.ReviewAdded, happened: Happened) -> None:
    rows.make(Review, event.id, {**happened.of_sender, "text": event.text, "outcome": event.outcome})


def _container(rows: Rows, event: events.ContainerRecorded, happened: Happened) -> None:
    sent = {"mixed_by": event.container.mixed_by, **_sent(event.content)}
    rows.make(Container, event.id, {**happened.of_sender, **_container_columns(event.container), "data": sent})


def _container_columns(held: InHand) -> Columns:
    return {"at": held.at, "form": held.form, "treatment": held.treatment or ""}


def _hung(held: InHand) -> Columns:
    named = ("strength", "volume", "mixed_by", "checked_by")
    known = {name: plain(getattr(held, name)) for name in named}
    return {name: value for name, value in known.items() if value is not None}


def _discarded(rows: Rows, event: events.ContainerDiscarded, happened: Happened) -> None:
    rows.change(Container, event.container, {"discarded_at": event.discarded_at, "discarded_because": event.reason})


def _corrected(rows: Rows, event: events.EntryCorrected, happened: Happened) -> None:
    kind, entry_id = event.target.kind, event.target.id
    columns = {"target_kind": kind, "target": UUID(entry_id), "reason": event.reason}
    rows.make(Correction, event.id, {**happened.of_sender, **columns})
    rows.change(CORRECTABLE[kind], entry_id, {"in_error": True})
    if kind != "intervention" or happened.before is None:
        return
    if any(each.hung and each.id == entry_id for each in happened.before.containers):
        rows.change(Container, entry_id, {"in_error": True})
    rows.gone |= {(Reassessment, entry_id)}


def _offered(rows: Rows, event: events.ControlOffered, happened: Happened) -> None:
    columns = {"handover": UUID(event.handover), "to_id": UUID(event.to.id), "note": event.note, "state": "offered"}
    rows.make(ControlOffer, event.id, {**happened.of_sender, **columns})


def _offer_ended(rows: Rows, event: Event, happened: Happened) -> None:
    """What was offered before the event and is not any more; accepted where the event says so."""
    stood = happened.before.offered if happened.before else None
    if stood and stood != happened.after.offered:
        taken = isinstance(event, events.CaseAccepted) and event.handover == stood.handover
        columns = {"state": "accepted" if taken else "ended", "ended_at": happened.entry.received_at}
        rows.change(ControlOffer, stood.id, columns)


PROJECTIONS: Mapping[type[Event], Callable[..., None]] = {
    events.VitalsRecorded: _vitals,
    events.InterventionRecorded: _intervention,
    events.InterventionChanged: _changed,
    events.InterventionCountersigned: _countersigned,
    events.InterventionJudgedAnew: _judged_anew,
    events.ProcedureRecorded: _procedure,
    events.NoteAdded: _note,
    events.PhaseChanged: _phase,
    events.ReviewAdded: _review,
    events.ContainerRecorded: _container,
    events.ContainerDiscarded: _discarded,
    events.ControlOffered: _offered,
    events.EntryCorrected: _corrected,
    events.ReassessmentMoved: _moved,
    events.ReassessmentRenewed: _renewed,
    events.AlertRaised: alerts.alert_raised,
    events.AlertChanged: alerts.alert_changed,
    events.AlertAcknowledged: alerts.alert_acknowledged,
    events.AlertEscalated: alerts.alert_escalated,
    events.AlertCleared: alerts.alert_cleared,
}


def _orders(rows: Rows, event: Event, happened: Happened) -> None:
    """The orders that stand otherwise: those that are open, and the one that the event tells of."""
    known = {each.id: each for each in happened.before.orders} if happened.before else {}
    stand = {each.id: each for each in happened.after.orders if known.get(each.id) is not each}
    if told := order_told(event):
        stand.setdefault(told.id, told)
    for order in stand.values():
        _order(rows, order, event, happened)


def _order(rows: Rows, order: OrderState, event: Event, happened: Happened) -> None:
    content = plain(order)
    columns = {"state": content.pop("state"), "steps": content.pop("steps")}
    new = isinstance(event, events.OrderRequested | events.OrderPlaced) and event.id == order.id
    if new:
        made = {"treatment": order.treatment, "at": order.requested_at, "at_as_sent": happened.at_as_sent}
        columns |= {**happened.of_sender, **made}
    del content["id"], content["case"]
    rows.put(Order, order.id, {**columns, "data": content}, new=new)


def case_columns(state: CaseState) -> Columns:
    """The case row's columns that are there for searching."""
    return {
        "state": state.state,
        "unit_id": UUID(state.unit.id),
        "former_units": plain(state.former_units),
        "opened_at": state.opened_at,
        "ended_at": state.ended_at,
        "outcome": state.outcome,
        "incident": state.incident,
        "patient": plain(state.patient),
        "complaint": state.complaint,
        "impression": state.impression,
        "destination": state.destination,
        "eta": state.eta,
        "goal": plain(state.goal),
        "outside_limits": bool(state.flagged),
        "physician_id": UUID(state.physician.id) if state.physician else None,
        "rule_set_id": UUID(state.rules),
        "seq": state.seq,
        "version": state.version,
    }
