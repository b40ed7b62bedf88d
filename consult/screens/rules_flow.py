"""What fluids and drugs run through, as rows of the rules page: cannulas, drip sets, syringes, pump."""

from __future__ import annotations

from collections.abc import Iterator

from consult.screens.rules_words import Row, figure_text
from dosing.rules.rule_set import Figure, RuleSet

OTHERS = {"pressure_infuser": "With a pressure infuser", "countable": "Most drops that are counted"}
PUMP = (
    ("Pump, least rate", "least", "mL/h"),
    ("Pump, most", "most", "mL/h"),
    ("Pump, step", "step", "mL/h"),
    ("Step or whole drop may change the dose by", "off_percent", "%"),
)


def flow_rows(rules: RuleSet) -> list[Row]:
    """Every number by which a flow is told, with its source."""
    return [*_chart(rules), *_sets(rules), *_syringes(rules), *_pump(rules)]


def _row(what: str, figure: Figure) -> Row:
    return Row(what, "", figure_text(figure), figure.source)


def _chart(rules: RuleSet) -> Iterator[Row]:
    for name, figure in rules.flow.items():
        yield _row(OTHERS.get(name) or f"{name} G by gravity", figure)


def _sets(rules: RuleSet) -> Iterator[Row]:
    for each in rules.drop_sets:
        yield _row("Drip set", each.drops)


def _syringes(rules: RuleSet) -> Iterator[Row]:
    for syringe in rules.push_pull:
        size = figure_text(syringe.holds)
        yield _row("Push and pull", syringe.holds)
        if syringe.managed:
            yield _row(f"Managed with {size} in a test", syringe.managed)


def _pump(rules: RuleSet) -> Iterator[Row]:
    for what, name, unit in PUMP:
        yield _row(what, Figure(getattr(rules.pump, name), unit, rules.pump.sources[name]))
