"""The last pushes of a drug: when their effect wears off, and the infusion rate that they come to. Never advice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from dosing.check import infusion
from dosing.check.case import Bedside, Question
from dosing.check.findings import amount_dict
from dosing.ground import text, units
from dosing.ground.facts import Amount, Dose
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet, Treatment


@dataclass(frozen=True, slots=True)
class Run:
    """Pushes given close together, oldest first, and what was given from the first on until the last, per minute."""

    doses: tuple[Dose, ...]
    per_min: Quantity

    @property
    def minutes(self) -> float:
        """From the first push to the last."""
        return (self.doses[-1].given_at - self.doses[0].given_at) / timedelta(minutes=1)


def wears_off(question: Question) -> dict[str, Any] | None:
    """Between which times the last push wears off; None for what has no such time, or is past it."""
    lasts, pushes = question.treatment.lasts, _pushes(question)
    if lasts is None or not pushes:
        return None
    last = pushes[-1].given_at
    start, end = (last + timedelta(minutes=minutes) for minutes in (lasts.least, lasts.most))
    if question.bedside.at >= end:
        return None
    words = _(
        "The last push wears off {least} to {most} min after it",
        least=text.number_text(lasts.least),
        most=text.number_text(lasts.most),
    )
    return {"last_at": last, "earliest": start, "latest": end, "text": words, "source": source_text(lasts.source)}


def equivalent(question: Question) -> dict[str, Any] | None:
    """The rate of this infusion that the last pushes of its drug come to; None without two that still act.

    What was pushed before the last push, over the time to it: the last one has only begun to act.
    """
    if question.treatment.form != "infusion":
        return None
    for push in _pushed_forms(question.treatment, question.bedside.rules):
        run = last_run(Question(bedside=question.bedside, treatment=push))
        if run is not None:
            return _told(question, push, run)
    return None


def last_run(question: Question) -> Run | None:
    """The last pushes, each no longer after the one before than a push acts; None unless two are, and still act."""
    rule, lasts, at = question.bedside.rules.ledger, question.treatment.lasts, question.bedside.at
    together, run = timedelta(minutes=rule.push_lasts_min), list[Dose]()
    for dose in reversed(_pushes(question)):
        if len(run) == rule.pushes_for_rate or (run and run[-1].given_at - dose.given_at > together):
            break
        run.append(dose)
    if lasts is None or len(run) < 2 or at - run[0].given_at >= timedelta(minutes=lasts.most):
        return None
    minutes = (run[0].given_at - run[-1].given_at) / timedelta(minutes=1)
    amounts = [question.exact_dose(dose.infused, dose.amount, dose.weight) for dose in run[1:]]
    known = [each for each in amounts if each is not None and not units.is_per_kg(each)]
    if not minutes or len(known) < len(amounts):
        return None
    pushed: Quantity = sum(known[1:], known[0])
    return Run(tuple(reversed(run)), pushed / units.quantity(Amount(minutes, "min")))


def _pushes(question: Question) -> Sequence[Dose]:
    """What this crew pushed of the treatment up to now, oldest first."""
    return [dose for dose in question.before if not dose.prior and dose.treatment == question.treatment.slug]


def _pushed_forms(treatment: Treatment, rules: RuleSet) -> Iterator[Treatment]:
    for other in rules.treatments.values():
        if other.form == "push" and other.drug == treatment.drug:
            yield other


def _told(question: Question, push: Treatment, run: Run) -> dict[str, Any]:
    bedside, treatment = question.bedside, question.treatment
    rates = infusion.every_way(run.per_min, treatment.unit, bedside.person.weight, None)
    pump = [(each.amount, units.amount(run.per_min / each.exact, "mL/h")) for each in treatment.concentrations]
    said = " = ".join(map(text.amount_text, rates))
    pushed = text.amount_text(units.amount(run.per_min * units.quantity(Amount(run.minutes, "min")), push.unit))
    given = _(
        "{pushed} pushed in the {minutes} before the last push", pushed=pushed, minutes=text.minutes_text(run.minutes)
    )
    return {
        "treatment": push.slug,
        "pushes": len(run.doses),
        "first_at": run.doses[0].given_at,
        "last_at": run.doses[-1].given_at,
        "rates": [amount_dict(each) for each in rates],
        "pump": [{"strength": amount_dict(strength), "rate": amount_dict(rate)} for strength, rate in pump],
        "text": _(
            "{given} came to {rate}{pump}. Information, not advice", given=given, rate=said, pump=_pump_text(pump)
        ),
        "source": _sources(bedside),
    }


def _pump_text(pump: Sequence[tuple[Amount, Amount]]) -> str:
    """The pump rates of the standard strengths, as far as there are any."""
    said = [
        _("{rate} of {strength}", rate=text.amount_text(rate), strength=text.amount_text(strength))
        for strength, rate in pump
    ]
    return _(", by pump {rates}", rates=", ".join(said)) if said else ""


def _sources(bedside: Bedside) -> str:
    sources = bedside.rules.ledger.sources
    named = dict.fromkeys(source_text(sources[name]) for name in ("pushes_for_rate", "push_lasts_min"))
    return "; ".join(named)
