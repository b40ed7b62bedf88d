"""Every label that the rules can print, for tests of labels and of what is written on them."""

from __future__ import annotations

from collections.abc import Iterator

from dosing.mix import labels
from dosing.mix.labels import Label
from dosing.rules.rule_set import RuleSet
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN


def all_labels(rules: RuleSet) -> Iterator[tuple[str, Label]]:
    """Each label of a rule set under the slug of its treatment and what is in it."""
    for treatment in rules.treatments.values():
        for made in labels.preparations(treatment, rules, TEN):
            for label in made.labels:
                yield f"{treatment.slug}, {made.name}, {label.vessel}", label


# Of both rule sets.
EVERY = [(f"{rules.name}, {name}", label) for rules in (RULES, CONSERVATIVE) for name, label in all_labels(rules)]


def texts(label: Label) -> list[str]:
    """All words on a label that come from the rules."""
    color = label.color.words if label.color else ""
    return [each for each in (label.drug, label.strength, label.total, label.exactly, label.warning, color) if each]
