"""The numbers of a rule set as rows to read: what is limited, for whom, how much, where it comes from and stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from consult.render.words import NAMES, plain, value_text
from consult.screens.rules_words import (
    VITAL_LIMITS,
    figure_text,
    goal_text,
    setting_text,
    where_text,
)
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.ground.text import drug_text
from dosing.held import oxygen
from dosing.patient import growth, weight
from dosing.rules.rule_set import (
    Figure,
    GoalRule,
    HighPressureRule,
    OtherNames,
    RuleSet,
    Source,
    VitalSignRule,
    Where,
)
from dosing.rules.words import WEAKEST_FIRST


class Row(NamedTuple):
    """One line of a rules table; ``replaced`` where rows further down hold for all whom it fits.

    ``edge`` is the source of an age or weight in ``who``, ``entry`` the place in the file of numbers to change,
    ``purpose`` what alone it is for, which the heading of its table says.
    """

    what: str
    who: str
    value: str
    source: Source
    replaced: bool = False
    edge: Source | None = None
    entry: str = ""
    purpose: str = ""

    @property
    def whom(self) -> str:
        """For whom and what, where no heading says it."""
        return ", ".join(filter(None, (self.who, self.purpose)))

    @property
    def mark(self) -> str:
        """How well its numbers are known, by the weaker of its sources."""
        return min((each.mark for each in (self.source, self.edge) if each), key=WEAKEST_FIRST.index)

    @property
    def edge_elsewhere(self) -> Source | None:
        """The source of its age or weight where that is another than its own."""
        return self.edge if self.edge != self.source else None


def goal_rows(rules: RuleSet) -> list[Row]:
    """The pressure goals, each with whom it is for and its limits in mmHg.

    The general stands first, as it does of limits, so that of both the one furthest down applies: the file has the
    first that fits decide.
    """
    alike = Counter((rule.measure, rule.because) for rule in rules.goals)
    numbered = reversed([*enumerate(rules.goals)])
    return [_goal(number, rule, shared=alike[rule.measure, rule.because] > 1) for number, rule in numbered]


def _goal(number: int, rule: GoalRule, *, shared: bool) -> Row:
    """One goal; where another one says the same of whom it is for, by its own name, and the rest of adults as such."""
    whom = rule.name if shared or not rule.because else rule.because
    if shared and rule.adult and rule.name == rule.because:
        whom = _("{whom}, other adults", whom=whom)
    name = _("SBP goal") if rule.measure == "sbp" else _("MAP goal")
    return Row(name, whom, goal_text(rule), rule.source, entry=f"goals.{number}")


def setting_rows(rules: RuleSet, table: str) -> list[Row]:
    """The single numbers of a table, named by their entry in the file; the unit is the name's last word."""
    values = getattr(rules, table)
    sources: Mapping[str, Source] = values.sources
    return [
        Row(setting_text(name), "", value_text(getattr(values, name)), source, entry=f"{table}.{name}")
        for name, source in sources.items()
    ]


def weight_rows() -> Iterator[Row]:
    """How a weight is estimated by age, and outside what a weight is asked back or doubted."""
    for ages, formula, source in weight.offered():
        yield Row(_("Estimate in kg, by age"), ages, formula, source)
    for whom, usual, source in growth.references():
        yield Row(_("Confirmed once if outside"), whom, usual, source)
    for whom, usual, source in growth.implausible():
        yield Row(_("A caution beside each dose by weight outside"), whom, usual, source)


def vital_sign_rows(rules: Iterable[VitalSignRule]) -> Iterator[Row]:
    """From which value on a vital sign alarms, for whom, and when it is fine again."""
    for number, rule in enumerate(rules):
        name, who = NAMES[rule.measurement], where_text(Where(from_days=rule.from_days, under_days=rule.under_days))
        entry, edge = f"watch.vital_signs.{number}", rule.source if who else None
        for key, figure in rule.figures():
            what, value = f"{name}, {VITAL_LIMITS[key][0]}", f"{figure_text(figure)}{VITAL_LIMITS[key][1]}"
            yield Row(what, who, value, figure.source, edge=edge, entry=f"{entry}.{key}")
        for word, letters in (("danger", rule.danger), ("warning", rule.warning)):
            if letters and rule.source:
                yield Row(f"{name}, {plain(word)}", who, _(" or ").join(sorted(letters)), rule.source)


def high_pressure_rows(rules: Iterable[HighPressureRule]) -> Iterator[Row]:
    """From which pressure on it is too high, for whom, and when it is fine again."""
    for number, rule in enumerate(rules):
        for key, figure in rule.figures():
            level, _between, measure = key.partition("_")
            what = (
                _("{names} too high, {level}", names=NAMES[measure], level=plain(level))
                if measure
                else _("Pressure too high, clear again")
            )
            value = f"{figure_text(figure)}{_(' or more') if measure else _(' below it')}"
            entry = f"watch.high_pressure.{number}"
            yield Row(what, rule.because, value, figure.source, edge=rule.source, entry=f"{entry}.{key}")


def cylinder_rows() -> Iterator[Row]:
    """What an oxygen cylinder gives for each step of its gauge, and what stays in it."""
    for name, figure, source in oxygen.figures():
        yield Row(name, "", figure, source)


def finding_rows(rules: RuleSet) -> list[Row]:
    """Where each finding comes from that no number of a treatment stands behind, and what drugs are called besides."""
    found = [Row(plain(code).capitalize(), "", "", source) for code, source in rules.findings.items()]
    return found + [_other_names(each, rules) for each in rules.names]


def _other_names(named: OtherNames, rules: RuleSet) -> Row:
    """How many there are: what is typed in haste is read, but never shown."""
    count = len(named.names)
    told = ngettext(
        "{count} other name known, listed in the file", "{count} other names known, listed in the file", count
    )
    return Row(drug_text(named.drug, rules.tall_man), "", told, named.source)


def figure_row(what: str, figure: Figure, entry: str) -> Row:
    """A plain number as a row."""
    return Row(what, "", figure_text(figure), figure.source, entry=entry)
