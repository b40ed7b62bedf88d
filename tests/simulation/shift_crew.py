"""A crew of a scripted shift: it measures, treats, asks and writes by hand, late and noisy as people and cuffs are.

What is done takes effect on the body at once; what is written goes out in its order, seconds to minutes later, or all
together when a radio shadow is over. Figures of behavior are guesses (our choice), none of them is a limit of a rule.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random
from typing import Any

from consult.case.entries import DecisionEntry, DoseEntry, OrderEntry
from consult.simulation import monitor, treat
from consult.state.parts import Alert, Said
from dosing.ground.facts import Amount
from tests.simulation.pure_case import PureCase
from tests.simulation.transports import Profile

Act = Callable[[datetime], None]
Write = Callable[[datetime, bool], None]
Shown = Callable[[datetime], None]
WRITING_S = (20, 90)  # until a reading is typed and sent
CUFF_SD, CUFF_WRONG, CUFF_OFF = 3.0, 0.02, 15.0  # mmHg besides the monitor's own scatter; so often, so far off
PROBE_WRONG, PROBE_OFF = 0.005, (4, 14)  # a saturation typed while the finger moves, % too low
LAPSE = 0.07  # of the readings that a dose asks for are forgotten until the next routine set
SLOW = 0.1  # of the requests find no physician within three minutes
POLL = timedelta(seconds=30)
PUSH, DRIP, FLUID = "epinephrine-push-dose", "norepinephrine-infusion", "crystalloid-bolus"
STRENGTH = Amount(16, "mcg/mL")


class Exact(Random):
    """Chance that never scatters: what a cuff would show that measured exactly."""

    def gauss(self, mu: float = 0.0, sigma: float = 1.0) -> float:
        return mu


class Crew:
    """One transport from its opening to the arrival; times are absolute, ``minute`` counts from the start."""

    def __init__(self, profile: Profile, case: PureCase, start: datetime, chance: Random, minutes: float) -> None:
        self.profile, self.case, self.start, self.chance = profile, case, start, chance
        self.end = start + timedelta(minutes=minutes)
        self.body = profile.make_body()
        self.truth: dict[datetime, dict[str, Any]] = {}
        self.taken: list[datetime] = []  # of sets with a pressure
        self.pushes: list[datetime] = []
        self.dripping = self.asked = self.quiet = False
        self._acts: list[tuple[datetime, int, Act]] = []
        self._backlog: list[tuple[Write, Shown | None]] = []
        self._number, self._last = 0, start
        self._sent_at = start
        self._shadow: tuple[datetime, datetime] | None = None
        self.planned: tuple[datetime, datetime] | None = None  # a radio shadow on the way
        self._routine = start
        self.at(start, self.routine)
        self.at(start, self._poll)
        self._plan_shadow(minutes)
        self._plan_control()
        plan = getattr(self, f"_plan_{profile.plan}", None)
        if plan:
            plan()

    # ---- time ----------------------------------------------------------------------------------------------------

    def at(self, moment: datetime, act: Act) -> None:
        """Do something then."""
        self._number += 1
        heapq.heappush(self._acts, (moment, self._number, act))

    def minute(self, minutes: float) -> datetime:
        return self.start + timedelta(minutes=minutes)

    def later(self, moment: datetime, least_s: float, most_s: float) -> datetime:
        return moment + timedelta(seconds=round(self.chance.uniform(least_s, most_s)))

    def next_at(self) -> datetime | None:
        """When it does something next."""
        return self._acts[0][0] if self._acts else None

    def act(self, now: datetime) -> None:
        """Do all that is due."""
        while self._acts and self._acts[0][0] <= now:
            heapq.heappop(self._acts)[2](now)

    # ---- radio ---------------------------------------------------------------------------------------------------

    def silent(self, now: datetime) -> bool:
        return self._shadow is not None and self._shadow[0] <= now < self._shadow[1]

    def lose_coverage(self, now: datetime, minutes: float, *, announced: bool = False) -> None:
        """Nothing goes out for so long; announced or not."""
        until = now + timedelta(minutes=minutes)
        if announced:
            self.case.coverage(until, now)
        self._shadow = (now, until)
        self.at(until, self._heard_again)

    def _plan_shadow(self, minutes: float) -> None:
        if self.chance.random() < 0.3:
            announced, length = self.chance.random() < 0.5, self.chance.uniform(3, 9)
            begins = self.minute(round(self.chance.uniform(10, max(minutes - 15, 11)), 1))
            self.planned = (begins, begins + timedelta(minutes=length))
            self.at(begins, lambda now: self.lose_coverage(now, length, announced=announced))

    def _plan_control(self) -> None:
        """A physician takes control within two minutes or so, now and then late; by a chance of its own, so that
        nothing else of the transport changes."""
        chance = Random(f"control {self.start} {self.end} {self.profile.name}")
        late = chance.random() < SLOW
        self.at(self.start + timedelta(seconds=chance.uniform(*((190, 320) if late else (20, 150)))), self.case.accept)

    def _heard_again(self, now: datetime) -> None:
        kept, self._backlog = self._backlog, []
        for write, _ in kept:
            write(now, True)
        self.case.hear(now)
        for shown in (each for _, each in kept if each):
            shown(now)

    def _poll(self, now: datetime) -> None:
        if not self.silent(now):
            self.case.hear(now)
        self.at(now + POLL, self._poll)

    def write(self, happened: datetime, write: Write, shown: Shown | None = None) -> None:
        """Type and send it; entries go out in the order in which they were made."""
        self._sent_at = max(self._sent_at, self.later(happened, *WRITING_S))

        def send(now: datetime) -> None:
            if self.silent(now):
                self._backlog.append((write, shown))
                return
            write(now, False)
            if shown:
                shown(now)

        self.at(self._sent_at, send)

    # ---- measuring -----------------------------------------------------------------------------------------------

    def routine(self, now: datetime) -> None:
        """The set that is due now and then; more often while a pressor runs, or when the pressure is low."""
        if now >= self._routine:
            if not self.quiet:
                self.measure(now)
            often = 4.5 if self.dripping else self.profile.every_min
            self._routine = self.later(now, 50 * often, 66 * often)
        self.at(self._routine, self.routine)

    def measure(self, now: datetime, shown: Shown | None = None, **instead: Any) -> None:
        """Take a set of vitals; ``instead`` is what is measured whatever the body says."""
        self.body.advance((now - self._last).total_seconds())
        self._last = now
        values = monitor.quick(self.body, self.chance) | self._cuff()
        values |= {"avpu": "V" if self.profile.ventilated else "A"}
        values |= {"etco2": round(36 + self.chance.gauss(0, 2))} if self.profile.ventilated else {}
        self.truth[now] = {"spo2": values["spo2"], "rr": values["rr"], **monitor.pressure(self.body, Exact())}
        if self.chance.random() < PROBE_WRONG:
            values["spo2"] = max(50, values["spo2"] - self.chance.randint(*PROBE_OFF))
        if "bp_method" in instead or "sbp" in instead:
            for name in ("sbp", "dbp", "map_reported", "bp_method"):
                values.pop(name, None)
        values |= instead
        self._script(now, instead)
        self.taken.append(now)
        taken = {name: value for name, value in values.items() if value is not None}
        self.write(now, lambda heard, arriving: self.case.vitals(taken, now, heard, arriving=arriving), shown)
        if not instead:
            self.judge(now)

    def _script(self, now: datetime, instead: dict[str, Any]) -> None:
        """What is scripted is true."""
        true = self.truth[now]
        true |= {name: instead[name] for name in ("spo2", "rr") if name in instead}
        if "bp_method" in instead:
            for name in ("sbp", "dbp", "map_reported"):
                true.pop(name, None)
            true |= {name: instead[name] for name in ("sbp", "dbp", "bp_method") if name in instead}

    def _cuff(self) -> dict[str, Any]:
        values = monitor.pressure(self.body, self.chance)
        off = self.chance.gauss(0, CUFF_SD)
        off += self.chance.choice((-CUFF_OFF, CUFF_OFF)) if self.chance.random() < CUFF_WRONG else 0
        moved = {name: round(values[name] + off) for name in ("sbp", "dbp", "map_reported")}
        return values | moved

    def look_again(self, after: datetime, least_min: float, most_min: float) -> None:
        """The set that a dose asks for, unless somebody forgets it."""
        if self.chance.random() >= LAPSE:
            self.at(self.later(after, 60 * least_min, 60 * most_min), self.look)

    def look(self, now: datetime) -> None:
        """A set with all that a sedative asks for."""
        if not self.quiet:
            self.measure(now)

    # ---- treating ------------------------------------------------------------------------------------------------

    def give(
        self,
        now: datetime,
        treatment: str,
        amount: Amount,
        shown: Shown | None = None,
        **more: Any,
    ) -> None:
        """Give one dose, on the body and on the record."""
        self.body.advance((now - self._last).total_seconds())
        self._last = now
        if treatment == DRIP:
            treat.run(self.body, treatment, amount, STRENGTH)
            self.dripping = True
        else:
            treat.give(self.body, treatment, amount, more.get("over_min"))
        entry = DoseEntry(treatment=treatment, amount=amount, given_at=now, **({"route": "IV"} | more))
        self.write(now, lambda heard, arriving: self._told(entry, heard, arriving), shown)

    def _told(self, entry: DoseEntry, heard: datetime, arriving: bool) -> None:
        self.case.give(entry, heard, arriving=arriving)

    def judge(self, now: datetime) -> None:
        """What a crew does about a low pressure: a push while nothing runs, and a request for an infusion."""
        if self.profile.plan not in ("shock", "heart") or self.quiet or self.body.map >= 64:
            return
        waited = not self.pushes or now - self.pushes[-1] >= timedelta(minutes=4)
        if not self.dripping and waited and len(self.pushes) < 4 and now > self.minute(4):
            self.pushes.append(now)
            self.at(self.later(now, 40, 100), self.push)
        if not self.asked and now > self.minute(6):
            self.asked = True
            self.at(self.later(now, 60, 120), self.ask)

    def push(self, now: datetime) -> None:
        """A push while no infusion runs."""
        if self.dripping:
            return
        self.give(now, PUSH, Amount(10, "mcg"))
        self.look_again(now, 1.8, 3.2)

    def ask(self, now: datetime) -> None:
        """Ask for norepinephrine; out of coverage, later."""
        if self.silent(now):
            self.at(now + POLL, self.ask)
            return
        rate = Amount(0.12 if self.profile.plan == "shock" else 0.08, "mcg/kg/min")
        wanted = OrderEntry(
            treatment=DRIP, amount=rate, route="IV", concentration=STRENGTH, action="start", reason="low"
        )
        order = self.case.request(wanted, now)
        slow = self.chance.random() < SLOW
        decided = self.later(now, 190, 320) if slow else self.later(now, 20, 150)
        self.at(decided, lambda then: self.case.decide(order, DecisionEntry(decision="approve"), then))
        self.at(self.later(decided, 60, 220), lambda then: self._start(order, rate, then))

    def _start(self, order: str, rate: Amount, now: datetime) -> None:
        if self.silent(now):
            self.at(now + POLL, lambda then: self._start(order, rate, then))
            return
        said = Said(treatment=DRIP, route="IV", amount=rate)
        self.case.read_back(order, said, now)
        begins = self.later(now, 30, 120)
        self.at(begins, lambda then: self.give(then, DRIP, rate, concentration=STRENGTH, status="running", order=order))
        self.look_again(begins, 2, 3)

    def notice(self, alert: Alert, now: datetime) -> None:
        """A physician takes notice of an alarm within a minute or so."""
        self.at(self.later(now, 15, 80), lambda then: self.case.acknowledge(alert, then))

    # ---- plans ---------------------------------------------------------------------------------------------------

    def _bolus(self, minute: float, ml: float, over: float) -> None:
        self.at(self.minute(minute), lambda now: self.give(now, FLUID, Amount(ml, "mL"), over_min=over))
        self.look_again(self.minute(minute + over), 0.1, 1.5)

    def _plan_shock(self) -> None:
        self._bolus(3, 500, 15)

    def _plan_child(self) -> None:
        self._bolus(4, 180, 12)
        self._bolus(20, 180, 12)

    def _plan_wasp(self) -> None:
        intramuscular = Amount(0.3, "mg")
        for minute in (2, 9):
            self.at(self.minute(minute), lambda now: self.give(now, "epinephrine-im", intramuscular, route="IM"))
            self.look_again(self.minute(minute), 4, 6)
        self._bolus(4, 500, 15)

    def _plan_bleed(self) -> None:
        tranexamic = Amount(1, "g")
        self.at(self.minute(5), lambda now: self.give(now, "tranexamic-acid", tranexamic, over_min=10))
        self.at(self.minute(7), lambda now: self.give(now, "blood-product", Amount(1, "bag"), product="red cells"))
        self.look_again(self.minute(15), 1, 3)

    def _plan_pain(self) -> None:
        self._calm("fentanyl", Amount(25, "mcg"), (6,))

    def _plan_sedation(self) -> None:
        self._calm("midazolam", Amount(1, "mg"), (6, 28))

    def _plan_sedated(self) -> None:
        self.dripping = True
        running = {"concentration": STRENGTH, "status": "running", "prior": True, "prior_by": "hospital"}
        entry = DoseEntry(
            treatment=DRIP, amount=Amount(0.06, "mcg/kg/min"), route="IV", given_at=self.minute(-50), **running
        )
        self.write(self.minute(1), lambda heard, arriving: self._told(entry, heard, arriving))
        self._calm("midazolam", Amount(2, "mg"), (6, 30))

    def _calm(self, drug: str, amount: Amount, minutes: tuple[float, ...]) -> None:
        """A drug that calms: a set just before it, and one with breathing, saturation and alertness after it."""
        for minute in minutes:
            self.at(self.minute(minute - 1), self.look)
            self.at(self.minute(minute), lambda now: self.give(now, drug, amount))
            self.look_again(self.minute(minute), 3.5, 6)
