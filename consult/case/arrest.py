"""Cardiac arrest as a card tells it: from when to when, shocks, compressions, the doses for an arrest alone."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct

from consult.case.compressions import ON, Pauses, pauses
from consult.case.given import GivenLine
from consult.state.case import CaseState
from consult.state.done import Shock
from dosing.ground.kinds import Time
from dosing.ground.language import gettext as _
from dosing.ground.phases import ARREST, Phase, has_pulse
from dosing.ground.text import drug_text
from dosing.rules.rule_set import RuleSet, Treatment

MOST_SPANS = 10


class Span(Struct, frozen=True):
    """One arrest from when to when, and the phase that it ended with, null while it lasts; pauses in compressions."""

    since: Time
    until: Time | None
    then: Phase | None
    compressions: Pauses


class ArrestDose(Struct, frozen=True, kw_only=True):
    """How often a treatment that is for an arrest alone was given, when last, and from when on the next may follow."""

    treatment: str
    title: str
    count: int
    last_at: Time | None
    next_at: Time | None


class Arrest(Struct, frozen=True, kw_only=True):
    """Cardiac arrest so far: the newest ten ``spans``, oldest first; all shocks and doses of the case are counted.

    ``compressions_at`` is when the newest cycle of compressions began, ``check_at`` when the rhythm is looked at again;
    both are null without an arrest now.
    """

    spans: tuple[Span, ...]
    shocks: int
    last_shock: Shock | None
    compressions_at: Time | None
    check_at: Time | None
    doses: tuple[ArrestDose, ...]


def arrest(state: CaseState, given: tuple[GivenLine, ...], rules: RuleSet) -> Arrest | None:
    """The arrests of this case; None where there was none."""
    spans = _spans(state)
    if not spans:
        return None
    began = _compressions(state) if state.phase == ARREST else None
    cycle = timedelta(minutes=rules.watch.arrest_cycle_min)
    known = {line.treatment: line for line in given}
    alone = [each for each in rules.treatments.values() if each.phases == {ARREST}]
    return Arrest(
        spans=tuple(Span(*each, pauses(state, *each[:2])) for each in spans[-MOST_SPANS:]),
        shocks=len(state.shocks),
        last_shock=max(state.shocks, key=lambda each: each.at, default=None),
        compressions_at=began,
        check_at=began and began + cycle,
        doses=tuple(_dose(each, known.get(each.slug), rules) for each in alone),
    )


def _spans(state: CaseState) -> list[tuple[datetime, datetime | None, Phase | None]]:
    found: list[tuple[datetime, datetime | None, Phase | None]] = []
    before = None
    for change in state.phases:
        if change.phase == ARREST and before != ARREST:
            found.append((change.at, None, None))
        elif before == ARREST and change.phase != ARREST:
            found[-1] = (found[-1][0], change.at, change.phase)
        before = change.phase
    return found


def _compressions(state: CaseState) -> datetime | None:
    """When the newest cycle of this arrest began."""
    since = state.phase_since
    cycles = (each.at for each in state.procedures if each.procedure == ON)
    return max((at for at in cycles if since and at >= since), default=None)


def _dose(treatment: Treatment, line: GivenLine | None, rules: RuleSet) -> ArrestDose:
    told = {"treatment": treatment.slug, "title": drug_text(treatment.title, rules.tall_man)}
    if line is None:
        return ArrestDose(**told, count=0, last_at=None, next_at=None)
    interval = treatment.interval
    following = None if interval is None else line.last_at + timedelta(minutes=interval.value)
    return ArrestDose(**told, count=line.count, last_at=line.last_at, next_at=following)


def paused_because(state: CaseState) -> str:
    """Why alerts of pressures, vital signs and readings pause; an empty text while there is a pulse."""
    if has_pulse(state.phases):
        return ""
    return _("paused: cardiac arrest") if state.phase == ARREST else _("resuscitation has ended")
