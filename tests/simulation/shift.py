"""A scripted shift on the pure core: how often it alarms, whether that asked for an act, how soon dangers are told.

``python -m tests.simulation.shift`` prints it for 8, 12 and 30 transports. Each shift is run twice with the same seed:
as it is, which says what ordinary transports cost, and with twenty dangers in it, none of which may be missed.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from statistics import median
from typing import Any

from consult import events
from consult.case.fold.entry import Entry
from dosing.ground.facts import Reading
from dosing.load.reader import load_shipped
from dosing.patient.goals import goal_for, limits_for
from dosing.patient.pressure import FINE, level_of
from dosing.rules.rule_set import RuleSet
from tests.simulation.dangers import DANGERS, Danger, placed
from tests.simulation.pure_case import SECOND, PureCase
from tests.simulation.shift_crew import Act, Crew
from tests.simulation.transports import MIXED, STEADY, Profile, shift

START = datetime(2030, 1, 5, 8, tzinfo=UTC)
COUNTS, SEEDS = (8, 12, 30), range(5)
TELL_WITHIN_S = 2.0
RULES = load_shipped("demonstration")


@dataclass(frozen=True, slots=True)
class Alarm:
    """One time that somebody was asked for: the alert's kind and priority, when, and whether it asked for an act."""

    kind: str
    priority: str
    at: datetime
    profile: str
    act: bool


@dataclass(slots=True)
class Shift:
    """What came of a shift."""

    hours: float = 0.0
    alarms: list[Alarm] = field(default_factory=list)
    delays: dict[str, float | None] = field(default_factory=dict)  # by danger, seconds; None: not told

    def rate(self, priority: str = "") -> float:
        """Alarms in an hour of a case."""
        return sum(1 for each in self.alarms if priority in ("", each.priority)) / self.hours

    @property
    def acted(self) -> float:
        """The share that asked for an act."""
        return sum(each.act for each in self.alarms) / len(self.alarms) if self.alarms else 1.0


def run(
    count: int,
    seed: int,
    *,
    dangers: bool = False,
    kinds: tuple[Profile, ...] = MIXED,
    rules: RuleSet = RULES,
) -> Shift:
    """A shift of so many transports, each from its opening to its arrival."""
    chance, found = Random(seed), Shift()
    crews = [_crew(profile, rules, Random(f"{seed} {n}")) for n, profile in enumerate(shift(count, chance, kinds))]
    where = placed(crews, chance) if dangers else {}
    shown = _begin(where)
    for crew in crews:
        _live(crew)
        found.hours += (crew.end - crew.start) / timedelta(hours=1)
        found.alarms += _alarms(crew)
    for danger in DANGERS if dangers else ():
        crew, _ = where[danger.name]
        found.delays[danger.name] = _told_after(crew, danger.kind, danger.priority, shown[danger.name])
    return found


def _note(shown: dict[str, datetime], danger: Danger, then: datetime) -> None:
    shown.setdefault(danger.name, then)


def _begin(where: Mapping[str, tuple[Crew, datetime]]) -> dict[str, datetime]:
    """Let the dangers happen at their time; when each was shown, once it has been."""
    shown: dict[str, datetime] = {}

    def play(danger: Danger, crew: Crew) -> Act:
        return lambda now: danger.plays(crew, now, lambda then: _note(shown, danger, then))

    for danger in DANGERS if where else ():
        crew, moment = where[danger.name]
        crew.at(moment, play(danger, crew))
    return shown


def _crew(profile: Profile, rules: RuleSet, chance: Random) -> Crew:
    case = PureCase(profile.patient, rules, START, impression=profile.impression)
    return Crew(profile, case, START, chance, chance.uniform(45, 75))


def _live(crew: Crew) -> None:
    """From one moment at which something happens to the next; the board sweeps each second."""
    known = 0
    while True:
        moments = [each for each in (crew.next_at(), _swept_at(crew.case.wake_at)) if each]
        if not moments or min(moments) > crew.end:
            return
        now = min(moments)
        crew.act(now)
        if crew.case.wake_at and crew.case.wake_at <= now:
            crew.case.settle(now)
        for entry in crew.case.told[known:]:
            if _asks(entry) and (alert := crew.case.alert_of(entry.event)):
                crew.notice(alert, now)
        known = len(crew.case.told)


def _swept_at(wake_at: datetime | None) -> datetime | None:
    """The first sweep at or after that moment."""
    if wake_at is None or wake_at.microsecond == 0:
        return wake_at
    return wake_at.replace(microsecond=0) + SECOND


def _asks(entry: Entry) -> bool:
    """Whether an entry asks for somebody: an alert was raised, or one that was noticed wants a person again."""
    event = entry.event
    return isinstance(event, events.AlertRaised) or (isinstance(event, events.AlertChanged) and event.wants_anew)


