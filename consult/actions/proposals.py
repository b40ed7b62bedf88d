"""From an entry to what the rules are asked: the proposal in it, and how its dose is written."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import msgspec

from consult import digest, problems
from consult.actions.entry import Data
from consult.card.doses import shown
from consult.models import Case
from dosing import limits, units
from dosing.facts import Facts, Order, Proposal
from dosing.rule_set import RuleSet

FIELDS = ("treatment", "amount", "route", "stock", "concentration", "over_min", "gauge", "product")
OTHER = "other"
CLOCKS_DIFFER = timedelta(minutes=2)


def proposal_of(data: Data, at: Any) -> Proposal:
    """The proposal that an entry holds, for the time `at`."""
    named = {name: str(data[name]) for name in ("container", "access") if data.get(name)}
    said = {name: data[name] for name in FIELDS if data.get(name) is not None}
    return msgspec.convert({**said, **named, "at": at}, Proposal)


def proposed(data: Data, case: Case, now: datetime) -> Proposal:
    """The proposal for the time that it states, else now; raises Invalid where that lies before the case.

    A case just opened by a clock that is ahead is no reason to refuse: what lies within 2 minutes counts as now.
    """
    at = data.get("at") or now
    if at < min(case.opened_at, now - CLOCKS_DIFFER):
        raise problems.Invalid.at("/at", "This time lies before the case was opened.", "before_case")
    return proposal_of(data, at)


def checked(proposal: Proposal, facts: Facts, rules: RuleSet, order: Order | None = None) -> dict[str, Any]:
    """The check of a proposal as the API answers it; raises Invalid where the rules cannot make sense of it."""
    try:
        answer: dict[str, Any] = digest.plain(limits.check(proposal, facts, rules, order=order).as_dict())
        return answer
    except limits.UnknownTreatment as error:
        raise problems.Invalid.at(
            "/treatment", f"The rule set has no treatment “{error}”.", "unknown_treatment"
        ) from error
    except units.WrongUnit as error:
        raise problems.Invalid.at("/" + error.field.replace(".", "/"), error.detail, error.code) from error


def unlisted(data: Data, rules: RuleSet, order: Order | None = None) -> dict[str, Any]:
    """The check of a drug that the rule set lacks: what was said of it, and that no limit was checked."""
    give = {"dose": digest.plain(data.get("amount")), "volume": None, "rate": None, "shown": shown(data, rules)}
    answer: dict[str, Any] = digest.plain(limits.outside_rule_set(rules, order, data.get("name") or "").as_dict())
    return {**answer, "give": give}


def same_name(one: Data, other: Data) -> bool:
    """Whether two entries name the same drug that the rule set lacks; by value, not by spaces or capitals."""
    first, second = (" ".join(str(each.get("name") or "").casefold().split()) for each in (one, other))
    return first == second
