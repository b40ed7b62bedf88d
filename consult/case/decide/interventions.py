"""What was given: always kept, checked and flagged, never refused; each opens the reassessment it asks for."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime

from msgspec.structs import replace

from consult import events, problems
from consult.case import dose, order_words
from consult.case.checks import checked_dose, unlisted
from consult.case.decide import by_name, containers, countersigns, order_book, what_runs
from consult.case.decide.added_up import adding_up
from consult.case.decide.asked import Asked, Decided, Known, StoredDose, alarm, outside
from consult.case.decide.judged_anew import judged_anew
from consult.case.decide.then import facts_then
from consult.case.decide.times import not_before
from consult.case.decide.unlike import unlike_ordered
from consult.case.dose import OTHER, Unlike, proposal_of
from consult.case.entries import ChangeEntry, DoseEntry
from consult.case.fold.treated import with_dose
from consult.state.check import Check, Finding
from consult.state.parts import Given, Named, Order
from dosing.check.findings import BEYOND
from dosing.ground.language import gettext as _
from dosing.ground.phases import phase_at
from dosing.patient import reassess
from dosing.rules.rule_set import RuleSet


def record_intervention(known: Known, asked: Asked[DoseEntry], by_voice: Named | None = None) -> Decided:
    """Record a treatment that was given or is running, with its check and the reassessment due.

    `by_voice` is the physician of its voice order.
    """
    told, known = asked.content, known.whole(asked.content.given_at)
    order = order_book.named(known, told)
    stood = order and order_book.as_it_stood(order, told.given_at)
    containers.require_known(known.state, told)
    entry, check = _judged(known, told, stood)
    unlike = unlike_ordered(known, order, entry)
    given = dose.recorded(entry, asked.id, known.next_seq, check, known.rules, asked.by.name, unlike)
    given = replace(given, voice_order=countersigns.ordered(by_voice, told))
    hung = containers.hung_by(known, entry, asked)
    as_ordered = told if stood and stood.treatment == OTHER else entry
    counted = order_book.counted(known, order, as_ordered, asked.by, stood, asked.id) if order and stood else None
    # what others gave is no deviation of this crew's
    found = () if given.prior else outside(check, voice=given.voice_order)
    event = events.InterventionRecorded(
        id=asked.id,
        content=asked.sent,
        shown=given.shown,
        check=check,
        dose=given,
        hung=hung,
        reassessment=reassess.opened_by(given, known.rules, known.state.opened_at),
        became=counted,
        flagged=bool(found),
        countersign=countersigns.waiting(given, asked),
    )
    decided = Decided([adding_up(known, asked, event)])
    decided.add(judged_anew(known, lambda: with_dose(known.state, given), asked.id, entry.given_at))
    if found:
        decided.happened.append(alarm(given, found, entry.given_at))
    if counted:
        decided.ended.append(order_book.told_late(counted))
    return decided


def _judged(known: Known, told: DoseEntry, stood: Order | None) -> tuple[DoseEntry, Check]:
    """What was told as the rules know it, with its check; by its own words where they can make no sense of it."""
    told = by_name.for_what(told, stood)
    entry = by_name.as_known(told, known.rules, phase_at(known.state.phases, told.given_at))
    if entry is not told:
        with suppress(problems.Invalid):
            return entry, _check(known, entry, by_name.ordered_as_known(stood, entry))
    return told, _check(known, told, stood)


def _check(known: Known, entry: DoseEntry, stood: Order | None, *, new_rate: bool = False) -> Check:
    ordered = stood.for_rules(order_words.sentence(stood)) if stood else None
    if entry.treatment == OTHER:
        return unlisted(entry, known.rules, ordered)
    facts = facts_then(known.state, known.past, entry.given_at)
    check = checked_dose(proposal_of(entry, entry.given_at, new_rate=new_rate), facts, known.rules, ordered)
    return by_name.with_name(check, entry, known.rules)


def change_intervention(known: Known, asked: Asked[ChangeEntry], dose_id: str) -> Decided:
    """Record a new rate, a pause and its end, or the end of something that runs."""
    change, stored = asked.content, known.past.dose(dose_id)
    known = known.whole(asked.at if known.state.runs(dose_id) and not change.status else stored.entry.given_at)
    was = known.state.dose(dose_id)
    at = _when_changed(was, asked, stored)
    order = what_runs.ordering(known, change, was, at)
    if change.infused and change.infused.value:  # or none went in
        containers.measurable("infused", change.infused)
    check, told_now, unlike = _new_rate(known, change, was, replace(stored.entry, given_at=at), order) or (
        None,
        was.shown,
        None,
    )
    given, rate = dose.changed(was, change, at, check, told_now, unlike)
    held = None if order else what_runs.held_by(known, change, was)
    given, found = _with_hold(outside(check) if check else (), given, held, known.rules)
    done = what_runs.done_by(order, known, change, was, check, at, asked.by)
    event = events.InterventionChanged(
        intervention=dose_id,
        content=asked.sent,
        shown=told_now,
        check=check,
        dose=replace(given, rates=()) if (known.kept or known.state).keeps(dose_id) else given,
        rate=rate,
        reassessment=reassess.opened_by(given, known.rules, known.state.opened_at),
        became=done,
        flagged=bool(found),
    )
    decided = Decided([adding_up(known, asked, event)])
    if change.status in dose.ENDS:
        decided.events += what_runs.ended_with(known, dose_id, done, at, asked.by)
    if found:
        decided.happened.append(alarm(replace(was, shown=told_now), found, at))
    if done:
        decided.ended.append(order_book.told_late(done))
    return decided


def _with_hold(
    found: tuple[Finding, ...], given: Given, held: Order | None, rules: RuleSet
) -> tuple[Given, tuple[Finding, ...]]:
    """The dose after a change, and what wanted an order: what an order held before runs again by another alone."""
    if held is None:
        return given, found
    verdict = given.verdict if given.verdict in BEYOND else BEYOND[0]
    return replace(given, verdict=verdict), (*found, what_runs.runs_again(held, rules))


def _new_rate(
    known: Known, change: ChangeEntry, was: Given, told: DoseEntry, order: Order | None
) -> tuple[Check, str, Unlike | None] | None:
    """The check of a new rate, what it is in words, and what was ordered where it is unlike; None for no rate."""
    if change.amount is None:
        return None
    entry = replace(told, amount=change.amount, concentration=change.concentration or was.concentration)
    check = _check(known, entry, order, new_rate=True)
    orders = order_book.of_treatment(known, entry.treatment)
    ordered = order if change.order else order_book.in_force(orders, entry.given_at)
    unlike = unlike_ordered(known, ordered, entry, new_rate=True)
    return check, dose.shown(entry, known.rules, check, unlike), unlike


def _when_changed(was: Given, asked: Asked[ChangeEntry], stored: StoredDose) -> datetime:
    """When the change was; raises WrongState where nothing runs that could change, Invalid where it lies before it."""
    at = not_before(asked.at, was.given_at, asked.offset_s, stored.offset_s)
    if was.in_error:
        raise problems.WrongState(_("This intervention was entered in error."))
    if not was.goes_on and not (at and _late_rate(was, asked.content, at)):
        raise problems.WrongState(
            _("This intervention is {status}: only what is running can change.", status=was.status)
        )
    if at is None:
        raise problems.Invalid.at("/at", _("A change cannot come before the start."))
    if asked.content.concentration is not None and was.rates and at < was.rates[-1].at:
        raise problems.Invalid.at("/at", _("A change of the bag cannot come before the newest rate."))
    if was.status == asked.content.status and not (was.rates and at < was.rates[-1].at):
        raise problems.WrongState(_("This intervention is already {status}.", status=was.status))
    if asked.content.status == "held":
        what_runs.require_rate(
            was, "/status", _("record it as stopped with what went in, and start a new one when it continues")
        )
    return at


def _late_rate(was: Given, change: ChangeEntry, at: datetime) -> bool:
    """Whether a rate is told late, of the time before the end."""
    return change.amount is not None and was.ended_at is not None and at < was.ended_at
