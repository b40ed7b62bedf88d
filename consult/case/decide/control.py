"""Who has control of a case: given up, offered to a colleague, moved to another unit."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.decide.cases import take_control
from consult.case.decide.order_book import require_open_case
from consult.case.entries import MoveEntry, Nothing, OfferEntry, ReleaseEntry
from consult.clock import utc
from consult.state.case import OPEN, CaseState
from consult.state.parts import Author, Named, UnitNamed
from dosing.ground.language import gettext as _
from dosing.ground.language import words


def release(known: Known, asked: Asked[ReleaseEntry]) -> Decided:
    """Give up control as the physician who has it: nobody has it from then on."""
    _has_control(known, asked.by)
    return Decided([events.CaseReleased(physician=asked.by.name, reason=asked.content.reason)])


def _has_control(known: Known, by: Author) -> None:
    """Refuse what only the physician who has control of an open case may do."""
    state, whose = known.state, known.state.unit.call_sign
    require_open_case(state)
    if state.physician is None:
        raise problems.WrongState(_("No physician has control of the case of {call_sign}.", call_sign=whose))
    if state.physician.id != by.id:
        raise problems.WrongState(
            _(
                "{physician} has control of the case of {call_sign}: only they can give it up.",
                physician=state.physician.name,
                call_sign=whose,
            )
        )


def offer(known: Known, asked: Asked[OfferEntry], to: Named, handover: str) -> Decided:
    """Offer control to a colleague at the change of shift, as who has it; what was offered before ends."""
    _has_control(known, asked.by)
    event = events.ControlOffered(id=asked.id, handover=handover, to=to, note=asked.content.note)
    return Decided([event])


def accept_offer(known: Known, asked: Asked[Nothing], handover: str) -> Decided:
    """Take control that was offered in a handover, as the colleague to whom it was."""
    offered, by = known.state.offered, asked.by
    if offered is None or offered.handover != handover:
        raise problems.WrongState(_no_longer(known.state))
    if offered.to.id != by.id:
        raise problems.Forbidden(_("This case is offered to {to}.", to=offered.to.name))
    event = take_control(by, known.state.physician)
    return Decided([replace(event, handover=handover)])


def _no_longer(state: CaseState) -> str:
    """What became of an offer that does not stand any more."""
    whose = state.unit.call_sign
    if state.state != OPEN:
        return _(
            "The case of {call_sign} is no longer offered: it is {state}.", call_sign=whose, state=words(state.state)
        )
    if state.physician is None:
        return _("The case of {call_sign} is no longer offered: no physician has control.", call_sign=whose)
    return _(
        "The case of {call_sign} is no longer offered: {physician} has control.",
        call_sign=whose,
        physician=state.physician.name,
    )


def move(known: Known, asked: Asked[MoveEntry], unit: UnitNamed, label: str | None) -> Decided:
    """Let another unit go on with the patient; nothing that runs, waits or is in hand changes."""
    state = known.state
    refuse_move(known, asked, unit.id)
    event = events.CaseMoved(left=state.unit, unit=unit, moved_at=asked.at, label=label)
    return Decided([event])


def seen(state: CaseState, by: Author, decided: Decided) -> Decided:
    """Whoever of the new crew enters something has seen that it has the patient, unless it is to move them on."""
    moved_on = any(isinstance(event, events.CaseMoved) for event in decided.events)
    opened = by.is_crew and state.moved_not_seen_since is not None and not moved_on
    return Decided([events.MoveSeen()] if opened else [])


def refuse_move(known: Known, asked: Asked[MoveEntry], unit: str) -> None:
    """Refuse a move of an ended case, to the unit that has the patient, or before that unit had."""
    state = known.state
    require_open_case(state)
    if unit == state.unit.id:
        raise problems.WrongState(_("{call_sign} already has this patient.", call_sign=state.unit.call_sign))
    since = state.former_units[-1].until if state.former_units else state.opened_at
    if asked.at < since:
        raise problems.Invalid.at(
            "/at",
            _("{call_sign} has had this patient only since {since}.", call_sign=state.unit.call_sign, since=utc(since)),
            "too_early",
        )
