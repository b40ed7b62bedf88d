"""Which vital signs ask for a person: too low or too high for the age, whatever the pressure is.

Worked out from the readings in order (``walk``), so the same readings always give the same answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from itertools import groupby
from math import inf
from operator import attrgetter
from typing import Any

from msgspec import Struct

from dosing.ground import language
from dosing.ground.exact import exact, plain
from dosing.ground.facts import Facts, Patient, Reading
from dosing.ground.language import gettext as _
from dosing.ground.measurements import ALARMS, BY_NAME
from dosing.ground.patient import completed_days
from dosing.patient.paralysis import says_nothing
from dosing.patient.signs import gcs_total
from dosing.rules.rule_set import RuleSet
from dosing.rules.vital_signs import VitalSignRule
from dosing.watch.walk import DANGER, FINE, LEVELS, WARNING, Seen, recent, walk

# What a reading holds that says something of a sign: one measurement, or one scale or the other of how awake one is.
_BY_PLACE = sorted(ALARMS, key=lambda name: ALARMS[name].place)
CAUSES = {cause: tuple(names) for cause, names in groupby(_BY_PLACE, lambda name: ALARMS[name].cause or name)}
_HELD = {cause: attrgetter(*names) for cause, names in CAUSES.items()}  # many readings are looked at, few hold it
_NOTHING = (None, (None, None))
UNDERSTOOD = ("/min", "%")  # the other units are told
METER = {"low": -inf, "high": inf}  # what a glucose meter says beyond its range


class VitalSign(Struct, frozen=True):
    """One sign that stands: the alert's kind and cause, whether in danger now and since it stands, its words."""

    kind: str
    cause: str
    danger: bool
    was_danger: bool
    text: str
    since: datetime


def vital_signs(facts: Facts, rules: RuleSet) -> list[VitalSign]:
    """What stands after the newest readings, in the order of the measurements."""
    limits = _limits_now(facts, rules)
    found = (_standing(cause, facts, limits, rules) for cause in CAUSES)
    return [sign for sign in found if sign is not None]


def alarming(facts: Facts, rules: RuleSet) -> dict[str, str]:
    """How bad the newest value of each measurement is: ``danger`` or ``warning``; what is fine is left out."""
    limits = _limits_now(facts, rules)
    found = {}
    for names in CAUSES.values():
        for name in names:
            known = facts.latest.get(name)
            seen = None if known is None else _seen((name,), _alone(name, known.value, known.taken_at), limits)
            if seen is not None and seen.level > FINE:
                found[name] = LEVELS[seen.level]
    flag = facts.latest.get("glucose_flag")
    if flag is not None and flag.value == "low" and "glucose_mg_dl" in limits and _is_newer(facts, flag.taken_at):
        found["glucose_flag"] = LEVELS[DANGER]
    return found


def _limits_now(facts: Facts, rules: RuleSet) -> Mapping[str, VitalSignRule]:
    limits = limits_of(facts.patient, rules)
    if not says_nothing(facts, rules):
        return limits
    return {name: rule for name, rule in limits.items() if name not in CAUSES["alertness"]}


@lru_cache(maxsize=1024)
def limits_of(patient: Patient, rules: RuleSet) -> Mapping[str, VitalSignRule]:
    """The limits of each measurement for this age: of those that fit, the last."""
    days = None if patient.age is None else completed_days(patient.age)
    return {rule.measurement: rule for rule in rules.watch.vital_signs if rule.fits(days)}


def _is_newer(facts: Facts, taken_at: datetime) -> bool:
    """Whether no number of the glucose was measured since."""
    number = facts.latest.get("glucose_mg_dl")
    return number is None or number.taken_at <= taken_at


