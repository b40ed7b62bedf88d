"""The ages, weights and weeks at which other limits and signs begin, as rows to change."""

from __future__ import annotations

from collections.abc import Iterator

from consult.render.words import NAMES
from consult.screens.rules_rows import Row
from consult.screens.rules_treatments import purposes
from consult.screens.rules_words import BOUNDS, OTHERS, where_text
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet, Treatment, Where


def edge_rows(rules: RuleSet, slug: str) -> Iterator[Row]:
    """The ages and weights at which other limits begin, to be changed; to be read they stand beside each limit."""
    if slug in rules.treatments:
        titles = purposes(rules.treatments[slug])
        for number, band in enumerate(rules.treatments[slug].bands):
            if band.where.source:
                limits = [text for name, text in (*BOUNDS, *OTHERS) if getattr(band, name)]
                what, place = (
                    _("Applies to: {limits}", limits=", ".join(limits).lower()),
                    f"treatments.{slug}.bands.{number}",
                )
                yield Row(what, where_text(band.where, titles), "", band.where.source, entry=place)
        yield from _edges_of_wants(rules.treatments[slug])
        yield from _edges_of_apart(rules.treatments[slug])
    elif slug == "watch":
        for number, rule in enumerate(rules.watch.vital_signs):
            who = where_text(Where(from_days=rule.from_days, under_days=rule.under_days))
            what, place = _("Applies to: {names}", names=NAMES[rule.measurement]), f"watch.vital_signs.{number}"
            if rule.source and who:
                yield Row(what, who, "", rule.source, entry=place)
        for number, high in enumerate(rules.watch.high_pressure):
            if high.source and {high.from_days, high.under_days, high.pregnant_from_weeks} != {None}:
                place = f"watch.high_pressure.{number}"
                yield Row(_("Applies to: pressure too high"), high.because, "", high.source, entry=place)


def _edges_of_wants(treatment: Treatment) -> Iterator[Row]:
    signs = [
        ("", treatment.wants),
        *((f".indications.{slug}", each.wants) for slug, each in treatment.indications.items()),
    ]
    for within, number, wants in ((within, *each) for within, several in signs for each in enumerate(several)):
        if (where := wants.where) and where.source:
            entry = f"treatments.{treatment.slug}{within}.wants.{number}.where"
            yield Row(_("Applies to: {wants}", wants=wants.text), where_text(where), "", where.source, entry=entry)


def _edges_of_apart(treatment: Treatment) -> Iterator[Row]:
    at = f"treatments.{treatment.slug}"
    aparts = [(f"{at}.apart", treatment.apart)]
    aparts += [(f"{at}.fluids.{number}.apart", fluid.apart) for number, fluid in enumerate(treatment.fluids)]
    for place, number, apart in ((place, *each) for place, several in aparts for each in enumerate(several)):
        if (where := apart.where) and where.source:
            what = _("Applies to: {wants}", wants=apart.text)
            yield Row(what, where_text(where), "", where.source, entry=f"{place}.{number}.where")
