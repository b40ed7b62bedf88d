"""When the pressure itself asks for a person: low now, or falling toward the goal.

Both are worked out from the readings in order, so the same readings always give the same answer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import median

from msgspec import Struct

from dosing.ground.exact import Exact, exact, plain
from dosing.ground.facts import Facts, Reading
from dosing.ground.kinds import Time
from dosing.ground.language import gettext as _
from dosing.patient.goals import PressureLimits, goal_for, limits_for
from dosing.patient.pressure import CRITICAL, FINE, Pressure, judge, level_of, mean_of
from dosing.patient.trend import minutes_to, newest_mean_at, pair_slopes, points_before_newest
from dosing.rules.rule_set import RuleSet


class LowAgain(Struct, frozen=True):
    """A low pressure back so soon after its alert ended that it raises none before ``alarm_from``."""

    since: Time
    alarm_from: Time


@dataclass(frozen=True, slots=True)
class LowPressure:
    """A low pressure: whether it is critical, in words what is low, since when it alarms.

    Without ``since`` it raises nothing, or not yet (``again``), but the newest pressure is below its goal.
    """

    critical: bool
    text: str
    since: datetime | None
    again: LowAgain | None


@dataclass(frozen=True, slots=True)
class _Episode:
    """How low a low pressure was, in mmHg and the threefold MAP, and when it ended; None: not known, not yet."""

    sbp: Exact | None = None
    thirds: Exact | None = None
    ended_at: datetime | None = None

    def with_(self, reading: Reading) -> _Episode:
        """The episode with one low reading more."""
        sbp, thirds = _measured(reading)
        return _Episode(_least(self.sbp, sbp), _least(self.thirds, thirds), self.ended_at)


NO_EPISODE = _Episode()


@dataclass(slots=True)
class _Walk:
    """What is known after the readings so far."""

    since: datetime | None = None
    critical: bool = False
    low: Reading | None = None
    newest: Reading | None = None
    below: int = 0
    below_since: datetime | None = None
    fine: int = 0
    episode: _Episode = NO_EPISODE
    before: _Episode | None = None


def low_pressure(facts: Facts, rules: RuleSet, now: datetime) -> LowPressure | None:
    """What is low at ``now``; None where nothing is.

    Raised by one critical reading or two below the goal in a row, cleared by one well above the goal or two at it. One
    that has just ended is raised anew at once for what is critical or much lower, for the rest some minutes later.
    A reading that says neither, such as a palpated systolic that is not low, changes nothing.
    """
    goal = goal_for(facts, rules)
    limits = limits_for(facts.patient, goal, rules)
    walk = _walk(facts.readings, limits, rules)
    _raise_once_due(walk, now, rules)
    if walk.low is None or not (walk.since or walk.below):
        return None
    text = _in_words(judge(walk.low, facts.patient, goal, rules).pressure, critical=walk.critical)
    if walk.fine and walk.newest:
        text = _not_yet_clear(walk.newest, rules.watch.low_in_a_row - walk.fine, limits, rules)
    return LowPressure(walk.critical, text, walk.since, _again(walk, rules))


def back_too_soon(facts: Facts, rules: RuleSet) -> LowAgain | None:
    """What is low at the newest reading and raises no alert yet; all of them are walked only where that one is low."""
    limits = limits_for(facts.patient, goal_for(facts, rules), rules)
    levels = (level_of(reading, limits) for reading in reversed(facts.readings))
    if next((level for level in levels if level is not None), FINE) == FINE:
        return None
    return _again(_walk(facts.readings, limits, rules), rules)


def _again(walk: _Walk, rules: RuleSet) -> LowAgain | None:
    """What is low again and no news yet (`_is_news`), so that nobody takes it for an alert that was missed."""
    is_low = walk.since is None and walk.below >= rules.watch.low_in_a_row
    if not (is_low and walk.below_since and walk.before and walk.before.ended_at):
        return None
    return LowAgain(walk.below_since, _news_from(walk.before.ended_at, rules))


def _in_words(pressure: Pressure | None, *, critical: bool) -> str:
    """What is low, without the number: the next reading would make it an old one."""
    if pressure is None or pressure.judged_by is None:
        return pressure.text if pressure else ""
    measure = "MAP" if pressure.judged_by == "map" else _("Systolic")
    goal = plain(exact(pressure.goal))
    if critical:
        return _("{measure} critical, goal {goal}", measure=measure, goal=goal)
    return _("{measure} below goal {goal}", measure=measure, goal=goal)


def _not_yet_clear(reading: Reading, left: float, limits: PressureLimits, rules: RuleSet) -> str:
    """At its goal, but not so far above it that the alert ends: which measure that is, and what ends it."""
    margin, by_map = rules.watch.clear_above_goal, not _map_clear(reading, limits, rules.watch.clear_above_goal)
    floor = limits.map_floor if by_map else limits.sbp_floor
    ends = _("{clear}, or {left} more at goal, ends this", clear=plain(floor + exact(margin)), left=plain(exact(left)))
    return _(
        "{measure} not yet clear of goal {goal}: {ends}",
        measure="MAP" if by_map else _("Systolic"),
        goal=plain(floor),
        ends=ends,
    )


def falling_since(facts: Facts, rules: RuleSet) -> datetime | None:
    """The time of the newest reading if the MAP falls steadily and will pass its floor within minutes.

    Not within minutes after a push dose, whose effect wears off.
    """
    rule, readings = rules.watch, facts.readings
    if not readings or readings[-1].taken_at - readings[0].taken_at < timedelta(minutes=rule.falling_span_min):
        return None  # as in a case's first minutes, or while a monitor sends every few seconds
    points = points_before_newest(readings, rule.falling_window_min)
    if len(points) < rule.falling_readings or points[-1][0] - points[0][0] < rule.falling_span_min:
        return None
    newest = newest_mean_at(readings)
    if _pushed_after(facts, rules, newest - timedelta(minutes=rule.falling_after_push_min)):
        return None
    slopes = pair_slopes(points)
    falls = median(slopes)
    if falls > rule.falling_slope or sum(slope < 0 for slope in slopes) < rule.falling_share * len(slopes):
        return None
    floor = float(limits_for(facts.patient, goal_for(facts, rules), rules).map_floor)
    minutes = minutes_to(points, falls, floor)
    return newest if minutes is not None and minutes <= rule.falling_crossing_min else None


def _walk(readings: Iterable[Reading], limits: PressureLimits, rules: RuleSet) -> _Walk:
    walk = _Walk()
    for reading in readings:
        level = level_of(reading, limits)
        if level is None or (level == FINE and walk.low is None):
            continue  # it says nothing, or ends nothing
        if walk.before is not None:
            _raise_once_due(walk, reading.taken_at, rules)
        walk.below = walk.below + 1 if level > FINE else 0
        walk.below_since = reading.taken_at if walk.below == 1 else walk.below_since
        walk.fine = walk.fine + 1 if level == FINE else 0
        walk.newest = reading
        walk.low = reading if level > FINE else walk.low
        _move(walk, reading, level, limits, rules)
    return walk


def _move(walk: _Walk, reading: Reading, level: int, limits: PressureLimits, rules: RuleSet) -> None:
    """Raise, move or clear by one more reading."""
    in_a_row = rules.watch.low_in_a_row
    if level > FINE:
        walk.episode = walk.episode.with_(reading)
    if walk.since is None and (level == CRITICAL or (walk.below >= in_a_row and _is_news(walk, reading, rules))):
        walk.since = reading.taken_at
    elif level == FINE and (walk.fine >= in_a_row or _well_above(reading, limits, rules.watch.clear_above_goal)):
        if walk.since is not None:
            walk.before = replace(walk.episode, ended_at=reading.taken_at)
        walk.since, walk.low, walk.episode = None, None, NO_EPISODE
    walk.critical = level == CRITICAL


def _raise_once_due(walk: _Walk, now: datetime, rules: RuleSet) -> None:
    """Raise what came back too soon to be news once that time is over, whether a reading came since or not."""
    again = _again(walk, rules)
    if again is not None and again.alarm_from <= now:
        walk.since = again.alarm_from


def _news_from(ended_at: datetime, rules: RuleSet) -> datetime:
    return ended_at + timedelta(minutes=rules.watch.low_again_min)


def _is_news(walk: _Walk, reading: Reading, rules: RuleSet) -> bool:
    """Whether a low pressure that is not critical is more than the one that has just ended, coming back."""
    before, rule = walk.before, rules.watch
    if before is None or before.ended_at is None:
        return True
    if reading.taken_at >= _news_from(before.ended_at, rules):
        return True
    sbp, thirds = _measured(reading)
    by = exact(rule.low_again_mmhg)
    return _is_lower(sbp, before.sbp, by) or _is_lower(thirds, before.thirds, 3 * by)


def _is_lower(now: Exact | None, before: Exact | None, by: Exact) -> bool:
    return now is not None and before is not None and now + by <= before


def _measured(reading: Reading) -> tuple[Exact | None, Exact | None]:
    """The systolic and the threefold MAP."""
    return None if reading.sbp is None else exact(reading.sbp), mean_of(reading).thirds


def _least(one: Exact | None, other: Exact | None) -> Exact | None:
    return min((each for each in (one, other) if each is not None), default=None)


def _well_above(reading: Reading, limits: PressureLimits, margin: float) -> bool:
    """Whether both pressures stand the margin above their floors."""
    systolic = reading.sbp is None or exact(reading.sbp) >= limits.sbp_floor + exact(margin)
    return systolic and _map_clear(reading, limits, margin)


def _map_clear(reading: Reading, limits: PressureLimits, margin: float) -> bool:
    thirds = mean_of(reading).thirds
    return thirds is not None and thirds >= 3 * (limits.map_floor + exact(margin))


def _pushed_after(facts: Facts, rules: RuleSet, moment: datetime) -> bool:
    """Whether a push dose of a pressor was given after the moment."""
    return any(
        treatment.drug_class == "pressor" and treatment.form == "push"
        for dose in facts.doses
        if dose.given_at > moment and (treatment := rules.treatments.get(dose.treatment)) is not None
    )
