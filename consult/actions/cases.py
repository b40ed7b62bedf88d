"""A case from opening to close: what is known of the patient and the journey, and who has control."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from uuid import UUID

import msgspec
from django.db import IntegrityError, transaction

from consult import access, digest, problems, queries
from consult.access import Actor
from consult.actions import entry, patient_labels, rule_sets
from consult.actions.carry_out import Arrival, Write, carry_out
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import cases, control, times
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.entries import (
    AcceptEntry,
    CaseChangeEntry,
    CaseEntry,
    CloseEntry,
    CoverageEntry,
    GoalEntry,
    HandoverEntry,
    MoveEntry,
    ReasonEntry,
    ReleaseEntry,
)
from consult.models import Case, JournalEntry, Unit
from consult.resources.cases import WrittenCase, WrittenPatient, written_case, written_patient
from consult.state.parts import UnitNamed
from dosing.ground.facts import Patient
from dosing.ground.language import gettext as _
from dosing.patient import growth

WEIGHED = {"age", "sex", "weight"}  # what says whether a weight is likely

CASE = Kind("case", Case, written_case, happened="opened_at")
PATCH = Kind("patch", Case, written_case)
ACCEPT = Kind("accept", Case, written_case, gate=access.require_physician, attends=True)
RELEASE = Kind("release", Case, written_case, gate=access.require_physician, attends=True)
MOVE = Kind("move", Case, written_case, happened="at")
HANDOVER = Kind("handover", Case, written_case, happened="at")
CLOSE = Kind("close", Case, written_case, happened="at")
REOPEN = Kind("reopen", Case, written_case, gate=access.require_physician)
GOAL = Kind("goal", Case, written_case, gate=access.require_physician)
COVERAGE = Kind("coverage", Case, written_case, happened="at", gate=access.require_crew)


def open_case(actor: Actor, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Open a case for the crew's own unit, or as a physician for the unit named."""
    access.require_writer(actor)
    unit = _unit(actor, data)
    data, offset_s = entry.apart(data)
    told = digest.content_digest(CASE.name, actor.agency, entry.compared(data))
    kind, uid = replace(CASE, show=_with_doubts(data)), data.get("id")
    try:
        with transaction.atomic():
            if isinstance(uid, UUID) and (stored := entry.stored_entry(actor, uid)):
                return _opened_before(stored, told, unit, kind)
            case = _opened(actor, unit, data, offset_s, now, told, arrival)
    except IntegrityError:
        stored = entry.stored_entry(actor, uid) if isinstance(uid, UUID) else None
        if stored is None:
            raise
        return _opened_before(stored, told, unit, kind)
    if arrival is not None:
        arrival.changed(case)
    return Written(kind.show(case, case.seq), case.seq)


def _opened_before(stored: JournalEntry, told: str, unit: Unit, kind: Kind[Case, WrittenCase]) -> Written:
    """The case that this id stands for, to who opens it again for its unit: another crew is not shown its card.

    For a unit that had the patient before, the card is that of the opening: it knows no more.
    """
    case = Case.objects.filter(pk=stored.subject or 0).first()
    if case is not None and case.unit_id == unit.pk:
        return entry.replay(stored, told, kind)
    if case is None or all(each["id"] != str(unit.pk) for each in case.former_units):
        raise problems.IdReused(_("This id already belongs to another entry."))
    return entry.replay(stored, told, entry.as_stored(kind))


def _with_doubts(data: Data) -> Callable[[Case, int], WrittenPatient]:
    """The answer to an entry that says who the patient is: the card, and a weight to ask back once, `unlikely`."""
    patient = data.get("patient")
    told = isinstance(patient, dict) and bool(WEIGHED & set(patient))

    def answer(case: Case, seq: int) -> WrittenPatient:
        doubts = growth.unlikely_weight(msgspec.convert(case.patient, Patient)) if told else []
        return written_patient(case, seq, tuple(doubts))

    return answer


def _unit(actor: Actor, data: Data) -> Unit:
    named = data.get("unit")
    if actor.is_crew:
        if named and named != actor.unit:
            raise problems.Invalid.at("/unit", _("A crew can open cases for its own unit only."))
        return access.unit_for(actor, actor.unit)
    if not isinstance(named, UUID):
        raise problems.Invalid.at("/unit", _("Name the unit that has the patient."), "required")
    return _named_unit(actor, named)