def _recent(cause: str, facts: Facts, limits: Mapping[str, VitalSignRule], in_a_row: float) -> list[Seen]:
    """What was seen of a cause, oldest first, since it was fine for certain; the newest value where none is kept."""
    held = _HELD[cause]
    holding = (each for each in reversed(facts.readings) if held(each) not in _NOTHING)
    found = recent((seen for each in holding if (seen := _seen(CAUSES[cause], each, limits))), in_a_row)
    if found:
        return found
    newest = ((name, facts.latest[name]) for name in CAUSES[cause] if name in facts.latest)
    known = (_seen(CAUSES[cause], _alone(name, each.value, each.taken_at), limits) for name, each in newest)
    return [seen for seen in known if seen is not None]


def _alone(name: str, value: Any, taken_at: datetime) -> Reading:
    measured: dict[str, Any] = {name: value}
    return Reading(taken_at=taken_at, **measured)


def _value(name: str, reading: Reading) -> Any:
    if name == "gcs":
        return gcs_total(reading.gcs)
    value = getattr(reading, name)
    return METER.get(reading.glucose_flag or "") if name == "glucose_mg_dl" and value is None else value


def _seen(names: tuple[str, ...], reading: Reading, limits: Mapping[str, VitalSignRule]) -> Seen | None:
    """What a reading says of a sign, by the worse of its measurements; None where it holds none, or none is limited."""
    held = [(limits[name], value) for name in names if name in limits and (value := _value(name, reading)) is not None]
    found = [_judged(rule, value, reading.taken_at) for rule, value in held]
    return max(found, key=lambda seen: (seen.level, not seen.clear), default=None)


def _judged(rule: VitalSignRule, value: Any, at: datetime) -> Seen:
    if isinstance(value, str):
        level = DANGER if value in rule.danger else WARNING if value in rule.warning else FINE
        return Seen(at, level, clear=value == "A")
    for side, danger, warning in ((-1, rule.danger_low, rule.warning_low), (1, rule.danger_high, rule.warning_high)):
        for level, limit in ((DANGER, danger), (WARNING, warning)):
            if limit is not None and side * value >= side * limit.value:
                return Seen(at, level, side)
    return Seen(at, FINE, clear=_is_clear(rule, value))


def _is_clear(rule: VitalSignRule, value: float) -> bool:
    low, high = rule.outer(-1), rule.outer(1)
    above = low is None or value >= low + rule.clear_by
    return above and (high is None or value <= high - rule.clear_by)


def _standing(cause: str, facts: Facts, limits: Mapping[str, VitalSignRule], rules: RuleSet) -> VitalSign | None:
    in_a_row = rules.watch.low_in_a_row
    known = walk(_recent(cause, facts, limits, in_a_row), in_a_row)
    if known.since is None:
        return None
    danger = known.level == DANGER
    text = _alertness(limits, danger) if cause == "alertness" else _words(limits[cause], known.side, danger)
    return VitalSign(ALARMS[CAUSES[cause][0]].kind, cause, danger, known.worst == DANGER, text, known.since)


def _words(rule: VitalSignRule, side: int, danger: bool) -> str:
    """What is wrong, without the number: the next reading would make it an old one."""
    measured, alarm = BY_NAME[rule.measurement], ALARMS[rule.measurement]
    beyond = rule.danger_of(side) if danger else rule.outer(side)
    unit = "" if measured.unit in UNDERSTOOD else f" {rule.unit}"
    limit = f"{plain(exact(beyond or 0))}{unit}"
    told = {"measured": measured.title, "how": language.words(alarm.low if side < 0 else alarm.high)}
    told["beyond"] = _("{limit} or less", limit=limit) if side < 0 else _("{limit} or more", limit=limit)
    if danger:
        return _("{measured} dangerously {how} ({beyond})", **told)
    return _("{measured} {how} ({beyond})", **told)


def _alertness(limits: Mapping[str, VitalSignRule], danger: bool) -> str:
    """The same words by whichever scale: sets that hold only one of them follow each other."""
    scale = limits.get("gcs")
    limit = None if scale is None else scale.danger_of(-1) if danger else scale.outer(-1)
    how = _("Unresponsive") if danger else _("Barely responsive")
    return how if limit is None else _("{how} (GCS {limit} or less)", how=how, limit=plain(exact(limit)))
