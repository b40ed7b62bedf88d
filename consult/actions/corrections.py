"""Corrections: an entry is marked entered in error; it stays visible and leaves every computation."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import msgspec

from consult import events, problems
from consult.access import Actor
from consult.actions import judged_anew, order_book
from consult.actions.entry import Data, Draft, Written, write
from consult.card import rebuild
from consult.card.facts import kept_reading
from consult.clock import when
from consult.models import Alert, Container, Correction, Intervention, Note, Procedure, Reassessment, Vitals
from consult.models.fields import Correctable
from consult.resources import correction_dict, reassessment_dict
from dosing import reassess
from dosing.facts import Reading
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
    _take_out(draft, target)
    row = Correction(**draft.entry_fields(), target_kind=kind, target=uid, reason=data["reason"])
    row.save(force_insert=True)
    draft.event = events.EntryCorrected(id=row.uid, target={"kind": kind, "id": str(uid)}, reason=row.reason)
    return row


def _take_out(draft: Draft, target: Correctable) -> None:
    """Mark it, and let it leave every computation: what counted against later doses counts no more.

    A dose is judged by what its crew knew of the patient: a reading taken back changes no check made by it.
    """
    target.in_error = True
    target.save(update_fields=["in_error"])
    if isinstance(target, Intervention):
        with judged_anew.after(draft, target.given_at, taken_back=True):
            _leave(draft, target)
        _within_limits_again(draft)
    else:
        _leave(draft, target)


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
    """Read the measurements again without this set; a reassessment that it helped to complete is judged anew."""
    draft.kept |= rebuild.readings(draft.case)
    helped = Reassessment.objects.filter(
        case=draft.case,
        state=Reassessment.State.DONE,
        counts_from__lte=target.taken_at,
        done_at__gte=target.taken_at,
    )
    for row in helped.select_related("intervention"):
        _complete_again(draft, row)


def _complete_again(draft: Draft, row: Reassessment) -> None:
    """Let the readings that are left complete it, perhaps later; without them it waits again."""
    shown = {**reassessment_dict(row, str(row.intervention.uid)), "state": "waiting", "done_at": None}
    left = Vitals.objects.filter(case=draft.case, in_error=False, taken_at__gte=row.counts_from)
    readings = [msgspec.convert(kept_reading(each), Reading) for each in left.order_by("taken_at", "seq")]
    done_at = reassess.completed_by(msgspec.convert(shown, Asked), readings)
    state = Reassessment.State.DONE if done_at else Reassessment.State.WAITING
    Reassessment.objects.filter(pk=row.pk).update(state=state, done_at=done_at)
    if done_at is None:
        draft.kept["reassessments"] = [*draft.kept["reassessments"], shown]


def _intervention(draft: Draft, target: Intervention) -> None:
    """The dose counts no more, nor for its order: what it asked for, its alert and the bag it hung go with it."""
    uid = str(target.uid)
    draft.kept["doses"] = [{**dose, "in_error": dose["in_error"] or dose["id"] == uid} for dose in draft.kept["doses"]]
    draft.kept["reassessments"] = [each for each in draft.kept["reassessments"] if each["intervention"] != uid]
    Reassessment.objects.filter(intervention=target).delete()
    if Container.objects.filter(hung_with=target).update(in_error=True):
        draft.kept["containers"] = rebuild.containers(draft.case)
    draft.ended.append(("dose_outside_limits", uid, "the entry was corrected"))
    order_book.uncount(draft, target)
    _wait_again(draft)


def _within_limits_again(draft: Draft) -> None:
    """The history finds a case as outside limits while a dose that was flagged stands, and its check with it."""
    righted = {cause for kind, cause, _ in draft.ended if kind == "dose_outside_limits"}
    wrong = {dose["id"] for dose in draft.kept["doses"] if dose["in_error"]} | righted
    flagged = Alert.objects.filter(case=draft.case, kind="dose_outside_limits")
    draft.case.outside_limits = flagged.exclude(cause__in=wrong).exists()


def _wait_again(draft: Draft) -> None:
    """What is overdue before its time was so by another dose, perhaps this one: the rule judges it anew."""
    for place, asked in enumerate(draft.kept["reassessments"]):
        if asked["state"] == Reassessment.State.OVERDUE and when(asked["overdue_at"]) > draft.now:
            Reassessment.objects.filter(case=draft.case, uid=asked["id"]).update(state=Reassessment.State.WAITING)
            draft.kept["reassessments"][place] = {**asked, "state": str(Reassessment.State.WAITING)}
