"""The words of the rules page: limits, times, strengths, and whom they are for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from consult.render.words import NAMES, NEEDS, listed, plain, value_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME
from dosing.ground.text import amount_text, route_text
from dosing.rules.rule_set import Caution, Figure, GoalRule, Limit, ReassessmentRule, Strength, Treatment, Wants, Where
from dosing.rules.words import IMPRESSIONS, ROUTES

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
    """For whom a sign is wanted, or with what the treatment is not given."""
    against = [*sorted(wants.not_rhythms), *sorted(wants.not_lungs)]
    met = _(" or ").join(plain(each) for each in against)
    unless = _("unless {history}", history=plain(wants.history)) if met and wants.history else ""
    return ", ".join(filter(None, (impressions_text(wants.not_impressions), met, unless)))


def wants_text(wants: Wants) -> str:
    """What is said where a sign is absent, with the numbers from which it is, where it does not say them itself."""
    if wants.mother_from_years is not None:
        years = value_text(wants.mother_from_years)
        return _("{text}; never where male or under {years} years", text=wants.text, years=years)
    if wants.shock_index_below is not None:
        return _("shock index {number} or more: {text}", number=value_text(wants.shock_index_below), text=wants.text)
    if wants.etco2_below is not None:
        number = _number(wants.etco2_below, "mmHg")
        return _("EtCO2 {number} or more, no airway in place: {text}", number=number, text=wants.text)
    if not wants.measurement:
        return wants.text
    unit, below = BY_NAME[wants.measurement].in_rules, {} if wants.below is None else {"": wants.below}
    edges = [
        _("{who} {number} or more", who=plain(who), number=_number(each, unit)).strip()
        for who, each in {**below, **wants.below_by_who}.items()
    ]
    edges += [_("under {number}", number=_number(wants.at_least, unit))] if wants.at_least is not None else []
    if all(value_text(each) in wants.text for each in (wants.below, wants.at_least) if each is not None):
        return wants.text
    return f"{NAMES[wants.measurement]} {', '.join(edges)}: {wants.text}"


def _number(value: float, unit: str) -> str:
    return f"{value_text(value)} {unit}".strip()


def impressions_text(impressions: Iterable[str]) -> str:
    """Working impressions in words; of most of them those that are left out."""
    others = IMPRESSIONS.difference(impressions)
    if len(others) < len(IMPRESSIONS) / 2:
        return _("any impression but {others}", others=_(" or ").join(plain(each) for each in sorted(others)))
    return _(" or ").join(plain(each) for each in sorted(impressions))


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
    yield impressions_text(where.impressions)
    yield _("weight {weight}", weight=plain(where.weight)) if where.weight else ""
    yield _("from {from_kg} kg", from_kg=value_text(where.from_kg)) if where.from_kg is not None else ""
    yield _("under {under_kg} kg", under_kg=value_text(where.under_kg)) if where.under_kg is not None else ""
    yield _("from {from_days}", from_days=days_text(where.from_days)) if where.from_days is not None else ""
    yield _("under {under_days}", under_days=days_text(where.under_days)) if where.under_days is not None else ""
    if where.pressure_low is not None:
        yield _("pressure low") if where.pressure_low else _("pressure not low")
    if where.again is not None:
        yield _("given before") if where.again else _("first dose")
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
    injured = _(" or ").join(plain(each) for each in sorted(where.injuries))
    yield _("injury: {injury}", injury=injured) if injured else ""
    if where.from_onset_h is not None:
        yield _("from {hours} h after the onset", hours=value_text(where.from_onset_h))
    if where.from_glucose is not None:
        yield _("from a glucose of {from_glucose} mg/dL", from_glucose=value_text(where.from_glucose))
    yield _(" or ").join(PHASES[each] for each in PHASES if each in where.phases)
    yield _(" or ").join(route_text(each) for each in ROUTES if each in where.routes)
    purposes = [*filter(where.indications.__contains__, titles), *sorted(where.indications.difference(titles))]
    told = [_("for {indication}", indication=titles.get(each) or each.replace("-", " ")) for each in purposes]
    yield "; ".join(told)  # a title may say "or" itself


def days_text(days: float) -> str:
    """An age limit in the largest unit that it is a whole number of."""
    for unit, length in reversed(AGES):
        if days % length == 0:
            number = days / length
            return f"{value_text(number)} {plain(unit if number != 1 else unit.removesuffix('s'))}"
    return _("{days} days", days=value_text(days))
