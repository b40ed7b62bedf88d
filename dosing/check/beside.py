"""What runs already of the drug that is asked about: a push beside it is told, a second infusion needs an order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from dosing.check.case import Question
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding
from dosing.ground import text, units
from dosing.ground.facts import Amount, Dose, Rate, Weight
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.rules.rule_set import Treatment


def running(question: Question, asked: Proposed | None = None) -> Iterator[Finding]:
    """Each other infusion of the drug that runs or is held, alike ones once; with a rate that is `asked`, in all."""
    second = question.treatment.form == "infusion"
    level = "needs_order" if second else ""
    alike = list(_of_the_drug(question))
    in_all = _in_all(asked, [dose for dose, _ in alike]) if second and asked else ""
    again = _(": this would be a second one{in_all}", in_all=in_all)
    if len(alike) > 1:
        again = _(": this would be one more{in_all}", in_all=in_all)
    for told, many in Counter(f"{treatment.title} {_how(dose)}" for dose, treatment in alike).items():
        times = _(", {many} times", many=many) if many > 1 else ""
        yield question.find("infusion_running", f"{told}{times}{again if second else ''}", level=level)


def lowers(asked: Proposed) -> bool:
    """Whether it is a lower rate of what runs, or ran before a pause."""
    rates = [rate for rate, _dose in _in_force(asked)]
    return bool(rates) and all(rate and rate.units == asked.dose.units and asked.dose < rate for rate in rates)


def from_another_bag(asked: Proposed) -> bool:
    """Whether what runs goes on at its rate from a bag of another strength."""
    strength, runs = asked.proposal.concentration, _in_force(asked)
    return bool(runs) and all(
        dose.status == "running" and rate == asked.dose and strength not in (None, dose.concentration)
        for rate, dose in runs
    )


def _in_force(asked: Proposed) -> list[tuple[Quantity | None, Dose]]:
    """What a new rate would change, with the rate of each."""
    question = asked.question
    return [(in_force(question, dose), dose) for dose in question.of_it_running if question.new_rate]


def _how(dose: Dose) -> str:
    rate = _(" at {amount}", amount=text.amount_text(dose.amount)) if dose.amount else ""
    return (_("is held, was") if dose.status == "held" else _("is running")) + rate


def _of_the_drug(question: Question) -> Iterator[tuple[Dose, Treatment]]:
    at_bedside, drug = question.bedside, question.treatment.drug
    for dose in at_bedside.still_running:
        other = at_bedside.rules.treatments.get(dose.treatment)
        if other is None or other.form != "infusion" or other.drug != drug:
            continue
        if not (question.new_rate and other.slug == question.treatment.slug):
            yield dose, other


def _in_all(asked: Proposed, beside: list[Dose]) -> str:
    """``, 0.15 mcg/kg/min in all``; nothing where the rates cannot be added up."""
    rates = [in_force(asked.question, dose) for dose in beside if dose.status == "running"]
    known = [rate for rate in rates if rate is not None and rate.units == asked.dose.units]
    if not known or len(known) < len(rates):
        return ""
    return _(", {sum} in all", sum=text.amount_text(asked.shown(sum(known, asked.dose))))


def in_force(question: Question, dose: Dose) -> Quantity | None:
    """The rate of an infusion at this moment, or before its pause, for the weight by which it was set."""
    told = [rate for rate in dose.rates if rate.amount is not None and rate.at <= question.bedside.at]
    rate = told[-1] if told else Rate(dose.given_at, dose.amount, dose.weight)
    return rate_of(question, rate.amount, rate.concentration or dose.concentration, rate.weight)


def rate_of(
    question: Question, rate: Amount | None, concentration: Amount | None, weight: Weight | None = None
) -> Quantity | None:
    """A rate as the drug that this patient gets by it; None where it is not known, or a pump's without its strength.

    One per kg is for the weight that is on record, or for another one by which it was set.
    """
    if rate is None:
        return None
    if units.kind(rate.unit) != "volume/min":
        return question.absolute(rate, units.body_weight(weight))
    exact: Quantity | None = units.quantity(rate) * units.quantity(concentration) if concentration else None
    return exact
