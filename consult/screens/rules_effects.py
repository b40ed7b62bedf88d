"""What another rule set would mean for patients: each limit in force beside the one that would take its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from consult.render.words import plain
from consult.screens.crew_treatments import title
from consult.screens.rules_words import BOUNDS, OTHERS, bound_text, figure_text, reassess_text, times
from dosing.check.bands import DoseLimits, Person
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import either_text, route_text
from dosing.rules.rule_set import RuleSet, Source, Treatment
from dosing.rules.treatment import given_for, routes_alike
from dosing.rules.words import IMPRESSIONS

# Ages (days) and weights (kg) that stand for their like; only which limits apply is asked of them, never a dose.
LIKE: tuple[tuple[str, bool, float | None, float | None], ...] = (
    (_("adult"), True, None, 80),
    (_("adult of unknown weight"), True, None, None),
    (_("newborn"), False, 10, 3.5),
    (_("infant"), False, 183, 8),
    (_("small child"), False, 1095, 14),
    (_("older child"), False, 3285, 30),
    (_("child of unknown weight"), False, 3285, None),
)


class Stated(NamedTuple):
    """A limit as it reads, and where it comes from."""

    value: str
    source: Source


class Effect(NamedTuple):
    """A limit that changes: of which treatment, which, for whom, what it is and what it would be (None: no limit)."""

    treatment: str
    what: str
    who: str
    before: Stated | None
    after: Stated | None

    @property
    def told(self) -> str:
        """Of which treatment which limit: ``magnesium sulfate: minimum, for eclampsia, IV or IO``."""
        return ": ".join(filter(None, (self.treatment, self.what[:1].lower() + self.what[1:])))

    @property
    def unsourced(self) -> bool:
        """Whether the number changes and its source does not: then that source says something else."""
        if self.before is None or self.after is None or self.before.value == self.after.value:
            return False
        return self.before.source == self.after.source and self.after.source.mark != "our choice"


def effects(before: RuleSet, after: RuleSet) -> list[Effect]:
    """Every limit that differs for a patient of these ages and impressions, those for whom it is alike in one row."""
    found = []
    for slug in [*before.treatments, *(slug for slug in after.treatments if slug not in before.treatments)]:
        old, new = before.treatments.get(slug), after.treatments.get(slug)
        if old == new:
            continue  # the same content has the same limits
        named = title(old, before) if old else title(after.treatments[slug], after)
        found += [Effect(named, *row) for row in _of_treatment(old, new)]
    return found


Differing = tuple[str, Stated | None, Stated | None]  # which limit, what it is, what it would be


def _of_treatment(
    old: Treatment | None, new: Treatment | None
) -> Iterator[tuple[str, str, Stated | None, Stated | None]]:
    was, becomes = ({each.indication: each for each in given_for(one)} if one else {} for one in (old, new))
    for indication in [*was, *(each for each in becomes if each not in was)]:
        before, after = was.get(indication), becomes.get(indication)
        purpose = next(each.indications[indication].title for each in (before, after) if each) if indication else ""
        by_whom: dict[tuple[Differing, tuple[tuple[str, str], ...]], list[str]] = {}
        together = _routes(before, after)
        for routes in together:
            for differing, whom in _differing(before, after, routes[0]).items():
                by_whom.setdefault((differing, tuple(whom)), []).extend(routes)
        for ((name, is_now, would_be), whom_all), routes in by_whom.items():
            by = "" if len(routes) == sum(map(len, together)) else either_text(map(route_text, routes))
            told = ", ".join(filter(None, (name, _("for {purpose}", purpose=purpose) if purpose else "", by)))
            yield told, who(list(whom_all), [(like, adult) for like, adult, *_ in LIKE]), is_now, would_be


def _routes(before: Treatment | None, after: Treatment | None) -> list[list[str]]:
    """The routes in groups of which the limits are alike, by the one set as by the other."""
    groups: dict[tuple[tuple[str, ...], ...], list[str]] = {}
    alike = [routes_alike(each) for each in (before, after) if each]
    for route in dict.fromkeys(route for groups_of in alike for group in groups_of for route in group):
        key = tuple(next((group for group in groups_of if route in group), ()) for groups_of in alike)
        groups.setdefault(key, []).append(route)
    return list(groups.values())


def _differing(before: Treatment | None, after: Treatment | None, route: str) -> dict[Differing, list[tuple[str, str]]]:
    """What differs by this route, with the patients for whom it does."""
    people: dict[Differing, list[tuple[str, str]]] = {}
    for like, person in _people(route):
        was, becomes = _limits(before, person), _limits(after, person)
        for name in [*was, *(name for name in becomes if name not in was)]:
            if was.get(name) != becomes.get(name):
                people.setdefault((name, was.get(name), becomes.get(name)), []).append((like, person.impression))
    return people


def _people(route: str) -> Iterator[tuple[str, Person]]:
    """Patients with a low pressure, of each age and impression."""
    for like, adult, days, kilograms in LIKE:
        weight = None if kilograms is None else units.quantity(Amount(kilograms, "kg"))
        for impression in sorted(IMPRESSIONS):
            yield (
                like,
                Person(adult=adult, days=days, weight=weight, impression=impression, pressure_low=True, route=route),
            )


def _limits(treatment: Treatment | None, person: Person) -> dict[str, Stated]:
    """What holds for this patient, by its name; what a band states decides over what the treatment does."""
    if treatment is None or person.route not in treatment.routes:
        return {}
    limits = DoseLimits(treatment, person)
    stated = {text: Stated(figure_text(figure), figure.source) for text, figure in times(treatment)}
    for name, text in (*BOUNDS, *OTHERS):
        if (band := limits.band(name)) is not None:
            found = getattr(band, name)
            stated[text] = Stated(bound_text(found), found.source)
    if treatment.reassessment:
        stated[_("Reassess")] = Stated(reassess_text(treatment.reassessment), treatment.reassessment.source)
    return stated


def who(whom: list[tuple[str, str]], alike: list[tuple[str, bool]]) -> str:
    """Those for whom it is so: ``adult; newborn, infant (except hemorrhagic)``; empty for all.

    ``whom`` are people and impressions, ``alike`` all who were looked at, each with whether adult.
    """
    by_impressions: dict[tuple[str, ...], list[str]] = {}
    for like, _who in alike:
        if impressions := tuple(impression for each, impression in whom if each == like):
            by_impressions.setdefault(impressions, []).append(like)
    told = (f"{_together(likes, alike)}{_in(impressions)}" for impressions, likes in by_impressions.items())
    return "; ".join(filter(None, told))


def _together(likes: list[str], alike: list[tuple[str, bool]]) -> str:
    """Patients by one word where all of a kind are meant; none where all are."""
    adults, children = (tuple(like for like, adult in alike if adult == wanted) for wanted in (True, False))
    if len(likes) == len(alike):
        return ""
    return {adults: _("adults"), children: _("children")}.get(tuple(likes), ", ".join(likes))


def _in(impressions: tuple[str, ...]) -> str:
    others = sorted(IMPRESSIONS - set(impressions))
    if not others:
        return ""
    listed, lead = (others, _("except ")) if len(others) < len(impressions) else (impressions, "")
    return f" ({lead}{', '.join(plain(each) for each in listed)})"
