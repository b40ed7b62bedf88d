"""What fluids and drugs run through, as rows of the rules page: cannulas, drip sets, syringes, pump, bags of blood."""

from __future__ import annotations

from collections.abc import Iterator

from consult.screens.rules_rows import Row, figure_row
from consult.screens.rules_words import figure_text
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import Figure, RuleSet

OTHERS = {"pressure_infuser": _("With a pressure infuser"), "countable": _("Most drops that can be counted")}
PUMP = (
    (_("Pump, lowest rate"), "least", "mL/h"),
    (_("Pump, highest rate"), "most", "mL/h"),
    (_("Pump, step"), "step", "mL/h"),
    (_("A pump step or whole drop may change the dose by"), "off_percent", "%"),
    (_("A new rate is flagged if it is more than this many times the old one"), "leap_times", "times"),
)


def flow_rows(rules: RuleSet) -> list[Row]:
    """Every number by which a flow is told, with its source."""
    return [*_chart(rules), *_sets(rules), *_syringes(rules), *_pump(rules), *_bags(rules)]


def _chart(rules: RuleSet) -> Iterator[Row]:
    for name, figure in rules.flow.items():
        yield figure_row(OTHERS.get(name) or _("{name} G by gravity", name=name), figure, f"flow.{name}")


def _sets(rules: RuleSet) -> Iterator[Row]:
    for number, each in enumerate(rules.drop_sets):
        yield figure_row(_("Drip set"), each.drops, f"drop_sets.{number}.drops")


def _syringes(rules: RuleSet) -> Iterator[Row]:
    for number, each in enumerate(rules.push_pull):
        size, at = figure_text(each.holds), f"push_pull.{number}"
        yield figure_row(_("Push and pull"), each.holds, f"{at}.holds")
        if each.managed:
            yield figure_row(_("Reached with {size} in a test", size=size), each.managed, f"{at}.managed")
    for number, syringe in enumerate(rules.syringes):
        size, at = figure_text(syringe.holds), f"syringes.{number}"
        yield figure_row(_("Syringe"), syringe.holds, f"{at}.holds")
        yield figure_row(_("Smallest mark of {size}", size=size), syringe.reads, f"{at}.reads")


def _bags(rules: RuleSet) -> Iterator[Row]:
    for number, product in enumerate(rules.products):
        yield figure_row(_("A bag of {product}", product=product.name), product.holds, f"products.{number}.holds")


def _pump(rules: RuleSet) -> Iterator[Row]:
    for what, name, unit in PUMP:
        yield figure_row(what, Figure(getattr(rules.pump, name), unit, rules.pump.sources[name]), f"pump.{name}")
