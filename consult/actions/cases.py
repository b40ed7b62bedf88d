"""A case from opening to close: what is known of the patient and the journey, and who has control."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec
from django.db import IntegrityError, transaction

from consult import access, digest, events, problems, queries
from consult.access import Actor
from consult.actions import clocks, entry, letters, order_book, rule_sets
from consult.actions.entry import Data, Draft, Written, write
from consult.card.facts import empty
from consult.models import Agency, Case, JournalEntry, Unit
from consult.models.fields import new_id
from dosing import growth
from dosing.facts import Patient

PATCHABLE = ("complaint", "impression", "destination", "eta", "incident")
WEIGHED = {"age", "sex", "weight"}  # what says whether a weight is likely


def open_case(actor: Actor, data: Data, now: datetime) -> Written:
    """Open a case for the crew's own unit, or as a physician for the unit named."""
    access.require_writer(actor)
    unit = _unit(actor, data)
    data, offset_s = clocks.apart(data)
    content, show = digest.content_digest("case", actor.agency, entry.compared(data)), _with_doubts(data)
    try:
        with transaction.atomic():
            if data.get("id") and (stored := entry.stored_entry(actor, data["id"])):
                return _opened_before(stored, content, unit, show)
            case = _opened(actor, unit, data, now, content, offset_s)
    except IntegrityError:
        stored = entry.stored_entry(actor, data["id"]) if data.get("id") else None
        if stored is None:
            raise
        return _opened_before(stored, content, unit, show)
    return Written(show(case), case.seq)


def _opened_before(stored: JournalEntry, content: str, unit: Unit, show: Callable[[Case], Data]) -> Written:
    """The case that this id stands for, to who opens it again for its unit: another crew is not shown its card."""
    if not Case.objects.filter(pk=stored.subject or 0, unit=unit).exists():
        raise problems.IdReused("This id stands for another entry.")
    return entry.replay(stored, content, Case, show)


def _with_doubts(data: Data) -> Callable[[Case], Data]:
    """The answer to an entry that says who the patient is: the card, and a weight to ask back once, `unlikely`."""
    told = WEIGHED & set(data.get("patient") or ())

    def answer(case: Case) -> Data:
        doubts = growth.unlikely_weight(msgspec.convert(case.patient, Patient)) if told else []
        return {**queries.case_answer(case), "unlikely": doubts}

    return answer


def _unit(actor: Actor, data: Data) -> Unit:
    if actor.is_crew:
        if data.get("unit") and data["unit"] != actor.unit:
            raise problems.Invalid.at("/unit", "A crew opens cases for its own unit only.")
        return access.unit_for(actor, actor.unit)
    if not data.get("unit"):
        raise problems.Invalid.at("/unit", "Name the unit that has the patient.", "required")
    try:
        return access.unit_for(actor, data["unit"])
    except problems.NotFound as error:
        raise problems.Invalid.at("/unit", error.detail, "not_found") from error


def _opened(actor: Actor, unit: Unit, data: Data, now: datetime, content: str, offset_s: float | None) -> Case:
    agency = rule_sets.held(actor.agency)
    told, data = data, clocks.corrected(data, clocks.applied(offset_s), now)
    case = Case(
        uid=data.get("id") or new_id(),
        agency=agency,
        unit=unit,
        by_id=actor.membership,
        rule_set=agency.rule_set,
        opened_at=data["opened_at"],
        received_at=now,
        patient=digest.plain(data["patient"]),
        last_contact_at=now,
        version=1,
        **{name: data[name] for name in PATCHABLE if data.get(name)},
    )
    letters.tell_apart(case, now)
    case.save(force_insert=True)
    kept = _first_facts(actor, agency, unit, case)
    draft = Draft(case, kept, queries.rules_of(case), actor, now, case.uid, content)
    draft.clock_offset_s, draft.as_sent = offset_s, told
    draft.happened_at("opened_at")
    draft.event, draft.subject = events.CaseOpened(id=case.uid, content=sent(told)), case.pk
    entry.finish(draft)
    return case


def _first_facts(actor: Actor, agency: Agency, unit: Unit, case: Case) -> dict[str, Any]:
    rules = queries.rules_of(case)
    kept = empty()
    kept["unit"] = {"id": str(unit.pk), "call_sign": unit.call_sign}
    approved = agency.rule_set is not None and agency.rule_set.approved_at is not None
    kept["rule_set"] = {**rules.label, "approved": approved}
    return kept


def sent(data: Data) -> dict[str, Any]:
    """The content of an entry as JSON holds it, without what was not given."""
    return {name: value for name, value in digest.plain(data).items() if value is not None and name != "id"}


def patch_case(
    actor: Actor, case_uid: UUID, data: Data, now: datetime, if_match: frozenset[int] | None = None
) -> Written:
    """Change what is known of patient or journey; raises StaleVersion where `if_match` lacks the present version."""

    def act(draft: Draft, values: Data) -> Case:
        if if_match is not None and draft.case.version not in if_match:
            raise problems.StaleVersion
        return _patched(draft, values)

    return write(actor, case_uid, "patch", data, now, act=act, model=Case, show=_with_doubts(data))