def _opened(
    actor: Actor,
    unit: Unit,
    data: Data,
    offset_s: float | None,
    now: datetime,
    told: str,
    arrival: Arrival | None,
) -> Case:
    agency = rule_sets.held(actor.agency)
    if agency.rule_set is None:
        raise ValueError("an agency has a rule set")
    asked = entry.asked_of(actor, data, offset_s, now, CaseEntry, CASE.happened)
    case = Case(
        uid=UUID(asked.id),
        agency=agency,
        unit=unit,
        by_id=actor.membership,
        received_at=now,
        patient={"label": asked.content.patient.label},
        last_contact_at=now,
    )
    judged = rule_sets.judged_by(agency.rule_set, queries.rules_by_record(agency.rule_set.pk))
    named = UnitNamed(str(unit.pk), unit.call_sign, unit.call)
    opened = cases.open_case(asked, named, judged, patient_labels.letter_for(case, now))
    wanted = Write(case, None, now, asked, told, entry.as_sent(data, CASE.happened), (Case, asked.id), arrival)
    decided = Decided([opened])
    decided.add(times.judged(offset_s, asked.by, now))
    return carry_out(wanted, decided, Case)


def patch_case(
    actor: Actor,
    case: UUID,
    data: Data,
    now: datetime,
    arrival: Arrival | None = None,
    if_match: frozenset[int] | None = None,
) -> Written:
    """Change what is known of patient or journey; raises StaleVersion where `if_match` lacks the present version."""

    def decide(known: Known, asked: Asked[CaseChangeEntry]) -> Decided:
        if if_match is not None and known.state.version not in if_match:
            raise problems.StaleVersion
        return cases.patch(known, asked)

    kind = replace(PATCH, show=_with_doubts(data))
    return write(actor, case, kind, data, now, CaseChangeEntry, decide, arrival=arrival)


def accept(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Take control as a physician; from another physician only with `take_over`."""
    return write(actor, case, ACCEPT, data, now, AcceptEntry, cases.accept)


def release(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Give up control as the physician who has it."""
    return write(actor, case, RELEASE, data, now, ReleaseEntry, control.release)


def handover(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Hand the patient over; the case leaves the board."""
    return write(actor, case, HANDOVER, data, now, HandoverEntry, cases.handover, arrival=arrival)


def close(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Close the case with its outcome."""
    return write(actor, case, CLOSE, data, now, CloseEntry, cases.close, arrival=arrival)


def reopen(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Put a case that was handed over or closed back on the board, under the rules that are in force now."""

    def decide(known: Known, asked: Asked[ReasonEntry]) -> Decided:
        if known.state.state == Case.State.OPEN:
            return cases.reopen(known, asked, None, None)
        in_force = rule_sets.held(actor.agency).rule_set
        moved = in_force is not None and str(in_force.pk) != known.state.rules
        rules = queries.rules_by_record(in_force.pk) if in_force and moved else None
        others = (rule_sets.judged_by(in_force, rules), rules) if in_force and rules else None
        row = access.case_for(actor, case)
        return cases.reopen(known, asked, others, patient_labels.letter_for(row, now))

    return write(actor, case, REOPEN, data, now, ReasonEntry, decide)


def move(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Let another unit of the agency go on with the patient, as the crew that has it or as a physician."""

    def decide(known: Known, asked: Asked[MoveEntry]) -> Decided:
        unit = _named_unit(actor, asked.content.unit)
        control.refuse_move(known, asked, str(unit.pk))
        row = access.case_for(actor, case)
        row.unit = unit
        label = patient_labels.letter_for(row, now)
        return control.move(known, asked, UnitNamed(str(unit.pk), unit.call_sign, unit.call), label)

    return write(actor, case, MOVE, data, now, MoveEntry, decide, arrival=arrival)


def _named_unit(actor: Actor, named: UUID) -> Unit:
    try:
        return access.unit_of_agency(actor, named)
    except problems.NotFound as error:
        raise problems.Invalid.at("/unit", error.detail, "not_found") from error


def set_goal(actor: Actor, case: UUID, data: Data, now: datetime) -> Written:
    """Set the pressure goal for this patient."""
    return write(actor, case, GOAL, data, now, GoalEntry, cases.set_goal)


def announce_coverage(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Say as its crew until when the unit cannot be heard."""
    return write(actor, case, COVERAGE, data, now, CoverageEntry, cases.coverage, arrival=arrival)
