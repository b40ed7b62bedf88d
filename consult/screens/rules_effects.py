"""What another rule set would mean for patients: each limit in force beside the one that would take its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from consult.render.words import plain
from consult.screens.crew_treatments import title
from consult.screens.rules_words import BOUNDS, figure_text, limit_text, reassess_text, times
from dosing.check.bands import DoseLimits, Person
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.rules.rule_set import Limit, RuleSet, Source, Treatment
from dosing.rules.words import IMPRESSIONS

# Ages (days) and weights (kg) that stand for their like; only which limits apply is asked of them, never a dose.
LIKE: tuple[tuple[str, bool, float | None, float | None], ...] = (
    ("adult", True, None, 80),
    ("adult of unknown weight", True, None, None),
    ("newborn", False, 10, 3.5),
    ("infant", False, 183, 8),
    ("small child", False, 1095, 14),
    ("older child", False, 3285, 30),
    ("child of unknown weight", False, 3285, None),
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


def _of_treatment(
    old: Treatment | None, new: Treatment | None
) -> Iterator[tuple[str, str, Stated | None, Stated | None]]:
    people: dict[tuple[str, Stated | None, Stated | None], list[tuple[str, str]]] = {}
    for like, person in _people():
        was, becomes = _limits(old, person), _limits(new, person)
        for name in [*was, *(name for name in becomes if name not in was)]:
            if was.get(name) != becomes.get(name):
                key = (name, was.get(name), becomes.get(name))
                people.setdefault(key, []).append((like, person.impression))
    for (name, before, after), whom in people.items():
        yield name, who(whom, [(like, adult) for like, adult, *_ in LIKE]), before, after


def _people() -> Iterator[tuple[str, Person]]:
    """Patients with a low pressure, of each age and impression."""
    for like, adult, days, kilograms in LIKE:
        weight = None if kilograms is None else units.quantity(Amount(kilograms, "kg"))
        for impression in sorted(IMPRESSIONS):
            yield like, Person(adult=adult, days=days, weight=weight, impression=impression, pressure_low=True)


def _limits(treatment: Treatment | None, person: Person) -> dict[str, Stated]:
    if treatment is None:
        return {}
    limits = DoseLimits(treatment, person)
    found = {text: limits.limit(name) for name, text in BOUNDS}
    stated = {text: _stated(limit) for text, limit in found.items() if limit is not None}
    if limits.count is not None:
        stated["Doses before an order"] = Stated(figure_text(limits.count), limits.count.source)
    for text, figure in times(treatment):
        stated[text] = Stated(figure_text(figure), figure.source)
    if treatment.reassessment:
        stated["Reassess"] = Stated(reassess_text(treatment.reassessment), treatment.reassessment.source)
    return stated


def _stated(limit: Limit) -> Stated:
    return Stated(limit_text(limit), limit.source)


def who(whom: list[tuple[str, str]], alike: list[tuple[str, bool]]) -> str:
    """Those for whom it is so: ``adult; newborn, infant (except hemorrhagic)``; empty for all.

    ``whom`` are people and impressions, ``alike`` all who were looked at, each with whether adult.
    """
    by_impressions: dict[tuple[str, ...], list[str]] = {}
    for like, _ in alike:
        if impressions := tuple(impression for each, impression in whom if each == like):
            by_impressions.setdefault(impressions, []).append(like)
    told = (f"{_together(likes, alike)}{_in(impressions)}" for impressions, likes in by_impressions.items())
    return "; ".join(filter(None, told))


def _together(likes: list[str], alike: list[tuple[str, bool]]) -> str:
    """Patients by one word where all of a kind are meant; none where all are."""
    adults, children = (tuple(like for like, adult in alike if adult == wanted) for wanted in (True, False))
    if len(likes) == len(alike):
        return ""
    return {adults: "adults", children: "children"}.get(tuple(likes), ", ".join(likes))


def _in(impressions: tuple[str, ...]) -> str:
    others = sorted(IMPRESSIONS - set(impressions))
    if not others:
        return ""
    listed, lead = (others, "except ") if len(others) < len(impressions) else (impressions, "")
    return f" ({lead}{', '.join(plain(each) for each in listed)})"
