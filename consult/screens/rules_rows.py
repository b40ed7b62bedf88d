"""The numbers of a rule set as rows to read: what is limited, for whom, how much, where it comes from and stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any, NamedTuple

from consult.render.words import NAMES, plain, value_text
from consult.screens.rules_bands import replaced
from consult.screens.rules_words import (
    BOUNDS,
    OTHERS,
    VITAL_LIMITS,
    bound_text,
    figure_text,
    goal_text,
    reassess_text,
    setting_text,
    strength_text,
    wants_who,
    where_text,
)
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.ground.text import drug_text, route_text
from dosing.held import oxygen
from dosing.patient import growth, weight
from dosing.rules.rule_set import (
    Band,
    Caution,
    Figure,
    GoalRule,
    HighPressureRule,
    Indication,
    OtherNames,
    RuleSet,
    Source,
    Strength,
    Treatment,
    VitalSignRule,
    Where,
)
from dosing.rules.words import ROUTES, WEAKEST_FIRST

_GRAVITY = {"": _("Caution where"), "needs_order": _("Needs an order where"), "over_hard_limit": _("Never where")}


class Row(NamedTuple):
    """One line of a rules table; ``replaced`` where rows further down hold for all whom it fits.

    ``edge`` is the source of an age or weight in ``who``, ``entry`` the place in the file of numbers to change.
    """

    what: str
    who: str
    value: str
    source: Source
    replaced: bool = False
    edge: Source | None = None
    entry: str = ""

    @property
    def mark(self) -> str:
        """How well its numbers are known, by the weaker of its sources."""
        return min((each.mark for each in (self.source, self.edge) if each), key=WEAKEST_FIRST.index)

    @property
    def edge_elsewhere(self) -> Source | None:
        """The source of its age or weight where that is another than its own."""
        return self.edge if self.edge != self.source else None


def goal_rows(rules: RuleSet) -> list[Row]:
    """The pressure goals, each with whom it is for and its limits in mmHg."""
    alike = Counter((rule.measure, rule.because) for rule in rules.goals)
    return [
        _goal(number, rule, shared=alike[rule.measure, rule.because] > 1) for number, rule in enumerate(rules.goals)
    ]


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


def treatment_rows(treatment: Treatment) -> Iterator[Row]:
    """Every number of a treatment, as its tables hold them."""
    return chain.from_iterable(treatment_tables(treatment).values())


def treatment_tables(treatment: Treatment) -> dict[str, list[Row]]:
    """The rows of a treatment, and those of each one indication, by its title, in a table of their own."""
    at, titles = f"treatments.{treatment.slug}", purposes(treatment)
    tables: dict[str, list[Row]] = {"": [], **{_("For {title}", title=title): [] for title in titles.values()}}
    unused = replaced(treatment, [name for name, _ in (*BOUNDS, *OTHERS)])
    for number, band in enumerate(treatment.bands):
        of = [titles[each] for each in band.where.indications if each in titles]
        names = {name for place, name in unused if place == number}
        rows = _bounds(band, names, f"{at}.bands.{number}", where_text(band.where, titles))
        tables[_("For {title}", title=of[0]) if len(of) == 1 else ""].extend(rows)
    tables[""] += [*_strengths(treatment, at), *_given(treatment, at, ""), *_counted(treatment, at)]
    for slug, indication in treatment.indications.items():
        whom = _("for {indication}", indication=indication.title)
        given = Row(_("Given"), "", _with(whom, _routes(indication)), indication.source)
        rest = _given(indication, f"{at}.indications.{slug}", whom)
        title = _("For {title}", title=indication.title)
        tables[title] = [given, *tables[title], *rest]
    return {name: rows for name, rows in tables.items() if rows}


def purposes(treatment: Treatment) -> dict[str, str]:
    """What the treatment is given for, by the name of the indication."""
    return {slug: indication.title for slug, indication in treatment.indications.items()}


def _strengths(treatment: Treatment, at: str) -> Iterator[Row]:
    """How long a push acts, and the strengths that there are."""
    if treatment.lasts:
        lasts = f"{value_text(treatment.lasts.least)}–{value_text(treatment.lasts.most)} min"
        yield Row(_("A push acts for"), "", lasts, treatment.lasts.source, entry=f"{at}.lasts")
    for kind in ("stocks", "concentrations"):
        for number, strength in enumerate(getattr(treatment, kind)):
            yield from _strength(strength, f"{at}.{kind}.{number}")


def _routes(indication: Indication) -> str:
    return _(" or ").join(route_text(route) for route in ROUTES if route in indication.routes)


def _bounds(band: Band, unused: set[str], entry: str, who: str) -> Iterator[Row]:
    """The entries of a band; those that are ``unused`` hold for nobody."""
    edge = band.where.source
    for name, text in (*BOUNDS, *OTHERS):
        if stated := getattr(band, name):
            place = "" if isinstance(stated, Caution) else f"{entry}.{name}"
            yield Row(text, who, bound_text(stated), stated.source, name in unused, edge, place)


def _given(given: Treatment | Indication, at: str, whom: str) -> Iterator[Row]:
    """How it is given for anything, or for one indication: times, when it stands first, signs, the reassessment."""
    for name, text in FIGURES:
        if figure := getattr(given, name, None):
            yield Row(text, whom, figure_text(figure), figure.source, entry=f"{at}.{name}")
    if given.first:
        whose = _with(whom, where_text(given.first))
        yield Row(_("Shown first"), whose, _("before all others that fit"), given.first.source)
    if given.starts_by_order:
        yield Row(_("Starts by order"), whom, _("always"), given.starts_by_order)
    if given.cosign:
        yield Row(_("Second physician"), whom, _("co-signs each order"), given.cosign)
    for number, wants in enumerate(given.wants):
        numbers = (wants.below, wants.at_least, wants.mother_from_years)
        place = f"{at}.wants.{number}" if wants.below_by_who or any(each is not None for each in numbers) else ""
        yield Row(
            _GRAVITY[wants.level],
            _with(whom, wants_who(wants), where_text(wants.where)),
            wants.text,
            wants.source,
            entry=place,
        )
    if rule := given.reassessment:
        yield Row(_("Reassess"), whom, reassess_text(rule), rule.source, entry=f"{at}.reassessment")


def _with(*parts: str) -> str:
    return ", ".join(filter(None, parts))


def _strength(strength: Any, entry: str) -> Iterator[Row]:
    stated: Strength = strength
    routes = _(" or ").join(route_text(route) for route in ROUTES if route in strength.routes)
    yield Row(_("Strength"), routes, strength_text(stated), stated.source, entry=entry)
    for name, what, against in (
        ("avoid", _("Caution where"), strength.avoid),
        ("barred", _("Never where"), strength.barred),
    ):
        if against:
            told, edge = f"{strength_text(stated)} {against.text}", against.where.source if against.where else None
            place = f"{entry}.{name}.where" if edge else ""
            yield Row(what, where_text(against.where), told, against.source, edge=edge, entry=place)


def _counted(treatment: Treatment, at: str) -> Iterator[Row]:
    """Until when it may be given, and what uses up its count."""
    if window := treatment.window:
        causes = ", ".join(plain(each) for each in sorted(window.causes))
        told = _("{minutes} min after the onset", minutes=value_text(window.minutes))
        yield Row(_("Not later than"), causes, told, window.source, entry=f"{at}.window")
    for number, apart in enumerate(treatment.apart):
        drugs = ", ".join(sorted(apart.drugs))
        told = _("{minutes} min after {drugs}", minutes=value_text(apart.minutes), drugs=drugs)
        yield Row(_("Not within"), apart.text, told, apart.source, entry=f"{at}.apart.{number}")
    if shared := treatment.shared:
        told = ", ".join(sorted(shared.treatments))
        bags = _("one more for {per_bags} bags", per_bags=value_text(shared.per_bags)) if shared.per_bags else ""
        place = f"{at}.shared" if shared.per_bags else ""
        yield Row(_("Counted together with"), "", "; ".join(filter(None, (told, bags))), shared.source, entry=place)


FIGURES = (
    ("interval", _("Smallest interval")),
    ("shortest", _("Shortest time")),
    ("within", _("Within")),
    ("bag", _("A bag holds")),
    ("elemental", _("Elemental content")),
    ("told_under", _("Flagged below this share of the standing limit")),
)


def caution_rows(cautions: Iterable[Caution], at: str = "", whom: str = "") -> list[Row]:
    """Cautions as rows, with those whom each is for; ``at`` is where they stand in the file, if that may change."""
    return [_caution(each, f"{at}.cautions.{number}.where" if at else "", whom) for number, each in enumerate(cautions)]


def _caution(caution: Caution, place: str, whom: str) -> Row:
    edge = caution.where.source if caution.where else None
    who = _with(whom, where_text(caution.where))
    return Row(_("Caution"), who, caution.text, caution.source, edge=edge, entry=place if edge else "")


def figure_row(what: str, figure: Figure, entry: str) -> Row:
    """A plain number as a row."""
    return Row(what, "", figure_text(figure), figure.source, entry=entry)
