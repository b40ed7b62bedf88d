"""What a dose would do that is asked about, before anybody decides: rate, total, how long the bag lasts, the last one.

Information beside the check, no judgment: nothing here is a finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from fractions import Fraction

from msgspec import structs

from dosing.check.case import Question, asked_for, bedside
from dosing.check.dosage import Proposed, proposed
from dosing.check.infusion import last_set, set_for
from dosing.ground import text, units
from dosing.ground.facts import Amount, Dose, Facts, Proposal
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext, words
from dosing.ground.text import clock
from dosing.held import draws, ledger
from dosing.held.container_state import FORESEEN, ContainerState, minutes, span
from dosing.patient.pressure import means_mmhg
from dosing.patient.response import responses
from dosing.rules.rule_set import RuleSet
from dosing.tell.left import counted_whole

PER_HOUR = 60


def effects(proposal: Proposal, rate: Amount | None, facts: Facts, rules: RuleSet) -> Iterator[str]:
    """Each effect on a line, for a proposal that the rules can make sense of; ``rate`` is the pump's by its check."""
    question = asked_for(bedside(facts, rules, proposal.at), proposal)
    asked = proposed(question, proposal)
    yield from _rate(question, rate, facts)
    yield from _total(asked)
    yield from _supply(asked, rate, facts)
    yield from _last(question, facts, rules)


def _running(question: Question) -> Dose | None:
    """The infusion of this treatment that a new rate would change."""
    runs = (dose for dose in question.bedside.doses if dose.treatment == question.treatment.slug and dose.rates)
    return next((dose for dose in runs if question.new_rate and dose.goes_on), None)


def _rate(question: Question, rate: Amount | None, facts: Facts) -> Iterator[str]:
    """``Pump 30 mL/h, now 0.05 mcg/kg/min``, of what runs, for the weight by now; what begins stands with its dose."""
    known = _running(question)
    if rate is not None and known is not None and known.amount is not None:
        was_set = last_set(known)
        runs = (was_set and set_for(was_set, facts.patient.weight)) or known.amount
        now = f"{_('held, was ') if known.status == 'held' else ''}{text.amount_text(runs)}"
        yield _("Pump {rate}, now {now}", rate=text.amount_text(rate), now=now)


def _total(asked: Proposed) -> Iterator[str]:
    """``50 mcg in all with this dose, number 3``, and what of that may have gone in only in part."""
    question = asked.question
    if question.treatment.form == "infusion" or units.is_per_kg(asked.dose):
        return
    used = question.used
    whole = asked.dose if used is None else used + asked.dose
    told = _(
        "{whole} in all with this dose, number {count}",
        whole=text.amount_text(asked.shown(whole)),
        count=question.count + 1,
    )
    yield ", ".join(filter(None, [told, counted_whole(question.given)]))


def _supply(asked: Proposed, rate: Amount | None, facts: Facts) -> Iterator[str]:
    """How long what is in hand lasts at the rate, against the arrival; of a syringe how many such doses it holds."""
    question = asked.question
    held = _in_hand(asked, facts)
    if held is None:
        return
    left = _left(held, asked.proposal.at)
    told = _(
        "{left} left in the {form}",
        left=text.amount_text(Amount(round(float(left), 1), "mL")),
        form=words(held.container.form),
    )
    if question.treatment.form != "infusion":
        volume = draws.in_ml(asked.dose, held.container.strength) if not units.is_per_kg(asked.dose) else None
        if volume:
            count = int(left / volume)
            if count:
                yield ngettext("{told}: {count} such dose", "{told}: {count} such doses", count, told=told)
            else:
                new = _("; hang a new one and write its volume") if ledger.is_fluid(question.treatment) else ""
                yield _("{told}: less than one such dose{new}", told=told, new=new)
        return
    per_min = units.number(units.quantity(rate), "mL/min") if rate is not None else None
    if not per_min:
        return
    if not left:
        yield _("The {form} is empty by its rates: record the one that hangs now", form=words(held.container.form))
        return
    if left > per_min * minutes(FORESEEN):
        yield _("{told}: lasts more than a day", told=told)
        return
    ends = asked.proposal.at + span(left / per_min)
    yield _(
        "{told}: lasts {length}, to {ends}{arrival}",
        told=told,
        length=_length(left / per_min),
        ends=clock(ends),
        arrival=_arrival(ends, facts.eta, asked.proposal.at),
    )


def _arrival(ends: datetime, eta: datetime | None, now: datetime) -> str:
    if eta is None or eta <= now:
        return ""
    short = eta - ends
    if short > timedelta(0):
        return _(", {length} before the arrival at {eta}", length=_length(minutes(short)), eta=clock(eta))
    return _(", beyond the arrival at {eta}", eta=clock(eta))


def _length(length_min: Fraction) -> str:
    return text.minutes_text(max(1, int(length_min)))


def _in_hand(asked: Proposed, facts: Facts) -> ContainerState | None:
    """What the dose would be drawn from: of what runs the bag that is not empty, else the newest of the treatment."""
    question, at = asked.question, asked.proposal.at
    known = _running(question)
    every = [each for each in ledger.holdings(facts, question.bedside.rules) if each.container.cylinder is None]
    there = [each for each in every if each.in_hand(at)]
    hung = known and structs.replace(known, concentration=asked.proposal.concentration or known.concentration)
    if hung and (line := draws.chain(hung, question.treatment, there)):
        return next((each for each in line if _left(each, at)), line[-1])
    named = [each for each in every if each.container.id == asked.proposal.container]
    alike = [each for each in there if each.container.treatment == question.treatment.slug]
    return next(iter(named or alike[::-1]), None)


def _left(held: ContainerState, at: datetime) -> Fraction:
    """What is left then, of what runs as much less as has run since."""
    pushed = held.treatment is not None and held.treatment.form == "push"
    ran = held.per_min * minutes(max(at - held.left_at, timedelta(0))) if not pushed else 0
    return max(Fraction(0), held.left - ran)


def _last(question: Question, facts: Facts, rules: RuleSet) -> Iterator[str]:
    """``Last 20 mcg at 12:04 UTC: MAP 58 → 66``; the rate in force where it runs."""
    last = question.before[-1] if question.before else None
    if last is None or last.amount is None:
        return
    at = last.changed_at if last.rates and last.changed_at else last.given_at
    ended = _(", {how} {at}", how=words(last.status), at=clock(last.ended_at)) if last.rates and last.ended_at else ""
    answer = next(iter(responses([last], facts, rules)), None)
    moved = (
        f"MAP {answer.map_before:.0f} → {answer.map_after:.0f}" if answer else _unanswered(facts, at, ended=bool(ended))
    )
    amount = text.amount_text(last.amount)
    yield _("Last {amount} at {at}{ended}: {moved}", amount=amount, at=clock(at), ended=ended, moved=moved)


def _unanswered(facts: Facts, at: datetime, *, ended: bool) -> str:
    """The pressure before a dose, or that there is none; and that no reading shows what it did."""
    readings = [each for each in facts.readings if each.taken_at <= at]
    pairs = zip(readings, means_mmhg(readings), strict=True)
    before = [(mean, each.taken_at) for each, mean in pairs if mean is not None]
    none = _("no reading shows its effect") if ended else _("no reading shows its effect yet")
    if not before:
        return _("no MAP before it, {none}", none=none)
    mean, taken_at = before[-1]
    return _("MAP {before} before it, {taken_at}; {none}", before=f"{mean:.0f}", taken_at=clock(taken_at), none=none)
