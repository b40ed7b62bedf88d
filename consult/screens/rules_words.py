"""The words of the rules page: limits, times, strengths, and whom they are for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from consult.render.words import NEEDS, listed, plain, value_text
from dosing.ground.text import amount_text, route_text
from dosing.rules.rule_set import Caution, Figure, GoalRule, Limit, ReassessmentRule, Strength, Treatment, Wants, Where
from dosing.rules.words import ROUTES

BOUNDS = (
    ("least", "Least"),
    ("guide", "Guide amount"),
    ("most", "Most without an order"),
    ("total", "Total before an order"),
    ("total_guide", "Guide total"),
    ("hard", "Hard limit"),
    ("total_hard", "Hard limit, total"),
)
OTHERS = (
    ("count", "Doses before an order"),
    ("interval", "Smallest interval"),
    ("shortest", "Shortest time"),
    ("by_order", "Needs an order"),
    ("not_covered", "Needs an order"),
    ("contraindicated", "Must not be given"),
)
PHASES = {
    "transport": "in transport",
    "arrest": "in cardiac arrest",
    "pulse_back": "after return of pulse",
    "ended": "after the end of resuscitation",
}
AGES = (("days", 1), ("months", 365 / 12), ("years", 365))
VITAL_LIMITS = {
    "danger_low": ("danger", " or less"),
    "warning_low": ("warning", " or less"),
    "warning_high": ("warning", " or more"),
    "danger_high": ("danger", " or more"),
    "clear": ("clear again", " within its limits"),
}


def bound_text(stated: Limit | Figure | Caution) -> str:
    """What a band states, in words."""
    if isinstance(stated, Limit):
        return limit_text(stated)
    return figure_text(stated) if isinstance(stated, Figure) else stated.text


def times(treatment: Treatment) -> Iterator[tuple[str, Figure]]:
    """The times that a dose keeps."""
    named = (("Smallest interval", treatment.interval), ("Shortest time", treatment.shortest))
    for name, figure in (*named, ("Within", treatment.within)):
        if figure:
            yield name, figure


def reassess_text(rule: ReassessmentRule) -> str:
    """Which reading a treatment asks for, and when."""
    needs = listed(NEEDS.get(each, each) for each in rule.needs)
    start = "after its end" if rule.counts_from_end else "after it was given"
    also = f"; look at {listed(NEEDS.get(each, each) for each in rule.also)} too" if rule.also else ""
    return f"{needs}: {value_text(rule.due_min)} min {start}, late {value_text(rule.grace_s)} s after that{also}"


def wants_who(wants: Wants) -> str:
    """For whom a sign is wanted."""
    left_out = ", ".join(plain(each) for each in sorted(wants.not_impressions))
    return f"not in {left_out}" if left_out else ""


def limit_text(limit: Limit) -> str:
    """A bound in words: ``30 mL/kg, at most 1,000 mL``."""
    most = f", at most {amount_text(limit.at_most)}" if limit.at_most else ""
    least = f", at least {amount_text(limit.at_least)}" if limit.at_least else ""
    return f"{amount_text(limit.amount)}{most}{least}"


def goal_text(rule: GoalRule) -> str:
    """The limits of a goal in mmHg."""
    ceiling = f"–{value_text(rule.ceiling)}" if rule.ceiling is not None else ""
    return f"{value_text(rule.floor)}{ceiling} mmHg"


def setting_text(name: str) -> str:
    """What a single setting is called; the unit is the name's last word."""
    told = plain(name).capitalize()
    return told.replace(" ml", " mL").replace(" map", " MAP").replace(" sbp", " SBP")


def figure_text(figure: Figure) -> str:
    """A plain number with its unit."""
    return f"{value_text(figure.value)} {figure.unit.replace('/mL', ' per mL')}".strip()


def strength_text(strength: Strength) -> str:
    """A strength, with its name where it has one."""
    name = f" ({strength.name})" if strength.name else ""
    return f"{amount_text(strength.amount)}{name}"


def where_text(where: Where | None, purposes: Mapping[str, str] = MappingProxyType({})) -> str:
    """Whom a band is for, in words; empty for everybody. ``purposes`` are the titles of the treatment's indications."""
    if where is None:
        return ""
    return ", ".join(filter(None, _parts(where, purposes)))


def _parts(where: Where, titles: Mapping[str, str]) -> Iterator[str]:
    yield where.who or ""
    yield " or ".join(plain(each) for each in sorted(where.impressions))
    yield f"weight {where.weight}" if where.weight else ""
    yield f"from {value_text(where.from_kg)} kg" if where.from_kg is not None else ""
    yield f"under {value_text(where.under_kg)} kg" if where.under_kg is not None else ""
    yield f"from {days_text(where.from_days)}" if where.from_days is not None else ""
    yield f"under {days_text(where.under_days)}" if where.under_days is not None else ""
    if where.pressure_low is not None:
        yield "pressure low" if where.pressure_low else "pressure not low"
    causes = sorted(where.bleeding_causes)
    yield f"bleeding: {' or '.join(plain(each) for each in causes)}" if causes else ""
    yield f"with {' or '.join(plain(each) for each in sorted(where.history))}" if where.history else ""
    yield f"from week {value_text(where.from_weeks)} of pregnancy" if where.from_weeks is not None else ""
    yield f"under week {value_text(where.under_weeks)} of pregnancy" if where.under_weeks is not None else ""
    yield " or ".join(PHASES[each] for each in PHASES if each in where.phases)
    yield " or ".join(route_text(each) for each in ROUTES if each in where.routes)
    purposes = [titles.get(each) or each.replace("-", " ") for each in sorted(where.indications)]
    yield f"for {' or '.join(purposes)}" if purposes else ""


def days_text(days: float) -> str:
    """An age limit in the largest unit that it is a whole number of."""
    for unit, length in reversed(AGES):
        if days % length == 0:
            number = days / length
            return f"{value_text(number)} {unit if number != 1 else unit.removesuffix('s')}"
    return f"{value_text(days)} days"
