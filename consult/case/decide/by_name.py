"""A drug told as one outside the rules that they have all the same: what is asked is refused, what was given is kept.

What was given is judged and counted as the one treatment that it can be; where that cannot be told it keeps its name,
and is flagged.
"""

from __future__ import annotations

from msgspec.structs import replace

from consult import problems
from consult.case.checks import entered_as, unlisted
from consult.case.dose import OTHER
from consult.case.entries import DoseEntry, Proposed
from consult.state.check import Check
from consult.state.parts import Order
from dosing.ground.language import gettext as _
from dosing.ground.text import either_text
from dosing.rules.names import named, treatment_told
from dosing.rules.rule_set import RuleSet


def of_no_rule(entry: Proposed, rules: RuleSet) -> Check:
    """The check of a drug that the rules lack; raises Invalid where they have it: its own limits must be looked at."""
    if known := named(entry.name or "", rules):
        treatments = either_text(f"{each.title} ({each.slug})" for each in known.treatments)
        words = _(
            "{found}. As another drug none of its limits would be checked: choose {treatments}.",
            found=known.told(rules),
            treatments=treatments,
        )
        raise problems.Invalid.at("/name", words, "in_rule_set")
    return unlisted(entry, rules)


def as_known(told: DoseEntry, rules: RuleSet, phase: str) -> DoseEntry:
    """What was given, as the one treatment of the rules that it can be in this phase; as it was told without one."""
    if told.treatment != OTHER:
        return told
    treatment = treatment_told(told.name or "", told.amount, told.route or "", rules, phase)
    return replace(told, treatment=treatment.slug) if treatment else told


def ordered_as_known(order: Order | None, entry: DoseEntry) -> Order | None:
    """The order of a drug by its name, as one for the treatment as which the dose is judged that names it.

    Whoever ordered it saw no limit of that treatment: there was none to check.
    """
    by_name = order is not None and order.treatment == OTHER and entry.treatment != OTHER
    return replace(order, treatment=entry.treatment, check=None) if order and by_name else order


def for_what(entry: DoseEntry, order: Order | None) -> DoseEntry:
    """The dose as given for what its order says, where it does not say itself for what."""
    same = order is not None and order.treatment == entry.treatment and entry.indication is None
    return replace(entry, indication=order.indication) if order and same else entry


def with_name(check: Check, entry: DoseEntry, rules: RuleSet) -> Check:
    """The check of a dose that was told by a name in words of its own, with that said."""
    return entered_as(check, entry.name, rules) if entry.name and entry.treatment != OTHER else check
