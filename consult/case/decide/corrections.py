"""Corrections: an entry is marked entered in error; it stays visible and leaves every computation."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide import countersigns, order_book, what_runs
from consult.case.decide.added_up import adding_up
from consult.case.decide.asked import DOSE_OUTSIDE_LIMITS, Asked, Decided, Ended, Known, container
from consult.case.decide.judged_anew import judged_anew
from consult.case.entries import CorrectionEntry
from consult.case.fold import treated
from consult.case.fold.lists import without
from dosing.ground.facts import Reassessment
from dosing.ground.language import gettext as _
from dosing.patient import reassess


def correct(known: Known, asked: Asked[CorrectionEntry]) -> Decided:
    """Mark one entry of the case as entered in error."""
    kind, entry_id = asked.content.target.kind, str(asked.content.target.id)
    in_error = known.past.entry_state(kind, entry_id)
    if in_error is None:
        raise problems.Invalid.at("/target/id", _("This case has no such {kind} entry.", kind=kind), "not_found")
    if in_error:
        raise problems.WrongState(_("This entry is already marked as entered in error."))
    event = events.EntryCorrected(id=asked.id, target=events.Target(kind, entry_id), reason=asked.content.reason)
    if kind == "vitals":
        return Decided([_without_reading(known, asked, event)])
    if kind == "container" and (held := container(known.state, entry_id)):
        return Decided([adding_up(known.whole(held.at), asked, event)])
    if kind == "phase":
        return _without_phase(known, asked, event)
    return _without_dose(known, asked, event) if kind == "intervention" else Decided([event])


def _without_phase(known: Known, asked: Asked[CorrectionEntry], event: events.EntryCorrected) -> Decided:
    """Doses given since are judged by the phase that the case was in without it."""
    wrong = next(each for each in known.state.phases if each.id == event.target.id)
    after = replace(known.state, phases=without(known.state.phases, wrong.id))
    decided = Decided([event])
    decided.add(judged_anew(known.whole(wrong.at), lambda: after, asked.id, wrong.at, taken_back=True))
    return decided


def _without_reading(
    known: Known, asked: Asked[CorrectionEntry], event: events.EntryCorrected
) -> events.EntryCorrected:
    """The measurements are read again without this set; a reassessment that it helped to complete is judged anew.

    A dose that waits again for its reading is kept one by one again.
    """
    helped = known.past.helped_by(event.target.id)
    again = [_complete_again(known, each, event.target.id) for each in helped]
    measured = known.past.without_reading(event.target.id)
    event = replace(event, measured=measured, reassessments=tuple(again))
    return adding_up(known.whole(), asked, event) if any(each.state == "waiting" for each in again) else event


def _complete_again(known: Known, done: Reassessment, reading_id: str) -> Reassessment:
    """Let the readings that are left complete it, perhaps later; without them it waits again."""
    waiting = replace(done, state="waiting", done_at=None)
    left = [each for each in known.past.readings_since(done.counts_from) if each.id != reading_id]
    done_at = reassess.completed_by(waiting, left)
    return replace(waiting, state="done", done_at=done_at) if done_at else waiting


def _without_dose(known: Known, asked: Asked[CorrectionEntry], event: events.EntryCorrected) -> Decided:
    """The dose counts no more, nor for its order: what it asked for, its alert and the bag it hung go with it.

    What counted against later doses counts no more. A dose is judged by what its crew knew of the patient: a reading
    taken back changes no check made by it.
    """
    stored = known.past.dose(event.target.id)
    known = known.whole()  # an older dose may take its place among those that are kept
    state = known.state
    order = order_book.uncounted(known, stored.order, stored.entry.given_at, asked.by, asked.now)
    after = treated.taken_back(state, stored.id)
    unanswered, back = _counted_without(known, stored.id)
    again = (*_wait_again(after.reassessments, asked), *back)
    event = replace(event, became=order, reassessments=again, unanswered=unanswered)
    event = adding_up(known, asked, event)
    why = _("the entry was corrected")
    ended = [Ended(DOSE_OUTSIDE_LIMITS, stored.id, why), *countersigns.no_longer(state, stored.id, why)]
    about = what_runs.never_ran(known, stored.id, stored.order, asked.now, asked.by)
    decided = Decided([event, *about], ended=ended)
    decided.add(judged_anew(known, lambda: after, asked.id, stored.entry.given_at, taken_back=True))
    return decided


def _counted_without(known: Known, dose_id: str) -> tuple[dict[str, int], tuple[Reassessment, ...]]:
    """How many overdue readings are only counted without this dose's; the newest of them takes the place of its."""
    if not known.state.unanswered:
        return {}, ()
    counted = known.past.unanswered()
    own = [each for each in (*known.state.reassessments, *counted) if each.intervention == dose_id]
    alike = [each for each in counted if own and each.because == own[0].because]
    back = tuple(alike[-1:]) if own and own[0] not in counted and own[0].state == treated.OVERDUE else ()
    if not alike or not (back or own[0] in counted):
        return {}, ()
    return {own[0].because: len(alike) - 1}, back


def _wait_again(reassessments: tuple[Reassessment, ...], asked: Asked[CorrectionEntry]) -> tuple[Reassessment, ...]:
    """What is overdue before its time was so by another dose, perhaps this one: the rule judges it anew."""
    early = [each for each in reassessments if each.state == "overdue" and each.overdue_at > asked.now]
    return tuple(replace(each, state="waiting") for each in early)
