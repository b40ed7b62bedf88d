"""Corrections: an entry is marked entered in error; it stays visible and leaves every computation."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import msgspec

from consult import events, problems
from consult.access import Actor
from consult.actions.entry import Data, Draft, Written, write
from consult.card import rebuild
from consult.card.facts import clinical
from consult.clock import when
from consult.models import Container, Correction, Intervention, Note, Procedure, Reassessment, Vitals
from consult.models.fields import Correctable
from consult.resources import correction_dict, reassessment_dict
from dosing import reassess
from dosing.facts import Reassessment as Asked

TARGETS: dict[str, type[Correctable]] = {
    "vitals": Vitals,
    "intervention": Intervention,
    "procedure": Procedure,
    "note": Note,
    "container": Container,
}


def correct(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Mark one entry of the case as entered in error."""
    return write(actor, case_uid, "correction", data, now, act=_correct, model=Correction, show=correction_dict)


def _correct(draft: Draft, data: Data) -> Correction:
    kind, uid = data["target"]["kind"], data["target"]["id"]
    target = TARGETS[kind]._default_manager.filter(case=draft.case, uid=uid).first()
    if target is None:
        raise problems.Invalid.at("/target/id", f"This case has no such {kind} entry.", "not_found")
    if target.in_error:
        raise problems.WrongState("This entry is marked as entered in error already.")
    target.in_error = True
    target.save(update_fields=["in_error"])
    _leave(draft, target)
    row = Correction(**draft.entry_fields(), target_kind=kind, target=uid, reason=data["reason"])
    row.save(force_insert=True)
    draft.event = events.EntryCorrected(id=row.uid, target={"kind": kind, "id": str(uid)}, reason=row.reason)
    return row


def _leave(draft: Draft, target: Correctable) -> None:
    """Take an entry out of every computation; a note is in none."""
    match target:
        case Vitals():
            _vitals(draft, target)
        case Intervention():
            _intervention(draft, target)
        case Container():
            draft.kept["containers"] = rebuild.containers(draft.case)
        case Procedure():
            draft.kept["access"] = [each for each in draft.kept["access"] if each["id"] != str(target.uid)]


def _vitals(draft: Draft, target: Vitals) -> None:
    """Read the measurements again without this set; a reassessment that only it completed waits again."""
    draft.kept |= rebuild.readings(draft.case)
    readings = clinical(draft.case, draft.kept).readings
    for row in Reassessment.objects.filter(case=draft.case, state=Reassessment.State.DONE).select_related(
        "intervention"
    ):
        shown = {**reassessment_dict(row, str(row.intervention.uid)), "state": "waiting", "done_at": None}
        asked = msgspec.convert(shown, Asked)
        if row.done_at == target.taken_at and reassess.completed_by(asked, readings) is None:
            Reassessment.objects.filter(pk=row.pk).update(state=Reassessment.State.WAITING, done_at=None)
            draft.kept["reassessments"] = [*draft.kept["reassessments"], shown]


def _intervention(draft: Draft, target: Intervention) -> None:
    """The dose counts no more: what it asked for, the alert it caused and the bag it hung go with it."""
    uid = str(target.uid)
    draft.kept["doses"] = [{**dose, "in_error": dose["in_error"] or dose["id"] == uid} for dose in draft.kept["doses"]]
    draft.kept["reassessments"] = [each for each in draft.kept["reassessments"] if each["intervention"] != uid]
    Reassessment.objects.filter(intervention=target).delete()
    if Container.objects.filter(hung_with=target).update(in_error=True):
        draft.kept["containers"] = rebuild.containers(draft.case)
    draft.ended.append(("dose_outside_limits", uid, "the entry was corrected"))
    _wait_again(draft)


def _wait_again(draft: Draft) -> None:
    """What is overdue before its time was so by another dose, perhaps this one: the rule judges it anew."""
    for place, asked in enumerate(draft.kept["reassessments"]):
        if asked["state"] == Reassessment.State.OVERDUE and when(asked["overdue_at"]) > draft.now:
            Reassessment.objects.filter(case=draft.case, uid=asked["id"]).update(state=Reassessment.State.WAITING)
            draft.kept["reassessments"][place] = {**asked, "state": str(Reassessment.State.WAITING)}
