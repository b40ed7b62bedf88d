"""The rule set in sections to fold: rows, recipes and cautions, what bears which mark, and sources by number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Any

from consult.render.words import plain
from consult.screens.crew_treatments import by_form, mixes, prefilled, title, ways
from consult.screens.rules_flow import flow_rows
from consult.screens.rules_procedures import ending_rows, procedure_rows
from consult.screens.rules_rows import (
    Row,
    cylinder_rows,
    finding_rows,
    goal_rows,
    high_pressure_rows,
    setting_rows,
    vital_sign_rows,
    weight_rows,
)
from consult.screens.rules_treatments import caution_rows, treatment_tables
from consult.screens.rules_words import strength_text
from dosing.ground.language import gettext as _
from dosing.ground.text import drug_text, route_text
from dosing.patient import weight
from dosing.rules.rule_set import RuleSet, Source, Treatment
from dosing.rules.words import MARKS_TOLD


@dataclass(frozen=True, kw_only=True)
class Mixture:
    """How a syringe or bag is prepared; `whole` are its steps by way."""

    title: str
    source: Source
    whole: list[dict[str, Any]]
    makes: str = ""
    ready: str = ""

    @property
    def mark(self) -> str:
        """How well it is known."""
        return self.source.mark


@dataclass(frozen=True, kw_only=True)
class Section:
    """A part of the page: its rows in named tables, what is mixed, notes; `about` says what it is."""

    slug: str
    title: str
    tables: Mapping[str, list[Row]]
    mixtures: list[Mixture] = field(default_factory=list)
    notes: list[Row] = field(default_factory=list)
    about: Mapping[str, Any] = field(default_factory=dict)

    def entries(self) -> Iterator[Row | Mixture]:
        """All that names a source."""
        for rows in self.tables.values():
            yield from rows
        yield from self.mixtures
        yield from self.notes

    @property
    def counts(self) -> list[tuple[str, str, int]]:
        """Of each mark, as a file says it and as it is told, how many entries bear it."""
        borne = Counter(each.mark for each in self.entries())
        return [(mark, told, borne[mark]) for mark, told in MARKS_TOLD.items() if borne[mark]]

    @property
    def total(self) -> int:
        """How many entries it has."""
        return sum(count for _, _, count in self.counts)

    def only(self, mark: str) -> Section:
        """What of it bears this mark."""
        kept = {name: [row for row in rows if row.mark == mark] for name, rows in self.tables.items()}
        return replace(
            self,
            tables={name: rows for name, rows in kept.items() if rows},
            mixtures=[each for each in self.mixtures if each.mark == mark],
            notes=[row for row in self.notes if row.mark == mark],
        )


@dataclass(frozen=True, kw_only=True)
class Whole:
    """A rule set in sections: goals, treatments under headings, all else."""

    goals: Section
    groups: list[dict[str, Any]]
    settings: list[Section]

    def sections(self) -> Iterator[Section]:
        """Every section, in the order of the page."""
        yield self.goals
        for group in self.groups:
            yield from group["sections"]
        yield from self.settings

    def only(self, mark: str) -> Whole:
        """What of it bears this mark; sections and headings without any are left out."""
        groups = [{**group, "sections": _only(group["sections"], mark)} for group in self.groups]
        return Whole(
            goals=self.goals.only(mark),
            groups=[group for group in groups if group["sections"]],
            settings=_only(self.settings, mark),
        )


def _only(sections: list[Section], mark: str) -> list[Section]:
    return [kept for section in sections if (kept := section.only(mark)).total]


def whole(rules: RuleSet) -> Whole:
    """All of a rule set."""
    return Whole(goals=goals(rules), groups=treatments(rules), settings=settings(rules))


def unverified(rules: RuleSet) -> int:
    """How many entries of a rule set are marked as unverified."""
    return sum(entry.mark == "memory" for section in whole(rules).sections() for entry in section.entries())


def treatments(rules: RuleSet) -> list[dict[str, Any]]:
    """The sections of all treatments, under headings by how they are given."""
    items = [{"treatment": slug, "section": _treatment(each, rules)} for slug, each in rules.treatments.items()]
    groups = by_form(items, rules)
    return [{"title": group["title"], "sections": [item["section"] for item in group["items"]]} for group in groups]


def _treatment(treatment: Treatment, rules: RuleSet) -> Section:
    tables = treatment_tables(treatment)
    first = Row(_("What it is"), "", _about(treatment, rules), treatment.source)
    return Section(
        slug=treatment.slug,
        title=title(treatment, rules),
        tables={"": [first, *tables.pop("", [])], **tables},
        mixtures=[*_recipe(treatment, rules), *_mixes(treatment, rules)],
        notes=_notes(treatment),
    )


def _notes(treatment: Treatment) -> list[Row]:
    """Cautions: of the recipe, of the treatment, of what it is given for."""
    at = f"treatments.{treatment.slug}"
    of_recipe = caution_rows(treatment.recipe.notes) if treatment.recipe else []
    of_indications = (
        caution_rows(
            indication.cautions, f"{at}.indications.{slug}", _("for {indication}", indication=indication.title)
        )
        for slug, indication in treatment.indications.items()
    )
    return [*of_recipe, *caution_rows(treatment.cautions, at), *chain.from_iterable(of_indications)]


def _about(treatment: Treatment, rules: RuleSet) -> str:
    routes = ", ".join(map(route_text, sorted(treatment.routes)))
    fits = ", ".join(plain(each) for each in sorted(treatment.relevant))
    allergens = ", ".join(drug_text(each, rules.tall_man) for each in sorted(treatment.allergens))
    parts = (
        f"{plain(treatment.drug_class)}, {plain(treatment.form)}, {routes}",
        _("fits {fits}", fits=fits) if fits else "",
        _("allergy to {allergens} needs an order", allergens=allergens) if allergens else "",
    )
    return "; ".join(filter(None, parts))


def _recipe(treatment: Treatment, rules: RuleSet) -> Iterator[Mixture]:
    if recipe := treatment.recipe:
        yield Mixture(
            title=_("Recipe"),
            source=recipe.source,
            whole=ways(recipe, rules),
            makes=strength_text(recipe.makes),
            ready=prefilled(recipe),
        )


def _mixes(treatment: Treatment, rules: RuleSet) -> Iterator[Mixture]:
    for mix in mixes(treatment, rules):
        yield Mixture(title=_("To mix {title}", title=mix["title"]), source=mix["source"], whole=mix["ways"])


def goals(rules: RuleSet) -> Section:
    """The pressure goals."""
    return Section(slug="goals", title=_("Pressure goals"), tables={"": goal_rows(rules)})


def settings(rules: RuleSet) -> list[Section]:
    """All that is no treatment and no goal."""
    watch = [*setting_rows(rules, "watch"), *_alarm_rows(rules)]
    in_hand = [*setting_rows(rules, "ledger"), *cylinder_rows()]
    why, source = weight.why()
    return [
        Section(slug="pressure", title=_("Pressure"), tables={"": setting_rows(rules, "pressure")}),
        Section(slug="watch", title=_("When a case needs a person"), tables={"": watch}),
        Section(slug="in-hand", title=_("What is in hand"), tables={"": in_hand}),
        Section(slug="flow", title=_("What fluids and drugs run through"), tables={"": flow_rows(rules)}),
        Section(slug="procedures", title=_("Pacing and shocks"), tables={"": procedure_rows(rules)}),
        Section(slug="ending", title=_("When a resuscitation may be ended"), tables={"": ending_rows(rules)}),
        Section(
            slug="weights",
            title=_("Weight by age"),
            tables={"": list(weight_rows())},
            notes=[Row("", "", why, source)],
        ),
        Section(slug="findings", title=_("Findings and other names"), tables={"": finding_rows(rules)}),
    ]


def _alarm_rows(rules: RuleSet) -> list[Row]:
    """From which value on something alarms."""
    return [*vital_sign_rows(rules.watch.vital_signs), *high_pressure_rows(rules.watch.high_pressure)]


def notes_of(rules: RuleSet, sections: Iterable[Section]) -> dict[Source, int]:
    """Each source by its number: those of the file in its order, then those of tables that come with the board."""
    found = dict.fromkeys(rules.sources.values())
    for section in sections:
        for each in section.entries():
            edge = each.edge if isinstance(each, Row) else None
            found |= dict.fromkeys((each.source, edge) if edge else (each.source,))
    return {source: number for number, source in enumerate(found, 1)}
