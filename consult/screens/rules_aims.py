"""What another rule set aims at and watches for: goals, alarm limits and waiting times that change, old beside new."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from consult.render.words import NAMES, plain, value_text
from consult.screens.rules_effects import LIKE, Effect, Stated, who
from consult.screens.rules_words import VITAL_LIMITS, figure_text, goal_text, setting_text
from dosing.ground.facts import Age, Patient
from dosing.ground.language import gettext as _
from dosing.patient import children
from dosing.patient.goals import fits
from dosing.rules.rule_set import GoalRule, RuleSet
from dosing.rules.words import IMPRESSIONS
from dosing.watch.vital_signs import limits_of

PRESSURES = (("map", _("MAP goal")), ("sbp", _("SBP goal")))
SETTINGS = ("pressure", "watch", "ledger", "pump")  # the tables of single numbers
CHILDREN = tuple((like, Age(value=days, unit="days")) for like, adult, days, kg in LIKE if days and kg and not adult)
Whom = tuple[tuple[str, str], ...]


class Injured(NamedTuple):
    """What else of a patient decides on a goal, and how that is told."""

    told: str
    injuries: tuple[str, ...] = ()
    bleeding_cause: str | None = None
    pregnancy_weeks: float | None = None
    phase: str = "transport"

    @property
    def known(self) -> dict[str, Any]:
        """The same as fields of a patient."""
        return {name: value for name, value in self._asdict().items() if name not in ("told", "phase")}


def aims(before: RuleSet, after: RuleSet) -> list[Effect]:
    """Every goal, alarm limit and waiting time that differs: what drives the alerts of all who are open now."""
    return [*_goals(before, after), *_vital_signs(before, after), *_settings(before, after)]


def _goals(before: RuleSet, after: RuleSet) -> Iterator[Effect]:
    rules = [*before.goals, *after.goals]
    people, conditions = _aged(rules), _conditions(rules)
    alike = [(like, age is None or age.unit == "years") for like, age in people]
    for measure, name in PRESSURES:
        changed: dict[tuple[Stated, Stated], dict[str, list[tuple[str, str]]]] = {}
        for injured in conditions:
            for like, age in people:
                patient = Patient(age=age, **injured.known)
                for impression in sorted(IMPRESSIONS):
                    sets = (before, after)
                    was, becomes = (_goal(each, patient, impression, measure, injured.phase) for each in sets)
                    if was != becomes:
                        whom = changed.setdefault((was, becomes), {}).setdefault(injured.told, [])
                        whom.append((like, impression))
        for (was, becomes), whom_by in changed.items():
            yield Effect(name, "", _whom(whom_by, len(conditions), alike), was, becomes)


def _aged(rules: Iterable[GoalRule]) -> list[tuple[str, Age | None]]:
    """Who is looked at: an adult, one at each age from which another goal holds, and the children."""
    edges = sorted({edge for rule in rules for edge in (rule.from_years, rule.under_years) if edge and edge >= 18})
    aged = [(_("adult of {age} years", age=value_text(edge)), Age(value=edge, unit="years")) for edge in edges]
    return [(_("adult"), None), *aged, *CHILDREN]


def _conditions(rules: Iterable[GoalRule]) -> list[Injured]:
    rules = list(rules)
    injuries = sorted(set().union(*(rule.injuries | rule.without_injuries for rule in rules)))
    causes = sorted(set().union(*(rule.bleeding_causes for rule in rules)))
    hurt = [Injured(_("{injury} injury", injury=plain(each)), injuries=(each,)) for each in injuries]
    bleeding = [Injured(_("bleeding cause {cause}", cause=plain(each)), bleeding_cause=each) for each in causes]
    weeks = sorted({edge for rule in rules for edge in (rule.from_weeks, rule.under_weeks) if edge is not None})
    pregnant = [
        Injured(_("pregnancy of {weeks} weeks", weeks=value_text(each)), pregnancy_weeks=each) for each in weeks
    ]
    phases = [Injured(plain(each), phase=each) for each in sorted(set().union(*(rule.phases for rule in rules)))]
    return [Injured("neither" if hurt or bleeding else ""), *hurt, *bleeding, *pregnant, *phases]


def _goal(rules: RuleSet, patient: Patient, impression: str, measure: str, phase: str) -> Stated:
    """The goal of one measure: of the rules that fit the first, else the age's."""
    fitting = (rule for rule in rules.goals if rule.measure == measure and fits(rule, patient, impression, phase))
    rule = next(fitting, None)
    if rule is None:
        return Stated(_("by the age"), children.source("systolic_floor" if measure == "sbp" else "map_floor"))
    return Stated(goal_text(rule), rule.source)


def _whom(by_condition: dict[str, list[tuple[str, str]]], conditions: int, alike: list[tuple[str, bool]]) -> str:
    """Those for whom it is so, by their injuries where these decide."""
    told: dict[Whom, list[str]] = {}
    for condition, whom in by_condition.items():
        told.setdefault(tuple(whom), []).append(condition)
    parts = []
    for these, hurt in told.items():
        people = who(list(these), alike)
        parts.append(people if len(hurt) == conditions else f"{people or _('all')}, {_injured(hurt)}")
    return "; ".join(parts)


def _injured(conditions: list[str]) -> str:
    with_these = [each for each in conditions if each != "neither"]
    if "neither" not in conditions:
        return _("with ") + _(" or ").join(with_these)
    return _("without injury or with ") + _(" or ").join(with_these) if with_these else _("without injury")


def _vital_signs(before: RuleSet, after: RuleSet) -> Iterator[Effect]:
    changed: dict[tuple[str, str, Stated | None, Stated | None], list[tuple[str, str]]] = {}
    people: list[tuple[str, Age | None]] = [(_("adult"), None), *CHILDREN]
    for like, age in people:
        was, becomes = (_alarms(each, Patient(age=age)) for each in (before, after))
        for name in [*was, *(name for name in becomes if name not in was)]:
            if was.get(name) != becomes.get(name):
                whom = changed.setdefault((*name, was.get(name), becomes.get(name)), [])
                whom += [(like, impression) for impression in sorted(IMPRESSIONS)]
    alike = [(like, age is None) for like, age in people]
    for (measured, limit, old, new), whom in changed.items():
        yield Effect(_("{measured} alarm", measured=measured), limit, who(whom, alike), old, new)


def _alarms(rules: RuleSet, patient: Patient) -> dict[tuple[str, str], Stated]:
    found = {}
    for rule in limits_of(patient, rules).values():
        measured = NAMES[rule.measurement]
        for key, figure in rule.figures():
            found[measured, plain(key)] = Stated(f"{figure_text(figure)}{VITAL_LIMITS[key][1]}", figure.source)
        for key, letters in (("danger", rule.danger), ("warning", rule.warning)):
            if letters and rule.source:
                found[measured, key] = Stated(_(" or ").join(sorted(letters)), rule.source)
    return found


def _settings(before: RuleSet, after: RuleSet) -> Iterator[Effect]:
    for table in SETTINGS:
        was, becomes = _stated(before, table), _stated(after, table)
        for name in was:
            if was[name] != becomes[name]:
                unit = was[name].value.rpartition(" ")[2]
                yield Effect(setting_text(name.removesuffix(f"_{unit.lower()}")), "", "", was[name], becomes[name])


def _stated(rules: RuleSet, table: str) -> dict[str, Stated]:
    values: Any = getattr(rules, table)
    units = rules.content[table]
    return {
        name: Stated(f"{value_text(getattr(values, name))} {units[name]['unit']}", source)
        for name, source in values.sources.items()
    }
