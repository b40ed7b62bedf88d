"""What is no drug as rows of the rules page: settings of pacing and shocks, criteria for ending a resuscitation."""

from __future__ import annotations

from collections.abc import Iterator

from consult.render.words import PROCEDURES, listed
from consult.screens.rules_rows import Row
from consult.screens.rules_words import figure_text
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.rules.rule_set import RuleSet

SETTINGS = {
    "first_j": _("first shock"),
    "first_j_per_kg": _("first shock"),
    "next_j": _("next shock"),
    "next_j_per_kg": _("next shock"),
    "most_j": _("most"),
    "rate": _("rate"),
    "output_ma": _("starts with"),
    "step_ma": _("raised by"),
}


def procedure_rows(rules: RuleSet) -> list[Row]:
    """Every setting beside whom and what it is for, with its source."""
    return list(_rows(rules))


def _rows(rules: RuleSet) -> Iterator[Row]:
    for number, rule in enumerate(rules.procedures):
        mode = _(", synchronized") if rule.synchronized else ""
        for name, told in SETTINGS.items():
            figure = getattr(rule, name)
            if figure is not None:
                what = f"{PROCEDURES[rule.procedure]}{mode}, {told}"
                at = f"procedures.{number}.{name}"
                yield Row(what, f"{words(rule.who)}, {rule.title}", figure_text(figure), figure.source, entry=at)


def ending_rows(rules: RuleSet) -> list[Row]:
    """Every criterion beside whom it is for and the published rules that ask for it, with its source."""
    return [
        Row(each.text, words(each.who), _("{listed} rule", listed=listed(each.rules)), each.source)
        for each in rules.end_resuscitation.values()
    ]
