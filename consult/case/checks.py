"""From a question to its check: the rules asked, their answer as the journal keeps it."""

from __future__ import annotations

import msgspec

from consult import problems
from consult.case.dose import shown
from consult.case.entries import Proposed
from consult.state.check import Check, Finding, Give
from dosing.check import limits
from dosing.check.case import UnknownIndication
from dosing.check.findings import LEVELS
from dosing.ground import units
from dosing.ground.facts import Facts, Order, Proposal
from dosing.ground.language import gettext as _
from dosing.held.lacking import lacking
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet


def checked(proposal: Proposal, facts: Facts, rules: RuleSet, order: Order | None = None) -> Check:
    """The check of a proposal; raises Invalid where the rules cannot make sense of it."""
    try:
        return _kept(limits.check(proposal, facts, rules, order=order))
    except limits.UnknownTreatment as error:
        words = _("The rule set has no treatment “{treatment}”.", treatment=error)
        raise problems.Invalid.at("/treatment", words, "unknown_treatment") from error
    except UnknownIndication as error:
        words = (
            _("{treatment} has no indication “{indication}”. It has {known}.")
            if error.known
            else _("{treatment} has no indications: leave “{indication}” out.")
        ).format(treatment=proposal.treatment, indication=error, known=", ".join(error.known))
        raise problems.Invalid.at("/indication", words, "unknown_indication") from error
    except units.WrongUnit as error:
        raise problems.Invalid.at("/" + error.field.replace(".", "/"), error.detail, error.code) from error


def checked_dose(proposal: Proposal, facts: Facts, rules: RuleSet, order: Order | None = None) -> Check:
    """The check of what is given now or was, also against what the syringe in hand still holds; raises Invalid."""
    check = checked(proposal, facts, rules, order)
    found = None if proposal.new_rate else lacking(proposal, facts, rules)
    return renewed(check, set(), {found.code: msgspec.convert(found.as_dict(), Finding)}) if found else check


def unlisted(entry: Proposed, rules: RuleSet, order: Order | None = None) -> Check:
    """The check of a drug that the rule set lacks: what was said of it, and that no limit was checked."""
    give = Give(dose=entry.amount, volume=None, rate=None, shown=shown(entry, rules))
    check = _kept(limits.outside_rule_set(rules, order, entry.name or ""))
    return msgspec.structs.replace(check, give=give)


def entered_as(check: Check, name: str, rules: RuleSet) -> Check:
    """The check with what it was entered as, where that is a name in words of its own."""
    words = _("entered by name as “{name}”: checked and counted as the drug in the rules", name=name)
    told = Finding(
        code="not_in_rule_set",
        level="caution",
        text=words,
        limit=None,
        source=source_text(rules.findings["not_in_rule_set"]),
    )
    return renewed(check, set(), {told.code: told})


def _kept(check: limits.Check) -> Check:
    return msgspec.convert(check.as_dict(), Check, from_attributes=True)


def renewed(check: Check, gone: set[str], news: dict[str, Finding]) -> Check:
    """The check with what has gone taken out and what is new put in, worst first."""
    stay = [each for each in check.findings if each.code not in gone | news.keys()]
    found = tuple(sorted([*stay, *news.values()], key=lambda each: -LEVELS.index(each.level)))
    return msgspec.structs.replace(check, findings=found, verdict=found[0].level if found else LEVELS[0])
