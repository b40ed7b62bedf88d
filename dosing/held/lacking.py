"""A push that the syringe in hand cannot hold any more, by the record: another syringe, or a dose entered twice."""

from __future__ import annotations

from msgspec import structs

from dosing.check.case import asked_for, bedside
from dosing.check.dosage import proposed
from dosing.check.findings import Finding
from dosing.ground import text, units
from dosing.ground.facts import Amount, Dose, Facts, Proposal
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.held import draws, ledger
from dosing.rules.rule_set import RuleSet


def lacking(proposal: Proposal, facts: Facts, rules: RuleSet) -> Finding | None:
    """What is left in the syringe that a push is drawn from, where that is less than the push; None where it holds it.

    For a proposal that the rules can make sense of; without a syringe recorded there is nothing to say.
    """
    treatment = rules.treatments.get(proposal.treatment)
    if treatment is None or treatment.form != "push" or all(e.treatment != treatment.slug for e in facts.containers):
        return None
    before = structs.replace(facts, doses=tuple(each for each in facts.doses if each.given_at <= proposal.at))
    question = asked_for(bedside(before, rules, proposal.at), proposal)
    dose = proposed(question, proposal).dose
    names = {name: getattr(proposal, name) for name in ("treatment", "route", "stock", "concentration", "container")}
    told = Dose(**names, id="", given_at=proposal.at, amount=proposal.amount)
    liquids = [each for each in ledger.holdings(before, rules) if each.container.cylinder is None]
    held = draws.source(told, treatment, liquids)
    volume = draws.in_ml(dose, held.container.strength) if held and not units.is_per_kg(dose) else None
    if held is None or volume is None or volume <= held.left:
        return None
    left, drawn = (text.amount_text(Amount(round(float(each), 2), "mL")) for each in (held.left, volume))
    said = _(
        "by the record {left} left in the {form} in hand, this draws {drawn}: record the new one, or a dose is double",
        left=left,
        form=words(held.container.form),
        drawn=drawn,
    )
    return question.find("volume_not_measurable", said)
