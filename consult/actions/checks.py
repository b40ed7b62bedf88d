"""Questions to the rules that write nothing: a proposal checked, and what may be given now."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from consult import access, queries
from consult.access import Actor
from consult.actions import clocks
from consult.actions.entry import Data
from consult.actions.proposals import OTHER, checked, proposed, unlisted
from consult.card.facts import clinical, load
from dosing.flow import flow
from dosing.guidance import guidance as may_be_given


def check_proposal(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> dict[str, Any]:
    """What the rules say to a proposal for this patient at its time, and how it is made to run."""
    case = access.case_for(actor, case_uid)
    access.require_writer(actor)
    rules, facts = queries.rules_of(case), clinical(case, load(case))
    told, offset_s = clocks.apart(data)
    data = clocks.corrected(told, clocks.applied(offset_s), now, frozenset({"at"}))  # what is not given yet is a plan
    proposal = proposed(data, case, now)
    answer = unlisted(data, rules) if proposal.treatment == OTHER else checked(proposal, facts, rules)
    how = flow(proposal, facts, rules)
    return {**answer, "flow": how and how.as_dict()}


def guidance(actor: Actor, case_uid: UUID, now: datetime) -> dict[str, Any]:
    """What a crew may give this patient now without an order, and what starts by order."""
    case = access.case_for(actor, case_uid)
    rules = queries.rules_of(case)
    return {"treatments": may_be_given(clinical(case, load(case)), rules, now), "rule_set": rules.label}
