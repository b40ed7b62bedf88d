"""Twenty dangers for a scripted shift: what shows each, which alarm must come, and in whose transport it can happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

from consult.case.entries import DecisionEntry, OrderEntry
from consult.state.parts import Said
from dosing.ground.facts import Amount
from tests.simulation.shift_crew import DRIP, PUSH, STRENGTH, Crew, Shown

HIGH, MEDIUM = "high", "medium"
LASTS = timedelta(minutes=12)  # from one danger of a transport to its next


@dataclass(frozen=True, slots=True)
class Danger:
    """One danger: the alert that must be open within 2 s of what ``plays`` shows; ``only`` in transports so named."""

    name: str
    kind: str
    priority: str
    plays: Callable[[Crew, datetime, Shown], None]
    only: tuple[str, ...] = ()


def measured(**values: Any) -> Callable[[Crew, datetime, Shown], None]:
    """A set with these values, typed and sent like any other; afterward a good one."""

    def plays(crew: Crew, now: datetime, shown: Shown) -> None:
        crew.measure(now, shown, **values)
        crew.at(now + timedelta(minutes=3), crew.look)

    return plays


def after_a_push(**values: Any) -> Callable[[Crew, datetime, Shown], None]:
    def plays(crew: Crew, now: datetime, shown: Shown) -> None:
        crew.look(now)
        crew.give(now + timedelta(seconds=20), PUSH, Amount(10, "mcg"))
        crew.at(now + timedelta(minutes=2.5), lambda then: crew.measure(then, shown, **values))
        crew.at(now + timedelta(minutes=5), crew.look)

    return plays


def dose(value: float, **more: Any) -> Callable[[Crew, datetime, Shown], None]:
    def plays(crew: Crew, now: datetime, shown: Shown) -> None:
        """A dose as it was given and written down: told with its own entry."""
        crew.look(now)
        crew.give(now + timedelta(seconds=20), PUSH, Amount(value, "mcg"), shown=shown, **more)
        crew.at(now + timedelta(minutes=3), crew.look)

    return plays


def _falling(crew: Crew, now: datetime, shown: Shown) -> None:
    """MAP 84, 78, 72 and no other sets between: at 2 mmHg a minute the goal lies 4 min ahead."""
    _silence_hands(crew, now, 8)
    for minute, mean in ((0, 84), (3, 78), (6, 72)):
        values = {"sbp": mean + 30, "dbp": mean - 15, "bp_method": "cuff"}
        last = shown if minute == 6 else None
        crew.at(now + timedelta(minutes=minute), lambda then, v=values, s=last: crew.measure(then, s, **v))


def _no_look_after_sedation(crew: Crew, now: datetime, shown: Shown) -> None:
    """Midazolam, then nobody looks: due after 5 min, late a minute after that."""
    crew.look(now)
    given = now + timedelta(seconds=30)
    crew.give(given, "midazolam", Amount(1, "mg"))
    _silence_hands(crew, given + timedelta(seconds=1), 6.5)
    shown(given + timedelta(minutes=6))


def _no_pressure_on_a_pressor(crew: Crew, now: datetime, shown: Shown) -> None:
    """The infusion of the hospital runs, only pulses are told: due 5 min after the last pressure, late 2 min later."""
    crew.look(now)
    _silence_hands(crew, now + timedelta(seconds=1), 8)
    shown(now + timedelta(minutes=7))


def _silence_hands(crew: Crew, now: datetime, minutes: float) -> None:
    """For so long nobody takes a set; the phone still asks the board."""
    crew.at(now, lambda _: setattr(crew, "quiet", True))
    crew.at(now + timedelta(minutes=minutes), lambda _: setattr(crew, "quiet", False))
    crew.at(now + timedelta(minutes=minutes, seconds=1), crew.look)


def _silent(crew: Crew, now: datetime, shown: Shown) -> None:
    crew.lose_coverage(now, 6)
    shown(crew.case.presence.last_contact_at + timedelta(minutes=5))


def _asked(crew: Crew, now: datetime) -> str:
    rate = Amount(0.05, "mcg/kg/min")
    wanted = OrderEntry(treatment=DRIP, amount=rate, route="IV", concentration=STRENGTH, action="start", reason="low")
    return crew.case.request(wanted, now)


def _unanswered(crew: Crew, now: datetime, shown: Shown) -> None:
    """Nobody decides for four minutes."""
    order = _asked(crew, now)
    shown(now + timedelta(minutes=3))
    declined = DecisionEntry(decision="decline", reason="pressure came up")
    crew.at(now + timedelta(minutes=4), lambda then: crew.case.decide(order, declined, then))


def _differs(crew: Crew, now: datetime, shown: Shown) -> None:
    """0.05 was ordered, 0.5 is read back; a minute later it is right, and then it is not needed."""
    order = _asked(crew, now)
    crew.at(now + timedelta(seconds=50), lambda then: crew.case.decide(order, DecisionEntry(decision="approve"), then))

    def said(then: datetime, rate: float) -> None:
        crew.case.read_back(order, Said(treatment=DRIP, route="IV", amount=Amount(rate, "mcg/kg/min")), then)
        if rate != 0.05:
            shown(then)

    crew.at(now + timedelta(seconds=120), lambda then: said(then, 0.5))
    crew.at(now + timedelta(seconds=180), lambda then: said(then, 0.05))
    crew.at(now + timedelta(seconds=240), lambda then: crew.case.not_given(order, then))


ADULTS = ("chest pain", "broken hip", "stroke, hypertensive", "chronic lungs")
SLEEPS = ("sedated on a pressor",)
DANGERS = (
    Danger("SpO2 62", "low_saturation", HIGH, measured(spo2=62)),
    Danger("breathing 4", "slow_breathing", HIGH, measured(rr=4)),
    Danger("heart rate 34", "vital_sign", HIGH, measured(hr=34), ADULTS),
    Danger("heart rate 190", "vital_sign", HIGH, measured(hr=190), ADULTS),
    Danger("glucose 20", "vital_sign", HIGH, measured(glucose_mg_dl=20)),
    Danger("GCS 3", "vital_sign", HIGH, measured(gcs=3), ADULTS),
    Danger("MAP 47 after a push", "low_pressure", HIGH, after_a_push(sbp=68, dbp=36, bp_method="cuff"), ADULTS),
    Danger("pressure unobtainable", "low_pressure", HIGH, measured(bp_method="unobtainable", pulses="carotid"), ADULTS),
    Danger("bleeding, 75/24", "low_pressure", HIGH, measured(sbp=75, dbp=24, bp_method="cuff"), ("bleeding",)),
    Danger("a dose over its hard limit", "dose_outside_limits", HIGH, dose(200), ADULTS),
    Danger("the vial instead of the syringe", "dose_outside_limits", HIGH, dose(10, stock=Amount(1, "mg/mL")), ADULTS),
    Danger("a pressure that falls", "falling", MEDIUM, _falling, ("chest pain",)),
    Danger("no look after sedation", "reassessment_overdue", HIGH, _no_look_after_sedation, ("head injury", *ADULTS)),
    Danger("a pressor without pressures", "reassessment_overdue", HIGH, _no_pressure_on_a_pressor, SLEEPS),
    Danger("a unit that is silent", "no_contact", MEDIUM, _silent, ADULTS),
    Danger("a read-back that differs", "readback_mismatch", HIGH, _differs, ADULTS),
    Danger("a request that nobody answers", "order_waiting", MEDIUM, _unanswered, ADULTS),
    Danger("192/104 after a push", "after_pressor", HIGH, after_a_push(sbp=192, dbp=104, bp_method="cuff"), ADULTS),
    Danger("no carbon dioxide", "vital_sign", HIGH, measured(etco2=3), SLEEPS),
    Danger("newborn, heart rate 54", "vital_sign", HIGH, measured(hr=54), ("newborn",)),
)


def placed(crews: list[Crew], chance: Random) -> dict[str, tuple[Crew, datetime]]:
    """Each danger in the transport of its kind that has the fewest so far, one by one, none in a radio shadow."""
    busy = {id(crew): crew.minute(9) for crew in crews}
    found = {}
    for danger in DANGERS:
        fitting = [crew for crew in crews if not danger.only or crew.profile.name in danger.only]
        crew = min(fitting, key=lambda each: (busy[id(each)], chance.random()))
        moment = busy[id(crew)] + timedelta(seconds=round(chance.uniform(0, 60)))
        if crew.planned and moment - LASTS < crew.planned[1] and crew.planned[0] < moment + LASTS:
            moment = crew.planned[1] + timedelta(minutes=4)
        busy[id(crew)] = moment + LASTS
        crew.end = max(crew.end, moment + LASTS)
        found[danger.name] = (crew, moment)
    return found
