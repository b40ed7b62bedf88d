"""The only computation of the card: from the case row, its kept facts and the rule set; reads no clock."""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec

from consult.card import fluids, given, in_hand
from consult.card.facts import KEPT_READINGS, Kept, by_due
from consult.clock import stamp
from consult.models import Case
from dosing import pressure, response, trend
from dosing.below_goal import BelowGoal, below_goal
from dosing.facts import Facts, Reading
from dosing.freshness import fresh_min
from dosing.goals import limits_for
from dosing.rule_set import RuleSet
from dosing.signs import signs_of_case
from dosing.watch_vitals import alarming

MOST_SHOWN = 60  # of each list (contract, "card")
TREND = ("sbp", "dbp", "map", "hr", "spo2", "etco2", "rr")

Card = dict[str, Any]


def build(case: Case, kept: Kept, facts: Facts, rules: RuleSet) -> Card:
    """The card as plain JSON values (contract, "Live"); `facts` are the kept ones as the rules look at them."""
    return {
        "case": str(case.uid),
        "seq": case.seq,
        **_header(case, kept),
        **_measured(kept, facts, rules),
        **_treated(case, kept, facts, rules),
        "reassessments": soonest(kept["reassessments"]),
        "orders": newest(kept["orders"]),
        "access": newest(kept["access"]),
        "alerts": alerts_shown(kept["alerts"]),
        "last_contact_at": stamp(case.last_contact_at),
    }


def alerts_shown(alerts: list[Card]) -> list[Card]:
    """The open alerts that a card shows: a clock that is off is for the supervisor's list alone."""
    return newest([alert for alert in alerts if alert["kind"] != "clock_offset"])


def newest(items: list[Card]) -> list[Card]:
    """As many of these as a card shows, which come oldest first; totals count them all."""
    return items[-MOST_SHOWN:]


def soonest(reassessments: list[Card]) -> list[Card]:
    """The reassessments that a card shows: the next that are due."""
    return sorted(reassessments, key=by_due)[:MOST_SHOWN]


def _header(case: Case, kept: Kept) -> Card:
    return {
        "unit": kept["unit"],
        "state": case.state,
        "opened_at": stamp(case.opened_at),
        "ended_at": stamp(case.ended_at) if case.ended_at else None,
        "outcome": case.outcome or None,
        "incident": case.incident,
        "patient": case.patient,
        "complaint": case.complaint,
        "impression": case.impression,
        "destination": case.destination,
        "eta": stamp(case.eta) if case.eta else None,
        "physician": kept["physician"],
        "rule_set": kept["rule_set"],
    }


def _measured(kept: Kept, facts: Facts, rules: RuleSet) -> Card:
    goal = pressure.goal_for(facts, rules)
    newest = msgspec.convert(kept["pressure"], Reading) if kept["pressure"] else Reading(taken_at=facts.opened_at)
    found = signs_of_case(facts)
    judged = pressure.judge(newest, facts.patient, goal, rules)
    state = judged.pressure.state if judged.pressure else "unknown"
    derived = {
        **judged.as_dict(),
        "signs": list(found.present),
        "signs_old": list(found.old),
        "signs_taken": {told: [text, stamp(at)] for told, (text, at) in found.taken_at.items()},
        "alarming": alarming(facts, rules),
        "above": pressure.above(newest, judged, goal),
        "taken_at": kept["pressure"] and kept["pressure"]["taken_at"],
        "fresh_min": fresh_min(newest.taken_at, state, facts, rules),
    }
    vitals = {
        name: {"value": value["value"], "taken_at": value["taken_at"]}
        for name, value in kept["latest"].items()
        if value["value"] is not None
    }
    crossing = trend.crossing_at(facts.readings, float(limits_for(facts.patient, goal, rules).map_floor))
    return {
        "goal": goal_dict(goal),
        "vitals": {**vitals, "derived": derived},
        "trend": [_point(each) for each in kept["readings"] if any(name in each for name in TREND)][-KEPT_READINGS:],
        "map_slope": _rounded(trend.slope(facts.readings)),
        "crossing_at": stamp(crossing) if crossing else None,
        "below_goal": _below(below_goal(facts.readings, goal)),
    }


def _below(measure: BelowGoal | None) -> Card | None:
    """Reckoned from the kept readings alone, so that a post costs the same however long the case is."""
    return None if measure is None else {**measure.as_dict(), "since": stamp(measure.since)}


def goal_dict(goal: Any) -> Card:
    """A pressure goal as the card tells it."""
    return {"measure": goal.measure, "floor": goal.floor, "ceiling": goal.ceiling, "because": goal.because}


def _point(reading: dict[str, Any]) -> Card:
    point = {"t": reading["taken_at"], **{name: reading.get(name) for name in TREND}}
    if reading.get("bp_method") in ("palpated", "unobtainable"):
        point["bp_method"] = reading["bp_method"]
    return point


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _treated(case: Case, kept: Kept, facts: Facts, rules: RuleSet) -> Card:
    shown = facts.doses[-MOST_SHOWN:]
    return {
        **_sums(case, kept, facts, rules),
        "running": newest(given.running(kept["doses"])),
        "responses": [answer for dose in shown if (answer := response.response(dose, facts, rules))],
        "doses": newest(kept["doses"]),
    }


def _sums(case: Case, kept: Kept, facts: Facts, rules: RuleSet) -> Card:
    """Totals of what was given; reckoned anew only when doses, patient or rules are others, not with each reading."""
    content = msgspec.json.encode([kept["doses"], *_stock(kept, case), case.patient, case.impression, rules.digest])
    key = hashlib.sha256(content).hexdigest()[:16]
    if kept["sums"].get("key") != key:
        sums = {"fluids": fluids.summary(facts, rules), "given": newest(given.totals(facts, rules))}
        kept["sums"] = {"key": key, **sums, "in_hand": newest(in_hand.lines(kept["containers"], facts, rules))}
    return {name: kept["sums"][name] for name in ("fluids", "given", "in_hand")}


def _stock(kept: Kept, case: Case) -> tuple[Any, ...]:
    """What besides doses says what is left in hand."""
    return kept["containers"], kept["oxygen"] if kept["containers"] else None, case.ended_at
