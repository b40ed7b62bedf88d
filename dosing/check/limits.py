"""Holds a proposed dose against the rules: what it comes to, what is wrong with it, and who may still give it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf

from msgspec import structs

from dosing.check import (
    beside,
    dosage,
    giving,
    guessed_weight,
    known_since,
    leap,
    patient_state,
    pressure_state,
    titrated,
)
from dosing.check.allergies import ELECTROLYTE, class_elsewhere, recognized
from dosing.check.case import Question, asked_for, bedside
from dosing.check.findings import AGAINST, BEYOND, LEVELS, PASSING, Finding, level_of, worst
from dosing.check.giving import Give
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts, Order, Proposal, Weight
from dosing.ground.language import gettext as _
from dosing.patient.pressure_now import PressureNow
from dosing.rules.names import named
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet

OTHER = "other"
BY_ORDER_ELSEWHERE = frozenset({*pressure_state.NEED_PRESSURE, "relaxant", ELECTROLYTE})
_NO_ORDER = {
    "requested": _("the order is requested, not approved"),
    "approved": _("the order has not been read back"),
    "declined": _("the order was declined"),
    "withdrawn": _("the order was withdrawn"),
    "expired": _("the order has expired"),
    "voided": _("the order is no longer valid: the weight was changed"),
    "given": _("the order has already been carried out"),
    "not_given": _("the order was recorded as not given"),
}
_ENDED = frozenset({"declined", "withdrawn", "expired", "voided", "not_given"})


class UnknownTreatment(LookupError):
    """A treatment that the rule set does not name."""


@dataclass(frozen=True, kw_only=True)
class Check:
    """Contract, "checks": ``next_at`` is from when this dose may be given if it is too soon, else the next one.

    ``at`` is the moment for which it holds, ``pressure`` the newest one up to then.
    """

    verdict: str
    findings: tuple[Finding, ...]
    give: Give | None
    weight_used: Weight | None
    next_at: datetime | None
    rule_set: dict[str, str]
    weight_range: guessed_weight.WeightRange | None = None
    at: datetime | None = None
    pressure: PressureNow | None = None

    def as_dict(self) -> dict[str, object]:
        """The answer, with times as aware datetimes."""
        weight, now = self.weight_used, self.pressure
        return {
            "verdict": self.verdict,
            "findings": [finding.as_dict() for finding in self.findings],
            "give": None if self.give is None else self.give.as_dict(),
            "weight_used": weight and {"value": weight.value, "unit": weight.unit, "basis": weight.basis},
            "weight_range": self.weight_range and self.weight_range.as_dict(),
            "next_at": self.next_at,
            "at": self.at,
            "pressure": now and {"text": now.text, "measured": now.measured, "taken_at": now.taken_at},
            "rule_set": self.rule_set,
        }


def check(proposal: Proposal, facts: Facts, rules: RuleSet, *, order: Order | None = None) -> Check:
    """What the rules say about ``proposal`` at its time; ``facts`` holds what was given besides this dose.

    What was given after that time counts for nothing: a dose that is told late is judged by its place in time.

    Raises UnknownTreatment, case.UnknownIndication, and units.WrongUnit (``field`` says of what) for an amount of
    another kind.
    """
    if proposal.treatment == OTHER:
        return outside_rule_set(rules, order)
    if proposal.treatment not in rules.treatments:
        raise UnknownTreatment(proposal.treatment)
    at_bedside = bedside(_up_to(facts, proposal.at), rules, proposal.at)
    question = asked_for(at_bedside, proposal)
    asked = dosage.proposed(question, proposal)
    given, of_strength = giving.give(asked)
    of_dose = titrated.weighed(question, order)
    found = _found(asked, of_strength, of_dose)
    return Check(
        verdict=worst(found),
        findings=tuple(sorted(found, key=lambda finding: -LEVELS.index(finding.level))),
        give=given,
        weight_used=_weight_used(asked),
        next_at=_next_at(asked, found, of_dose),
        rule_set=rules.label,
        weight_range=guessed_weight.weight_range(asked, found, lambda other: _found(other, of_strength, of_dose)),
        at=proposal.at,
        pressure=at_bedside.pressure,
    )


def _up_to(facts: Facts, at: datetime) -> Facts:
    """The facts without what was given after a moment."""
    return structs.replace(facts, doses=tuple(dose for dose in facts.doses if dose.given_at <= at))


def _found(asked: dosage.Proposed, of_strength: list[Finding], order: Order | None) -> list[Finding]:
    runs = (*beside.running(asked.question, asked), *leap.findings(asked))
    found = [*patient_state.findings(asked.question), *runs, *dosage.findings(asked), *of_strength]
    if beside.lowers(asked):  # less of what runs need wait for no reading
        lower = pressure_state.lower_rate(asked.question)
        found = [*(_eased(each) for each in found if each.code not in PASSING), *lower]
    elif beside.from_another_bag(asked):
        found = [each for each in found if each.code not in PASSING]
    return found if order is None else _with_order(found, asked, order)


def _eased(finding: Finding) -> Finding:
    """What speaks against the drug is only told where less of it is to run: that must never be held back."""
    against = finding.code in ("contraindicated", "weight_unlikely", *AGAINST) and finding.level in BEYOND
    return replace(finding, level="caution") if against else finding


def outside_rule_set(rules: RuleSet, order: Order | None = None, name: str = "") -> Check:
    """The check of a drug that the rule set lacks: a caution, nothing to compute, and an order that does not hold.

    A pressor, sedative or opioid, what paralyzes, a concentrated electrolyte lies beyond what may be given without an
    order, and what starts by order by the rule set that has it, though not as it was given here.
    """
    source = source_text(rules.findings["not_in_rule_set"])
    words, grave = _("not in the rule set: no limit was checked"), class_elsewhere(name, rules) in BY_ORDER_ELSEWHERE
    if grave:
        words = _("not in the rule set: no limit was checked; such a drug needs an order")
    elif name and not recognized(name, rules):
        words = _(
            "not in the rule set: no limit was checked; the name is not recognized, so what it must not meet was not"
            " checked either"
        )
    if known := named(name, rules):
        words = _("{told}: none of their limits could be checked for what is told here", told=known.told(rules))
        grave = any(
            each.drug_class in pressure_state.NEED_PRESSURE or each.starts_by_order for each in known.treatments
        )
    ordered = order is not None and order.state == "read_back"
    level = "needs_order" if grave and not ordered else "caution"
    found = [Finding("not_in_rule_set", words, source, level=level)]
    if order is not None and order.state != "read_back":
        found = [_no_order(order, rules), *found]
    none = {"give": None, "weight_used": None, "next_at": None}
    return Check(verdict=worst(found), findings=tuple(found), **none, rule_set=rules.label)


def _weight_used(asked: dosage.Proposed) -> Weight | None:
    used = asked.question.limits.uses_weight() or units.per_kg(asked.proposal.amount.unit)
    return asked.question.bedside.facts.patient.weight if used else None


def _next_at(asked: dosage.Proposed, found: list[Finding], order: Order | None) -> datetime | None:
    """Counted from the newest dose if this one is too soon, else from this one; by the order while doses are left."""
    if order is not None and order.titrate is not None and asked.question.new_rate:
        return titrated.next_at(asked, order, found)
    question, interval = asked.question, asked.question.interval
    minutes, every = None if interval is None else interval.value, _every_min(asked, order)
    if any(finding.code == "too_soon" and finding.level != "caution" for finding in found):
        return max(filter(None, (question.next_at, _after_own(question, every))))
    if order is not None and every is not None and order.given + 1 < order.times:
        minutes = every
    return None if minutes is None else asked.proposal.at + timedelta(minutes=minutes)


def _after_own(question: Question, minutes: float | None) -> datetime | None:
    """So long after the newest dose of the very treatment: what is ordered apart is one drug."""
    if minutes is None or not question.given:
        return None
    return question.given[-1].given_at + timedelta(minutes=minutes)


def _with_order(found: list[Finding], asked: dosage.Proposed, order: Order) -> list[Finding]:
    """An order that was read back and covers this dose makes cautions of what it was given for."""
    if order.state != "read_back":
        return [*found, _no_order(order, asked.question.bedside.rules)]
    stepped = titrated.findings(asked, order)
    if not covers(order, asked):
        told = {each.code for each in stepped}
        return [*(each for each in found if each.code not in told), *stepped]
    return [*(_ordered(finding, asked, order) for finding in found), *_sooner(asked, order, found), *stepped]


def _no_order(order: Order, rules: RuleSet) -> Finding:
    """That an order does not hold: how it stands, and where it ended who ended it when."""
    waits = _("the order waits for a second physician") if order.waits_for_cosign else _NO_ORDER[order.state]
    words = order.told if order.told and order.state in _ENDED else waits
    code = "order_not_read_back"
    return Finding(code, words, source_text(rules.findings[code]), None, level_of(code))


def carries_out(proposal: Proposal, facts: Facts, rules: RuleSet, order: Order) -> bool:
    """Whether a dose of the rule set is one that was ordered; raises as ``check`` does."""
    at_bedside = bedside(_up_to(facts, proposal.at), rules, proposal.at)
    question = asked_for(at_bedside, proposal)
    return covers(order, dosage.proposed(question, proposal))


def covers(order: Order, asked: dosage.Proposed) -> bool:
    """Whether the dose is what was ordered: treatment, for what, route, no more than the amount, not more often."""
    order = titrated.covering(order, new_rate=asked.question.new_rate)
    proposal, ordered, rules = asked.proposal, None, asked.question.bedside.rules
    known = order.treatment in rules.treatments
    for_what = rules.treatment(order.treatment, order.indication).indication if known else ""
    if order.amount is not None:
        ordered = asked.question.absolute(order.amount)
        if order.concentration is not None and units.kind(order.amount.unit) == "volume/min":
            ordered = ordered * units.quantity(order.concentration)
    within = ordered is None or (ordered.units == asked.dose.units and asked.dose <= ordered)
    return (
        order.treatment == proposal.treatment
        and for_what == asked.question.treatment.indication
        and order.route in ("", proposal.route)
        and order.given < order.times
        and within
    )


def _ordered(finding: Finding, asked: dosage.Proposed, order: Order) -> Finding:
    """The finding as a caution, where it is one that the order was given for; what its physician never saw stays."""
    by, cosigned = order.by or _("the physician"), finding.code == "above_hard_limit" and order.cosigned_by
    if cosigned:
        by = _("{by}, co-signed by {cosigned}", by=by, cosigned=cosigned)
    elif finding.level != "needs_order" or _not_so_ordered(finding, asked, order):
        return finding
    if known_since.is_news(finding, asked, order):
        return replace(finding, text=known_since.told(finding, order))
    return replace(finding, level="caution", text=_("ordered by {by}: {finding}", by=by, finding=finding.text))


def _not_so_ordered(finding: Finding, asked: dosage.Proposed, order: Order) -> bool:
    """Whether it comes sooner, or goes in faster, than was ordered; an order that names no time lets none be faster."""
    if finding.code == "too_fast":
        return asked.proposal.over_min is not None and asked.proposal.over_min < (order.over_min or inf)
    return finding.code == "too_soon" and _sooner_than_ordered(asked, order)


def _sooner(asked: dosage.Proposed, order: Order, found: list[Finding]) -> list[Finding]:
    """The interval that was ordered, where it is longer than that of the rules and has not passed."""
    if not _sooner_than_ordered(asked, order) or any(finding.code == "too_soon" for finding in found):
        return []
    by, every = order.by or _("the physician"), Amount(order.every_min or 0, "min")
    words = _("ordered by {by} no sooner than {every} after the last dose", by=by, every=text.minutes_text(every.value))
    return [Finding("too_soon", words, _("order by {by}", by=by), every, level_of("too_soon"))]


def _every_min(asked: dosage.Proposed, order: Order | None) -> float | None:
    """The interval of the order that this dose carries out, None where none was ordered."""
    if order is None or order.state != "read_back" or not covers(order, asked):
        return None
    return order.every_min


def _sooner_than_ordered(asked: dosage.Proposed, order: Order) -> bool:
    """A repeated order has an interval of its own; a single one was given for now."""
    before, grace = asked.question.before, asked.question.bedside.rules.pressure.grace_s
    if order.every_min is None or order.given == 0 or not before:
        return False
    return (asked.proposal.at - before[-1].given_at).total_seconds() < order.every_min * 60 - grace
