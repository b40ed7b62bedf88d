"""The words of the rules page: limits, times, strengths, and whom they are for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from consult.render.words import NEEDS, listed, plain, value_text
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, route_text
from dosing.rules.rule_set import Caution, Figure, GoalRule, Limit, ReassessmentRule, Strength, Treatment, Wants, Where
from dosing.rules.words import ROUTES

BOUNDS = (
    ("least", _("Minimum")),
    ("guide", _("Usual amount")),
    ("start", _("Usual start, at most")),
    ("most", _("Maximum without an order")),
    ("total", _("Total before an order")),
    ("total_guide", _("Usual total")),
    ("hard", _("Hard limit")),
    ("total_hard", _("Hard limit, total")),
)
OTHERS = (
    ("count", _("Doses before an order")),
    ("interval", _("Smallest interval")),
    ("shortest", _("Shortest time")),
    ("by_order", _("Needs an order")),
    ("not_covered", _("Needs an order")),
    ("contraindicated", _("Must not be given")),
)
PHASES = {
    "transport": _("in transport"),
    "arrest": _("in cardiac arrest"),
    "pulse_back": _("after return of pulse"),
    "ended": _("after the end of resuscitation"),
}
AGES = (("days", 1), ("months", 365 / 12), ("years", 365))
VITAL_LIMITS = {
    "danger_low": (_("danger"), _(" or less")),
    "warning_low": (_("warning"), _(" or less")),
    "warning_high": (_("warning"), _(" or more")),
    "danger_high": (_("danger"), _(" or more")),
    "clear": (_("clear again"), _(" within its limits")),
}


def bound_text(stated: Limit | Figure | Caution) -> str:
    """What a band states, in words."""
    if isinstance(stated, Limit):
        return limit_text(stated)
    return figure_text(stated) if isinstance(stated, Figure) else stated.text


def times(treatment: Treatment) -> Iterator[tuple[str, Figure]]:
    """The times that a dose keeps."""
    named = ((_("Smallest interval"), treatment.interval), (_("Shortest time"), treatment.shortest))
    for name, figure in (*named, (_("Within"), treatment.within)):
        if figure:
            yield name, figure


def reassess_text(rule: ReassessmentRule) -> str:
    """Which reading a treatment asks for, and when."""
    needs = listed(NEEDS.get(each, each) for each in rule.needs)
    start = _("after its end") if rule.counts_from_end else _("after it was given")
    also = _("; also look at {listed}", listed=listed(NEEDS.get(each, each) for each in rule.also)) if rule.also else ""
    return _(
        "{needs}: due {due_min} min {start}, overdue {grace_s} s later{also}",
        needs=needs,
        due_min=value_text(rule.due_min),
        start=start,
        grace_s=value_text(rule.grace_s),
        also=also,
    )


def wants_who(wants: Wants) -> str:
    """For whom a sign is wanted."""
    if wants.mother_from_years is not None:
        return _(
            "no pregnancy or birth on record; never under {years} years or male",
            years=value_text(wants.mother_from_years),
        )
    left_out = ", ".join(plain(each) for each in sorted(wants.not_impressions))
    return _("not in {left_out}", left_out=left_out) if left_out else ""


def limit_text(limit: Limit) -> str:
    """A bound in words: ``30 mL/kg, at most 1,000 mL``."""
    most = _(", at most {at_most}", at_most=amount_text(limit.at_most)) if limit.at_most else ""
    least = _(", at least {at_least}", at_least=amount_text(limit.at_least)) if limit.at_least else ""
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
    yield plain(where.who or "")
    yield _(" or ").join(plain(each) for each in sorted(where.impressions))
    yield _("weight {weight}", weight=plain(where.weight)) if where.weight else ""
    yield _("from {from_kg} kg", from_kg=value_text(where.from_kg)) if where.from_kg is not None else ""
    yield _("under {under_kg} kg", under_kg=value_text(where.under_kg)) if where.under_kg is not None else ""
    yield _("from {from_days}", from_days=days_text(where.from_days)) if where.from_days is not None else ""
    yield _("under {under_days}", under_days=days_text(where.under_days)) if where.under_days is not None else ""
    if where.pressure_low is not None:
        yield _("pressure low") if where.pressure_low else _("pressure not low")
    causes = sorted(where.bleeding_causes)
    yield _("bleeding: {cause}", cause=_(" or ").join(plain(each) for each in causes)) if causes else ""
    yield (
        _("with {background}", background=_(" or ").join(plain(each) for each in sorted(where.history)))
        if where.history
        else ""
    )
    yield (
        _("from week {from_weeks} of pregnancy", from_weeks=value_text(where.from_weeks))
        if where.from_weeks is not None
        else ""
    )
    yield (
        _("under week {under_weeks} of pregnancy", under_weeks=value_text(where.under_weeks))
        if where.under_weeks is not None
        else ""
    )
    yield _(" or ").join(PHASES[each] for each in PHASES if each in where.phases)
    yield _(" or ").join(route_text(each) for each in ROUTES if each in where.routes)
    purposes = [titles.get(each) or each.replace("-", " ") for each in sorted(where.indications)]
    yield _("for {purposes}", purposes=_(" or ").join(purposes)) if purposes else ""


def days_text(days: float) -> str:
    """An age limit in the largest unit that it is a whole number of."""
    for unit, length in reversed(AGES):
        if days % length == 0:
            number = days / length
            return f"{value_text(number)} {plain(unit if number != 1 else unit.removesuffix('s'))}"
    return _("{days} days", days=value_text(days))
