"""A treatment's numbers as rows: those for whatever it is given, and a table of its own for each indication."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain
from typing import Any

from consult.render.words import plain, value_text
from consult.screens.rules_bands import replaced
from consult.screens.rules_rows import Row
from consult.screens.rules_words import (
    BOUNDS,
    OTHERS,
    bound_text,
    figure_text,
    reassess_text,
    strength_text,
    wants_text,
    wants_who,
    where_text,
)
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, route_text
from dosing.rules.parts import Apart, Fluid
from dosing.rules.rule_set import Band, Caution, Indication, Strength, Treatment
from dosing.rules.words import ROUTES

_GRAVITY = {"": _("Caution where"), "needs_order": _("Needs an order where"), "over_hard_limit": _("Never where")}


def treatment_rows(treatment: Treatment) -> Iterator[Row]:
    """Every number of a treatment, as its tables hold them."""
    return chain.from_iterable(treatment_tables(treatment).values())


def treatment_tables(treatment: Treatment) -> dict[str, list[Row]]:
    """The rows of a treatment, and those of each one indication, by its title, in a table of their own."""
    at, titles = f"treatments.{treatment.slug}", purposes(treatment)
    tables: dict[str, list[Row]] = {
        "": [*_figures(treatment, at, "")],
        **{_("For {title}", title=title): [] for title in titles.values()},
    }
    unused = replaced(treatment, [name for name, _ in (*BOUNDS, *OTHERS)])
    for number, band in enumerate(treatment.bands):
        of = [titles[each] for each in band.where.indications if each in titles]
        names = {name for place, name in unused if place == number}
        alone = of[0] if len(of) == 1 else ""
        who = where_text(replace(band.where, indications=frozenset()) if alone else band.where, titles)
        rows = _bounds(band, names, f"{at}.bands.{number}", who, _for(alone))
        tables[_("For {title}", title=alone) if alone else ""].extend(rows)
    tables[""] += [*_strengths(treatment, at), *_given(treatment, at, ""), *_counted(treatment, at)]
    for slug, indication in treatment.indications.items():
        given = Row(_("Indication"), "", _with(indication.title, _routes(indication)), indication.source)
        rest = _given(indication, f"{at}.indications.{slug}", _for(indication.title))
        title = _("For {title}", title=indication.title)
        times = _figures(indication, f"{at}.indications.{slug}", _for(indication.title))
        tables[title] = [given, *times, *tables[title], *rest]
    return {name: rows for name, rows in tables.items() if rows}


def _for(title: str) -> str:
    return _("for {indication}", indication=title) if title else ""


def purposes(treatment: Treatment) -> dict[str, str]:
    """What the treatment is given for, by the name of the indication."""
    return {slug: indication.title for slug, indication in treatment.indications.items()}


def _strengths(treatment: Treatment, at: str) -> Iterator[Row]:
    """How long a push acts, and the strengths that there are."""
    if treatment.lasts:
        lasts = f"{value_text(treatment.lasts.least)}–{value_text(treatment.lasts.most)} min"
        yield Row(_("A push acts for"), "", lasts, treatment.lasts.source, entry=f"{at}.lasts")
    if fastest := treatment.fastest:
        whom = _("more than {amount}", amount=amount_text(fastest.above))
        told = _("{amount} a minute", amount=amount_text(fastest.amount))
        yield Row(_("No faster than"), whom, told, fastest.source, entry=f"{at}.fastest")
    for kind in ("stocks", "concentrations"):
        for number, strength in enumerate(getattr(treatment, kind)):
            yield from _strength(strength, f"{at}.{kind}.{number}")
    for number, fluid in enumerate(treatment.fluids):
        yield from _fluid(fluid, f"{at}.fluids.{number}")


def _routes(indication: Indication) -> str:
    return _(" or ").join(route_text(route) for route in ROUTES if route in indication.routes)


def _bounds(band: Band, unused: set[str], entry: str, who: str, purpose: str) -> Iterator[Row]:
    """The entries of a band; those that are ``unused`` hold for nobody."""
    edge = band.where.source
    for name, text in (*BOUNDS, *OTHERS):
        if stated := getattr(band, name):
            place = "" if isinstance(stated, Caution) else f"{entry}.{name}"
            yield Row(text, who, bound_text(stated), stated.source, name in unused, edge, place, purpose)


def _figures(given: Treatment | Indication, at: str, purpose: str) -> Iterator[Row]:
    """Its times and single figures: what a band states goes before them, so they stand above."""
    for name, text in FIGURES:
        if figure := getattr(given, name, None):
            yield Row(text, "", figure_text(figure), figure.source, entry=f"{at}.{name}", purpose=purpose)


def _given(given: Treatment | Indication, at: str, purpose: str) -> Iterator[Row]:
    """How it is given for anything, or for one indication: when it stands first, signs, the reassessment."""
    if given.first:
        whose, told = where_text(given.first), _("before all others that fit")
        yield Row(_("Shown first"), whose, told, given.first.source, purpose=purpose)
    if given.starts_by_order:
        yield Row(_("Starts by order"), "", _("always"), given.starts_by_order, purpose=purpose)
    if given.cosign:
        yield Row(_("Second physician"), "", _("co-signs each order"), given.cosign, purpose=purpose)
    for number, wants in enumerate(given.wants):
        numbers = (wants.below, wants.at_least, wants.mother_from_years, wants.shock_index_below, wants.etco2_below)
        place = f"{at}.wants.{number}" if wants.below_by_who or any(each is not None for each in numbers) else ""
        who = _with(wants_who(wants), where_text(wants.where))
        yield Row(_GRAVITY[wants.level], who, wants_text(wants), wants.source, entry=place, purpose=purpose)
    if rule := given.reassessment:
        told = reassess_text(rule)
        yield Row(_("Reassess"), "", told, rule.source, entry=f"{at}.reassessment", purpose=purpose)


def _with(*parts: str) -> str:
    return ", ".join(filter(None, parts))


def _strength(strength: Any, entry: str) -> Iterator[Row]:
    stated: Strength = strength
    routes = _(" or ").join(route_text(route) for route in ROUTES if route in strength.routes)
    yield Row(_("Strength"), routes, strength_text(stated), stated.source, entry=entry)
    for name, what, against in (
        ("avoid", _("Caution where"), strength.avoid),
        ("by_order", _("Needs an order where"), strength.by_order),
        ("barred", _("Never where"), strength.barred),
    ):
        if against:
            told, edge = f"{strength_text(stated)} {against.text}", against.where.source if against.where else None
            place = f"{entry}.{name}.where" if edge else ""
            yield Row(what, where_text(against.where), told, against.source, edge=edge, entry=place)


def _fluid(fluid: Fluid, at: str) -> Iterator[Row]:
    """What of a fluid there is by name, and what is none to be given."""
    yield Row(_("Product"), "", fluid.name, fluid.source)
    for what, reason in ((_("Needs an order"), fluid.by_order), (_("Must not be given"), fluid.barred)):
        if reason:
            yield Row(what, where_text(reason.where), f"{fluid.name}: {reason.text}", reason.source)
    yield from _apart(fluid.apart, f"{at}.apart", fluid.name)


def _apart(aparts: Iterable[Apart], at: str, whom: str = "") -> Iterator[Row]:
    """What must not have been given shortly before."""
    for number, apart in enumerate(aparts):
        drugs = ", ".join(sorted(apart.drugs))
        told = _("{minutes} min after {drugs}", minutes=value_text(apart.minutes), drugs=drugs)
        told += _(" for {indication}", indication=", ".join(sorted(apart.indications))) if apart.indications else ""
        routes = _(" or ").join(route_text(route) for route in ROUTES if route in apart.routes)
        edge = apart.where.source if apart.where else None
        who, place = _with(whom, routes, where_text(apart.where)), f"{at}.{number}"
        yield Row(_("Not within"), who, f"{told}: {apart.text}", apart.source, edge=edge, entry=place)


def _counted(treatment: Treatment, at: str) -> Iterator[Row]:
    """Until when it may be given, and what uses up its count."""
    if window := treatment.window:
        causes = ", ".join(plain(each) for each in sorted(window.causes))
        told = _("{minutes} min after the onset", minutes=value_text(window.minutes))
        yield Row(_("Not later than"), causes, told, window.source, entry=f"{at}.window")
    yield from _apart(treatment.apart, f"{at}.apart")
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
