"""Doses ordered by voice: recorded as such at once, countersigned later by the physician who is named."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide.asked import Asked, Decided, Ended, Known, StoredDose, alarm, outside
from consult.case.entries import CountersignEntry, DoseEntry
from consult.clock import utc_seconds
from consult.state.case import CaseState
from consult.state.parts import Countersigned, Given, Named, VoiceOrder
from dosing.ground.facts import Countersign
from dosing.ground.language import gettext as _
from dosing.watch.countersigns import KIND


def ordered(physician: Named | None, told: DoseEntry) -> VoiceOrder | None:
    """The voice order that a dose tells of."""
    said = told.voice_order
    return VoiceOrder(physician=physician, at=said.at) if said and physician else None


def waiting(given: Given, asked: Asked[DoseEntry]) -> Countersign | None:
    """What waits for a physician once a dose is told as ordered by voice."""
    voice = given.voice_order
    if voice is None:
        return None
    by = voice.physician
    return Countersign(
        id=given.id, shown=given.shown, physician=by.id, by=by.name, ordered_at=voice.at, since=asked.now
    )


def countersign(known: Known, asked: Asked[CountersignEntry], dose_id: str, *, same_person: bool) -> Decided:
    """Countersign a voice order, or deny it: then the dose is judged as one without an order."""
    stored = known.past.dose(dose_id)
    waits = next((each for each in known.state.countersigns if each.id == dose_id), None)
    if waits is None:
        raise problems.WrongState(_not_waiting(known, stored))
    if not same_person:
        raise problems.Forbidden(_("Only {by}, named for this order, can countersign it.", by=waits.by))
    agreed, reason = asked.content.agreed, asked.content.reason
    said = Countersigned(agreed=agreed, by=asked.by.name, at=asked.now, reason=reason)
    found = () if agreed else outside(stored.check_now)
    event = events.InterventionCountersigned(
        intervention=dose_id,
        shown=waits.shown,
        countersigned=said,
        flagged=bool(found) or dose_id in known.state.flagged,
    )
    by = asked.by.name
    words = _("countersigned by {by}", by=by) if agreed else _("denied by {by}", by=by)
    decided = Decided([event], ended=no_longer(known.state, dose_id, words))
    if found:
        dose = known.whole(stored.entry.given_at).state.dose(dose_id)
        denied = replace(
            dose,
            shown=_("{dose}, an order that {by} denies ({reason})", dose=dose.shown, by=by, reason=reason),
        )
        decided.happened.append(alarm(denied, found, asked.now))
    return decided


def no_longer(state: CaseState, dose_id: str, why: str) -> list[Ended]:
    """The end of a physician's alert, where this was the last of their voice orders that wait."""
    mine = next((each for each in state.countersigns if each.id == dose_id), None)
    others = (each for each in state.countersigns if mine and each.physician == mine.physician and each is not mine)
    return [Ended(KIND, mine.physician, why)] if mine and not any(True for _ in others) else []


def _not_waiting(known: Known, stored: StoredDose) -> str:
    """Why there is nothing to countersign."""
    if stored.entry.voice_order is None:
        return _("This was not ordered by voice.")
    if said := stored.countersigned:
        words = (
            _("The voice order was countersigned by {by} at {time}.")
            if said.agreed
            else _("The voice order was denied by {by} at {time}.")
        )
        return words.format(by=said.by, time=utc_seconds(said.at))
    return _("This intervention was entered in error.")
