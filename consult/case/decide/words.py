"""Words and deeds beside the drugs: notes, procedures, reviews, and that somebody has taken notice of an alert."""

from __future__ import annotations

from msgspec.structs import asdict

from consult import events
from consult.case.decide.asked import Asked, Decided, Ended, Known
from consult.case.decide.judged_anew import judged_anew
from consult.case.entries import NoticeEntry, PhaseEntry, ProcedureEntry, TextEntry
from consult.case.fold.known import with_phase
from consult.state.done import Done, Shock
from consult.state.parts import Alert, WayIn
from dosing.ground.kinds import HAPPENINGS
from dosing.ground.language import gettext as _
from dosing.ground.phases import PhaseChange

ACCESS = ("iv_access", "io_access")
SHOCK = "defibrillation"


def add_note(known: Known, asked: Asked[TextEntry]) -> Decided:
    """Add a few words to the case."""
    return Decided([events.NoteAdded(id=asked.id, text=asked.content.text)])


def change_phase(known: Known, asked: Asked[PhaseEntry]) -> Decided:
    """The case is in another phase from then on; doses given since are judged by it."""
    phase = asked.content.phase
    decided = Decided([events.PhaseChanged(id=asked.id, phase=phase)])
    change = PhaseChange(asked.id, phase, asked.at)
    decided.add(judged_anew(known.whole(asked.at), lambda: with_phase(known.state, change), asked.id, asked.at))
    return decided


def add_procedure(known: Known, asked: Asked[ProcedureEntry]) -> Decided:
    """Record something done that is not a drug; a way into the circulation stands on the card, a shock is counted."""
    done, way, shock = asked.content, None, None
    if done.procedure in ACCESS:
        way = WayIn(
            id=asked.id,
            at=asked.at,
            procedure=done.procedure,
            site=done.site,
            gauge=done.gauge,
            outcome=done.outcome,
        )
    if done.procedure == SHOCK and done.outcome in (None, "done"):
        shock = Shock(asked.id, asked.at, done.settings.joules if done.settings else None)
    kept = Done(id=asked.id, at=asked.at, **asdict(done))
    return Decided([events.ProcedureRecorded(id=asked.id, content=asked.sent, access=way, done=kept, shock=shock)])


def add_review(known: Known, asked: Asked[TextEntry]) -> Decided:
    """Write down what a supervisor found."""
    return Decided([events.ReviewAdded(id=asked.id, text=asked.content.text, outcome=asked.content.outcome)])


def acknowledge(known: Known, asked: Asked[NoticeEntry], alert: Alert) -> Decided:
    """Take notice of an alert, by name; done once, again changes nothing. A happening ends with it."""
    if alert.acknowledged:
        return Decided()
    event = events.AlertAcknowledged(alert=alert.id, alert_kind=alert.kind, note=asked.content.note)
    why = _("acknowledged by {by}", by=asked.by.name)
    ended = [Ended(alert.kind, alert.cause, why)] if alert.kind in HAPPENINGS else []
    return Decided([event], ended=ended)
