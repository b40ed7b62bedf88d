"""Questions to the rules that write nothing: a proposal checked, and what may be given now."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import TypedDict
from uuid import UUID

import msgspec

from consult import access, problems, queries
from consult.access import Actor
from consult.actions.carry_out import load
from consult.actions.entry import Data, apart
from consult.case import order_words
from consult.case.checks import checked, checked_dose
from consult.case.decide import order_book, times, titration
from consult.case.decide.by_name import of_no_rule
from consult.case.decide.containers import require_known
from consult.case.decide.orders import require_in_case
from consult.case.dose import OTHER, from_bag_in_hand, proposal_of
from consult.case.entries import CheckEntry, OrderEntry
from consult.models import Case
from consult.resources.checks import CheckedProposal, checked_proposal
from consult.state.check import Check, Finding
from consult.state.parts import Order
from dosing.check.findings import PASSING
from dosing.ground.facts import Amount, Proposal
from dosing.ground.facts import Order as ForRules
from dosing.ground.language import gettext as _
from dosing.held.effects import effects
from dosing.tell.delivery import flow
from dosing.tell.guidance import guidance as may_be_given


def check_proposal(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> CheckedProposal:
    """What the rules say to a proposal for this patient at its time, and how it is made to run."""
    case = access.case_for(actor, case_uid)
    access.require_writer(actor)
    told, offset_s = apart(data)
    plan = times.corrected(told, times.applied(offset_s), now, frozenset({"at"}))  # what is not given yet is a plan
    asked_for = plan.get("at")
    at = asked_for if isinstance(asked_for, datetime) else now
    require_in_case(case.opened_at, at, now)
    entry, known = msgspec.convert(plan, CheckEntry), load(case).whole(at)
    require_known(known.state, entry)
    rules, facts = known.rules, known.facts
    entry = from_bag_in_hand(entry, facts, at, rules)
    proposal = proposal_of(entry, at, new_rate=entry.new_rate)
    if entry.treatment == OTHER:
        return checked_proposal(of_no_rule(entry, rules), flow(proposal, facts, rules), ())
    order = order_book.named(known, entry)
    answer = checked_dose(proposal, facts, rules, _as_it_stands(order, at) if order else None)
    if most := titration.at_most(entry):
        leads_to = checked(proposal_of(most, at, new_rate=True), facts, rules)
        answer = titration.with_most(answer, leads_to, most.amount)
    would = effects(proposal, answer.give.rate if answer.give else None, facts, rules)
    return checked_proposal(answer, flow(proposal, facts, rules), would)


def _as_it_stands(order: Order, at: datetime) -> ForRules:
    stood = order_book.as_it_stood(order, at)
    return stood.for_rules(order_words.sentence(stood))


def known_since(actor: Actor, case: Case, order_id: str, now: datetime) -> tuple[Finding, ...]:
    """What speaks against giving an order now that its physician did not see; waiting for the next dose is none."""
    access.require_writer(actor)
    known = load(case)
    order = known.state.order(order_id)
    if order is None or order.read_back_at is None or order.check is None or order.treatment == OTHER:
        return ()
    if order.titrate and order.given:
        return ()
    at = max(now, order.read_back_at)
    known = known.whole(at)
    entry = from_bag_in_hand(msgspec.convert(order, OrderEntry, from_attributes=True), known.facts, at, known.rules)
    proposal = proposal_of(entry, at, new_rate=order.action == "change")
    found = checked(proposal, known.facts, known.rules, order.for_rules()).beyond
    return tuple(each for each in found if each.code not in PASSING)


def next_rate(actor: Actor, case: Case, order_id: str, rate: Amount, at: datetime) -> Check:
    """What the rules would say to the next rate of what is stepped up by this order; raises NotFound without it."""
    access.require_writer(actor)
    known = load(case).whole(at)
    order = known.state.order(order_id)
    if order is None or order.intervention is None:
        raise problems.NotFound(_("This order has no steps."))
    dose = known.state.dose(order.intervention)
    proposal = Proposal(
        treatment=dose.treatment,
        amount=rate,
        route=dose.route,
        at=at,
        concentration=dose.concentration,
        indication=dose.indication,
        new_rate=True,
    )
    return checked(proposal, known.facts, known.rules, order.for_rules())


class Guidance(TypedDict):
    """What a crew may give a patient now, and by which rules."""

    treatments: list[dict[str, object]]
    rule_set: dict[str, str]


def guidance(actor: Actor, case_uid: UUID, now: datetime, beside: Collection[str] = ()) -> Guidance:
    """What a crew may give this patient now without an order, and what starts by order.

    Volumes are of the newest syringe in hand, of those that do not lie `beside` (ids).
    """
    case = access.case_for(actor, case_uid)
    rules, facts = queries.rules_of(case), queries.facts(case)
    drawn_from = tuple(each for each in facts.containers if each.id not in beside)
    facts = msgspec.structs.replace(facts, containers=drawn_from)
    return {"treatments": may_be_given(facts, rules, now), "rule_set": rules.label}