def _patched(draft: Draft, data: Data) -> Case:
    case, changes = draft.case, {}
    for name in PATCHABLE:
        if name in data:
            changes[name] = draft.as_sent[name]
            setattr(case, name, data[name] if data[name] is not None or name == "eta" else "")
    if "patient" in data:
        changes["patient"] = digest.plain(draft.as_sent["patient"])
        weight = case.patient.get("weight")
        case.patient = {**case.patient, **digest.plain(data["patient"])}
        if case.patient.get("weight") != weight:
            order_book.void_per_kg(draft)
    case.version = draft.seq
    draft.event = events.CaseChanged(changes=digest.plain(changes))
    return case


def _by_physician(
    actor: Actor, case_uid: UUID, operation: str, data: Data, now: datetime, act: Callable[[Draft, Data], Case]
) -> Written:
    show, gate = queries.case_answer, access.require_physician
    return write(actor, case_uid, operation, data, now, act=act, model=Case, show=show, gate=gate)


def accept(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Take control as a physician; from another physician only with `take_over`."""
    return _by_physician(actor, case_uid, "accept", data, now, _accept)


def _accept(draft: Draft, data: Data) -> Case:
    other = draft.kept["physician"]
    if other and other["id"] != str(draft.sender.membership) and not data.get("take_over"):
        raise problems.WrongState(f"{other['name']} has control of this case; take it over if that is agreed.")
    draft.event = _take_control(draft)
    return draft.case


def _take_control(draft: Draft) -> events.CaseAccepted:
    case, actor, other = draft.case, draft.sender, draft.kept["physician"]
    case.physician_id, case.attended_at = actor.membership, draft.now
    draft.kept["physician"] = {"id": str(actor.membership), "name": actor.name}
    return events.CaseAccepted(physician=actor.name, taken_from=other and other["name"])


def answer_for(draft: Draft) -> None:
    """Whoever orders or decides has seen to the case, and takes control of it where nobody has: on record beside it."""
    draft.case.attended_at = draft.now
    if draft.kept["physician"] is None:
        draft.followed.append(_take_control(draft))


def handover(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Hand the patient over; the case leaves the board."""
    return write(actor, case_uid, "handover", data, now, act=_handover, model=Case, show=queries.case_answer)


def _handover(draft: Draft, data: Data) -> Case:
    _must_be(draft, Case.State.OPEN)
    return _end(draft, Case.State.HANDED_OVER, "handed_over", events.CaseHandedOver(to=data.get("to", "")))


def close(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Close the case with its outcome."""
    return write(actor, case_uid, "close", data, now, act=_close, model=Case, show=queries.case_answer)


def _close(draft: Draft, data: Data) -> Case:
    if draft.case.state == Case.State.CLOSED:
        raise problems.WrongState("The case is closed already.")
    return _end(draft, Case.State.CLOSED, data["outcome"], events.CaseClosed(outcome=data["outcome"]))


def _end(draft: Draft, state: str, outcome: str, event: events.Event) -> Case:
    draft.case.state, draft.case.outcome, draft.case.ended_at = state, outcome, draft.happened_at()
    order_book.withdraw_open(draft)
    draft.event = event
    return draft.case


def _must_be(draft: Draft, state: str) -> None:
    if draft.case.state != state:
        raise problems.WrongState(f"The case is {draft.case.state.replace('_', ' ')}.")


def reopen(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Put a case that was handed over or closed back on the board."""
    return _by_physician(actor, case_uid, "reopen", data, now, _reopen)


def _reopen(draft: Draft, data: Data) -> Case:
    if draft.case.state == Case.State.OPEN:
        raise problems.WrongState("The case is open.")
    draft.case.state, draft.case.outcome, draft.case.ended_at = Case.State.OPEN, "", None
    in_force = rule_sets.held(draft.case.agency_id).rule_set
    letters.tell_apart(draft.case, draft.now)
    if in_force and in_force.pk != draft.case.rule_set_id:
        rule_sets.take_up(draft, in_force, queries.rules_by_record(in_force.pk))
    draft.event = events.CaseReopened(reason=data["reason"])
    return draft.case


def set_goal(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Set the pressure goal for this patient."""
    return _by_physician(actor, case_uid, "goal", data, now, _set_goal)


def _set_goal(draft: Draft, data: Data) -> Case:
    measure, floor, ceiling = data["measure"], data["floor"], data.get("ceiling")
    if ceiling is not None and ceiling <= floor:
        raise problems.Invalid.at("/ceiling", "The ceiling must be above the floor.")
    because = f"set by {draft.sender.name}: {data['reason']}"
    draft.case.goal = {"measure": measure, "floor": floor, "ceiling": ceiling, "because": because}
    draft.event = events.GoalSet(measure=measure, floor=floor, ceiling=ceiling, reason=data["reason"])
    return draft.case