def _alarms(crew: Crew) -> list[Alarm]:
    asked = [entry for entry in crew.case.told if _asks(entry) and entry.received_at <= crew.end]
    return [
        Alarm(
            entry.event.alert_kind,
            entry.event.priority,
            entry.received_at,
            crew.profile.name,
            _asks_for_an_act(crew, entry),
        )
        for entry in asked
    ]


def _asks_for_an_act(crew: Crew, entry: Entry) -> bool:
    """By what was true then, not by what was written: else it was noise, or a delay of the hand."""
    kind, now = entry.event.alert_kind, entry.received_at
    known = [truth for at, truth in crew.truth.items() if at <= now]
    true = known[-1] if known else {}
    if kind == "low_pressure":
        return _is_low(crew, now, true)
    if kind == "falling":
        return len(known) > 2 and known[-3].get("map_reported", 0) - true.get("map_reported", 0) > 4
    if kind == "low_saturation":
        return true["spo2"] < 90
    if kind == "slow_breathing":
        return true["rr"] < 12
    if kind in ("reassessment_overdue", "no_vitals"):
        return not any(now - timedelta(minutes=2) <= at <= now for at in crew.taken)
    return True


def _is_low(crew: Crew, now: datetime, true: dict[str, Any]) -> bool:
    """Whether the pressure was low, had it been measured exactly."""
    pressure = {name: value for name, value in true.items() if name in ("sbp", "dbp", "map_reported", "bp_method")}
    limits = limits_for(crew.profile.patient, goal_for(crew.case.facts, crew.case.rules), crew.case.rules)
    reading = Reading(taken_at=now, **pressure)
    return (level_of(reading, limits) or FINE) > FINE


def _told_after(crew: Crew, kind: str, priority: str, shown: datetime) -> float | None:
    """Seconds from what showed a danger to its alarm; 0 where it stood already, None where none came in ten minutes."""
    standing: dict[str, str] = {}
    for entry in crew.case.told:
        event, after = entry.event, (entry.received_at - shown).total_seconds()
        if isinstance(event, events.AlertRaised | events.AlertChanged) and event.alert_kind == kind:
            standing[event.alert] = event.priority
            if 0 <= after <= 600 and event.priority == priority:
                return after
        if isinstance(event, events.AlertCleared):
            standing.pop(event.alert, None)
        if after > 0 and priority in standing.values():
            return 0.0
    return None


def together(shifts: Iterable[Shift]) -> Shift:
    """Several shifts as one."""
    whole = Shift()
    for each in shifts:
        whole.hours += each.hours
        whole.alarms += each.alarms
        whole.delays |= {f"{name}, shift {len(whole.delays)}": delay for name, delay in each.delays.items()}
    return whole


def told(name: str, shifts: Sequence[Shift]) -> Iterator[str]:
    """The figures of some shifts: of all of them, and the least and most of one."""
    whole = together(shifts)
    spans = [f"{min(rates):.2f}-{max(rates):.2f}" for rates in ([s.rate(p) for s in shifts] for p in ("", "high"))]
    yield (
        f"  {name}: {whole.hours:.0f} case-hours, in an hour of a case {whole.rate():.2f} alerts ({spans[0]}), "
        f"{whole.rate('high'):.2f} HIGH ({spans[1]}); {whole.acted:.0%} asked for an act"
    )
    kinds = Counter((alarm.kind, alarm.priority) for alarm in whole.alarms)
    acts = Counter((alarm.kind, alarm.priority) for alarm in whole.alarms if alarm.act)
    for kind, number in sorted(kinds.items()):
        yield f"      {number:4} {' '.join(kind)}, {acts[kind]} of them asked for an act"


def main() -> None:
    """Print the shifts."""
    for count in tuple(map(int, sys.argv[1:])) or COUNTS:
        print(f"{count} transports, {len(SEEDS)} shifts")
        scripted = [run(count, seed, dangers=True) for seed in SEEDS]
        for name, shifts in (
            ("mixed, nothing scripted", [run(count, seed) for seed in SEEDS]),
            ("steady", [run(count, seed, kinds=STEADY) for seed in SEEDS]),
            ("mixed with 20 dangers", scripted),
        ):
            print("\n".join(told(name, shifts)))
        delays = together(scripted).delays
        missed = [name for name, delay in delays.items() if delay is None or delay > TELL_WITHIN_S]
        known = [delay for delay in delays.values() if delay is not None]
        after = f"told after {median(known):.1f} s, {max(known):.1f} s at most"
        print(f"  dangers: {len(delays)}, {after}, missed: {', '.join(missed) or 'none'}")


if __name__ == "__main__":
    main()
