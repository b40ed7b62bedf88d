"""The rules of one treatment as rows to read: what is limited, for whom, how much, and where the number comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from consult.render.words import NAMES, NEEDS, listed, plain, value_text
from consult.screens.crew_treatments import mixes, prefilled, title, ways
from consult.screens.rules_bands import replaced
from dosing.ground.text import amount_text, route_text
from dosing.held import oxygen
from dosing.patient import growth, weight
from dosing.rules.rule_set import (
    Band,
    Caution,
    Figure,
    HighPressureRule,
    Limit,
    ReassessmentRule,
    RuleSet,
    Source,
    Strength,
    Treatment,
    VitalSignRule,
    Wants,
    Where,
)

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
    ("by_order", "Needs an order"),
    ("not_covered", "Needs an order"),
)
AGES = (("days", 1), ("months", 365 / 12), ("years", 365))
VITAL_LIMITS = {
    "danger_low": ("danger", " or less"),
    "warning_low": ("warning", " or less"),
    "warning_high": ("warning", " or more"),
    "danger_high": ("danger", " or more"),
    "clear": ("clear again", " within its limits"),
}


class Row(NamedTuple):
    """One line of a rules table; ``replaced`` where rows further down hold for all whom it fits."""

    what: str
    who: str
    value: str
    source: Source
    replaced: bool = False


def weight_rows() -> Iterator[Row]:
    """How a weight is estimated by age, and outside what a weight is asked back or doubted."""
    for ages, formula, source in weight.offered():
        yield Row("Estimate in kg, by age", ages, formula, source)
    for whom, usual, source in growth.references():
        yield Row("Asked back once outside", whom, usual, source)
    for whom, usual, source in growth.implausible():
        yield Row("A caution beside each dose by weight outside", whom, usual, source)


def vital_sign_rows(rules: Iterable[VitalSignRule]) -> Iterator[Row]:
    """From which value on a vital sign alarms, for whom, and when it is fine again."""
    for rule in rules:
        name, who = NAMES[rule.measurement], where_text(Where(from_days=rule.from_days, under_days=rule.under_days))
        for key, figure in rule.figures():
            yield Row(
                f"{name}, {VITAL_LIMITS[key][0]}", who, f"{figure_text(figure)}{VITAL_LIMITS[key][1]}", figure.source
            )
        for word, letters in (("danger", rule.danger), ("warning", rule.warning)):
            if letters and rule.source:
                yield Row(f"{name}, {word}", who, " or ".join(sorted(letters)), rule.source)


def high_pressure_rows(rules: Iterable[HighPressureRule]) -> Iterator[Row]:
    """From which pressure on it is too high, for whom, and when it is fine again."""
    for rule in rules:
        for key, figure in rule.figures():
            level, _, measure = key.partition("_")
            what = f"{NAMES[measure]} too high, {level}" if measure else "Pressure too high, clear again"
            within = " or more" if measure else " below it"
            yield Row(what, rule.because, f"{figure_text(figure)}{within}", figure.source)


def cylinder_rows() -> Iterator[Row]:
    """What an oxygen cylinder gives for each step of its gauge, and what stays in it."""
    for name, figure, source in oxygen.figures():
        yield Row(name, "", figure, source)


def treatment_page(treatment: Treatment, rules: RuleSet) -> dict[str, Any]:
    """A treatment with all its rows, recipe and cautions."""
    return {
        "slug": treatment.slug,
        "title": title(treatment, rules),
        "form": plain(treatment.form),
        "drug_class": plain(treatment.drug_class),
        "routes": ", ".join(map(route_text, sorted(treatment.routes))),
        "source": treatment.source,
        "relevant": ", ".join(plain(each) for each in sorted(treatment.relevant)),
        "allergens": ", ".join(sorted(treatment.allergens)),
        "rows": list(rows(treatment)),
        "recipe": ways(treatment.recipe, rules),
        "prefilled": prefilled(treatment.recipe),
        "mixes": mixes(treatment, rules),
        "recipe_source": treatment.recipe.source if treatment.recipe else None,
        "recipe_notes": treatment.recipe.notes if treatment.recipe else (),
        "makes": treatment.recipe and strength_text(treatment.recipe.makes),
        "cautions": caution_rows(treatment.cautions),
    }


def rows(treatment: Treatment) -> Iterator[Row]:
    """Every number of a treatment: bounds by patient, times, strengths, what is wanted first, the reassessment."""
    unused = replaced(treatment, [name for name, _ in (*BOUNDS, *OTHERS)])
    for number, band in enumerate(treatment.bands):
        yield from _bounds(band, {name for place, name in unused if place == number})
    for name, figure in times(treatment):
        yield Row(name, "", figure_text(figure), figure.source)
    if treatment.lasts:
        lasts = f"{value_text(treatment.lasts.least)}–{value_text(treatment.lasts.most)} min"
        yield Row("A push acts for", "", lasts, treatment.lasts.source)
    if treatment.first and treatment.first.source:
        yield Row("Stands first", where_text(treatment.first), "before all others that fit", treatment.first.source)
    if treatment.starts_by_order:
        yield Row("Starts by order", "", "always", treatment.starts_by_order)
    for strength in (*treatment.stocks, *treatment.concentrations):
        yield Row("Strength", "", strength_text(strength), strength.source)
        if strength.avoid:
            yield Row(
                "Caution where",
                where_text(strength.avoid.where),
                f"{strength_text(strength)} {strength.avoid.text}",
                strength.avoid.source,
            )
    yield from _conditions(treatment)


def _bounds(band: Band, unused: set[str]) -> Iterator[Row]:
    """The entries of a band; those that are ``unused`` hold for nobody."""
    who = where_text(band.where)
    for name, text in (*BOUNDS, *OTHERS):
        stated: Limit | Figure | Caution | None = getattr(band, name)
        if stated:
            yield Row(text, who, _bound_text(stated), stated.source, name in unused)


def _bound_text(stated: Limit | Figure | Caution) -> str:
    if isinstance(stated, Limit):
        return limit_text(stated)
    return figure_text(stated) if isinstance(stated, Figure) else stated.text


def _conditions(treatment: Treatment) -> Iterator[Row]:
    if treatment.window:
        minutes = value_text(treatment.window.minutes)
        causes = ", ".join(plain(each) for each in sorted(treatment.window.causes))
        yield Row("Not later than", causes, f"{minutes} min after the onset", treatment.window.source)
    for wants in treatment.wants:
        yield Row("Caution where", _wants_who(wants), wants.text, wants.source)
    if treatment.shared:
        yield Row("Counted together with", "", ", ".join(sorted(treatment.shared.treatments)), treatment.shared.source)
    if rule := treatment.reassessment:
        yield Row("Reassess", "", reassess_text(rule), rule.source)


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
    also = f"; {listed(NEEDS.get(each, each) for each in rule.also)} too" if rule.also else ""
    return f"{needs}: {value_text(rule.due_min)} min {start}, late {value_text(rule.grace_s)} s after that{also}"


def _wants_who(wants: Wants) -> str:
    left_out = ", ".join(plain(each) for each in sorted(wants.not_impressions))
    return f"not in {left_out}" if left_out else ""


def limit_text(limit: Limit) -> str:
    """A bound in words: ``30 mL/kg, at most 1,000 mL``."""
    most = f", at most {amount_text(limit.at_most)}" if limit.at_most else ""
    least = f", at least {amount_text(limit.at_least)}" if limit.at_least else ""
    return f"{amount_text(limit.amount)}{most}{least}"


def setting_text(name: str) -> str:
    """What a single setting is called; the unit is the name's last word."""
    told = plain(name).capitalize()
    return told.replace(" ml", " mL").replace(" map", " MAP").replace(" sbp", " SBP")


def figure_text(figure: Figure) -> str:
    """A plain number with its unit."""
    return f"{value_text(figure.value)} {figure.unit}".strip()


def strength_text(strength: Strength) -> str:
    """A strength, with its name where it has one."""
    name = f" ({strength.name})" if strength.name else ""
    return f"{amount_text(strength.amount)}{name}"


def where_text(where: Where | None) -> str:
    """Whom a band is for, in words; empty for everybody."""
    if where is None:
        return ""
    return ", ".join(filter(None, _parts(where)))


def _parts(where: Where) -> Iterator[str]:
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


def days_text(days: float) -> str:
    """An age limit in the largest unit that it is a whole number of."""
    for unit, length in reversed(AGES):
        if days % length == 0:
            number = days / length
            return f"{value_text(number)} {unit if number != 1 else unit.removesuffix('s')}"
    return f"{value_text(days)} days"


def caution_rows(cautions: tuple[Caution, ...]) -> list[Row]:
    """Cautions as rows, with those whom each is for."""
    return [Row("Caution", where_text(each.where), each.text, each.source) for each in cautions]
