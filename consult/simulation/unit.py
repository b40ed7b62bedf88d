"""One simulated unit: plays its transport, listens to the board and acts as a crew would, one ``tick`` at a time.

``tick`` takes the moment, so that a test can run an hour in a second. What a physician decides, when a dose may follow
and when a reading is due comes from the API alone; ``speed`` quickens body and script, never the server's waits.
Once a person works its case, the unit does nothing more.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random
from typing import Any

from consult.simulation.agenda import Agenda, Pace
from consult.simulation.consulting import Consulting
from consult.simulation.crew import Crew, is_infusion
from consult.simulation.judgment import Next, reasons
from consult.simulation.leftovers import INCIDENT
from consult.simulation.link import Link
from consult.simulation.lookout import Lookout
from consult.simulation.orders import Move, OrderDesk, spoken
from consult.simulation.outbox import Outbox
from consult.simulation.scenario import Scenario, Step, varied
from consult.simulation.told import Instructed

log = logging.getLogger(__name__)

HISTORY_STEP = timedelta(seconds=5)
READING_EVERY_MIN = 0.75
READING_EVERY_MIN_BEFORE = 4.0
FIRST_READING = timedelta(seconds=25)
SHORTEST_READING = timedelta(seconds=4)
POLL_EVERY = timedelta(seconds=2.5)
TRY_AGAIN = timedelta(seconds=5)
MOST_TRIES = 12
LONGEST_REASON = 500
PAUSE_BETWEEN_RUNS_MIN = 3.0
ENDED = ("declined", "withdrawn", "expired", "not_given")


class Unit:
    """A unit with its radio; ``open_history`` once, then ``tick`` for as long as the demonstration runs."""

    def __init__(self, name: str, scenario: Scenario, link: Link, *, start: datetime, speed: float = 1, seed: int = 1):
        self.name = name
        self.outbox = Outbox(name, link)
        self.runs = 0
        self.stands_back = False
        self._link, self._speed = link, speed
        self._chance = Random(seed)  # noqa: S311, a patient, not a secret
        self._silent_until: datetime | None = None
        self._next_poll = start
        self._next_run: datetime | None = None
        self._begin(scenario, start)

    def _begin(self, scenario: Scenario, start: datetime) -> None:
        self.runs += 1
        self.scenario, self._pace, self._agenda = scenario, Pace(start, self._speed), Agenda()
        self.crew = Crew(scenario, self.outbox, self._pace, self._agenda, self._chance)
        self._consulting = Consulting(self._link, self.crew.case)
        self._lookout = Lookout(self._link, self.crew.case)
        reaction = timedelta(seconds=scenario.reaction_s / self._speed)
        self._desk = OrderDesk(reaction, first_readback_wrong=scenario.wrong_readback)
        self._instructed = Instructed(reaction)
        self._destination = ""
        self._asked: dict[str, Step] = {}
        self._looked: set[str] = set()
        self._stepped: set[tuple[str, float]] = set()
        self._next_run = None
        for step in scenario.steps:
            self._agenda.add(self._pace.due(step.minute), step)
        self._last = self._next_reading = self._pace.due(scenario.steps[0].minute)
        self.crew.open_case(self._last, f"{INCIDENT} {self.name} {self.runs}")

    def open_history(self) -> None:
        """Play what lies before the start, and keep it in the outbox for the first batch."""
        moment = self._last
        while moment < self._pace.start:
            self._live(moment)
            moment += HISTORY_STEP
        self._next_reading = self._pace.start + FIRST_READING * self._chance.random()

    def tick(self, moment: datetime) -> None:
        """Live on until ``moment``: body, script, board, outbox."""
        if self.stands_back:
            return
        if self._next_run:
            if moment >= self._next_run:
                self._begin(varied(self._chance).from_now(), moment)
        else:
            if not self._silent(moment) and moment >= self._next_poll:
                self._next_poll = moment + POLL_EVERY
                self._listen(moment)
            if not self.stands_back:
                self._live(moment)
        if not self._silent(moment):
            self.outbox.flush(moment)

    def _live(self, moment: datetime) -> None:
        self.crew.body.advance(self._pace.seconds(self._last, moment))
        self._last = moment
        self.crew.end_fluids(moment)
        for step in self._agenda.take_due(moment):
            self._perform(step, moment)
        if not self._next_run and moment >= self._next_reading:
            self._measure(moment, {})

    def _silent(self, moment: datetime) -> bool:
        return self._silent_until is not None and moment < self._silent_until

    def _measure(self, moment: datetime, detail: Mapping[str, Any]) -> None:
        self.crew.measure(moment, **detail)
        minutes = READING_EVERY_MIN_BEFORE if moment < self._pace.start else READING_EVERY_MIN
        pause = self._pace.later(moment, minutes * self._chance.uniform(0.85, 1.15)) - moment
        self._next_reading = moment + max(pause, SHORTEST_READING)

    def _perform(self, step: Step, moment: datetime) -> None:
        crew, detail = self.crew, step.detail
        match step.act:
            case "measure":
                self._measure(moment, detail)
            case "procedure":
                crew.procedure(detail, moment)
            case "give":
                self._consider(step, moment)
            case "stop":
                crew.stop(detail["treatment"], moment)
            case "request":
                self._ask(step, str(detail["reason"]), moment)
            case "note":
                crew.note(detail["text"], moment)
            case "ask":
                crew.ask(detail["topic"], detail["text"], moment)
            case "cuff":
                self._use_cuff(step, moment)
            case "lose_contact":
                # In minutes of the clock at any speed: it is the server's clock that notices a quiet unit.
                self._silent_until = moment + timedelta(minutes=float(detail["minutes"]))
                log.info("%s: out of coverage for %s min", self.name, detail["minutes"])
            case "body":
                for quality, value in detail.items():
                    setattr(crew.body, quality, value)
            case "arrest" | "pulse_back":
                crew.change_phase(step.act, moment)
                for row in detail.get("course", ()):
                    further = {name: value for name, value in row.items() if name not in ("after", "act")}
                    self._agenda.add(self._pace.later(moment, row["after"]), Step(0, row["act"], further))
            case "handover":
                crew.hand_over(detail["to"], moment)
                self._next_run = self._pace.later(moment, PAUSE_BETWEEN_RUNS_MIN)

    def _use_cuff(self, step: Step, moment: datetime) -> None:
        """Take the cuff off or put it on again, at a high speed no sooner than the server can notice its absence."""
        earliest = self._pace.start + timedelta(minutes=float(step.detail.get("earliest_min", 0)))
        if step.detail["on"] and moment < earliest:
            self._agenda.add(earliest, step)
        else:
            self.crew.cuff = bool(step.detail["on"])

    def _consider(self, step: Step, moment: datetime) -> None:
        """Give a treatment as its check allows; without the board a crew keeps to what it carries in its head."""
        if moment < self._pace.start or self._silent(moment):
            self.crew.give(step, moment)
            return
        verdict = self._consulting.advise(step.detail, moment)
        if verdict is None:
            self._put_off(step, moment + TRY_AGAIN)
        elif verdict.next is Next.GIVE:
            self.crew.give(step, moment)
        elif verdict.next is Next.ASK:
            self._ask(step, reasons(verdict.check)[:LONGEST_REASON], moment)
        elif verdict.next is Next.LEAVE:
            why = verdict.check.get("detail") or "beyond the hard limit"
            self.crew.note(f"{step.detail['treatment']} not given: {why}", moment)
        else:
            if verdict.next is Next.MEASURE:
                self._measure(moment, {})
            self._put_off(step, max(verdict.not_before or moment, moment + TRY_AGAIN))

    def _put_off(self, step: Step, until: datetime) -> None:
        tries = int(step.detail.get("tries", 0)) + 1
        if tries < MOST_TRIES:
            self._agenda.add(until, replace(step, detail={**step.detail, "tries": tries}))

    def _ask(self, step: Step, reason: str, moment: datetime) -> None:
        self._asked[self.crew.request(step, reason, moment)] = step
        log.info("%s: asks for %s", self.name, step.detail["treatment"])

    def _listen(self, moment: datetime) -> None:
        """Look at the case's card: whether a person works it, orders to answer, readings that are due."""
        card = self._link.read(f"cases/{self.crew.case}/")
        if card is None:
            return
        if person := self._lookout.person(card["seq"]):
            log.info("%s: %s has the case, the simulated crew stands back", self.name, person)
            self.stands_back = True
            self.outbox.waiting.clear()
            return
        for move, order in self._desk.moves(card.get("orders", []), moment):
            self._answer(move, order, moment)
        for stands in card.get("titrations", []):
            self._step_up(stands, card["orders"], moment)
        self._hear(card, moment)
        if any(self._due(row, moment) for row in card.get("reassessments", [])):
            self._measure(moment, {})
        self._learn_of_endings({str(order["id"]) for order in card.get("orders", [])}, moment)

    def _step_up(self, stands: Mapping[str, Any], orders: Iterable[Mapping[str, Any]], moment: datetime) -> None:
        """Set the next rate of an order with steps once its time has come, while the goal is not reached."""
        order, wanted = str(stands["order"]), stands["next"]
        waits = stands["next_at"] and moment < datetime.fromisoformat(stands["next_at"])
        if not wanted or waits or stands["at_goal"] or stands["call"] or (order, wanted["value"]) in self._stepped:
            return
        self._stepped.add((order, wanted["value"]))
        treatment = next(str(each["treatment"]) for each in orders if str(each["id"]) == order)
        log.info("%s: steps %s up to %s", self.name, treatment, wanted["value"])
        self.crew.set_rate(treatment, wanted, moment, order)

    def _hear(self, card: Mapping[str, Any], moment: datetime) -> None:
        """What a physician says that is no order: instructions, and where to go."""
        for step, instruction in self._instructed.steps(card.get("instructions", []), moment):
            self.crew.say(step, instruction, moment)
        told = card.get("destination_told")
        if told and told["side"] == "physician" and told["at"] != self._destination:
            self._destination = told["at"]
            self.crew.see_destination(told["destination"])

    def _due(self, reassessment: Mapping[str, Any], moment: datetime) -> bool:
        """Whether a reading asked for is due now and has not been tried; a crew without its cuff cannot."""
        counts_from, due_at = (datetime.fromisoformat(reassessment[key]) for key in ("counts_from", "due_at"))
        ready = max(counts_from + timedelta(seconds=5), due_at - timedelta(seconds=25))
        if not self.crew.cuff or moment < ready or reassessment["id"] in self._looked:
            return False
        self._looked.add(reassessment["id"])
        return True

    def _answer(self, move: Move, order: Mapping[str, Any], moment: datetime) -> None:
        log.info("%s: %s, %s", self.name, move, order["treatment"])
        match move:
            case Move.ANSWER:
                words = f"{self.scenario.answer} Now {self.crew.in_words()}.".strip()
                self.crew.answer(str(order["id"]), words, moment)
            case Move.READ_BACK | Move.READ_BACK_WRONGLY:
                said = spoken(order, wrong=move is Move.READ_BACK_WRONGLY)
                self.crew.read_back(str(order["id"]), said, moment)
            case Move.GIVE:
                self._carry_out(order, moment)

    def _carry_out(self, order: Mapping[str, Any], moment: datetime) -> None:
        """Do what a read-back order says; a dose beyond the hard limit is refused even then."""
        own = self._asked.get(str(order["id"]))
        detail = {**(own.detail if own else {}), **spoken(order)}
        action = order.get("action") or "give"
        if action == "hold" and is_infusion(order["treatment"]):
            self.crew.hold(order["treatment"], moment, str(order["id"]))
        elif action in ("hold", "stop"):
            self.crew.stop(order["treatment"], moment)
        elif action == "change" and is_infusion(order["treatment"]):
            self.crew.set_rate(order["treatment"], order["amount"], moment, str(order["id"]))
        else:
            verdict = self._consulting.advise(detail, moment)
            if verdict and verdict.next is Next.LEAVE:
                self.crew.give_up(str(order["id"]), "beyond the hard limit on the check before giving")
            else:
                self.crew.give(Step(0, "give", detail), moment, order=str(order["id"]))

    def _learn_of_endings(self, standing: set[str], moment: datetime) -> None:
        """Ask after own requests that have left the card; after a refusal do what the script says instead."""
        unheard = {entry.id for entry in self.outbox.waiting}
        refused = {entry.id for entry, _ in self.outbox.refused}
        for order_id in [known for known in self._asked if known not in standing | unheard]:
            if order_id in refused:
                del self._asked[order_id]
                continue
            order = self._link.read(f"orders/{order_id}/")
            if order is None or order["state"] not in (*ENDED, "given"):
                continue
            step = self._asked.pop(order_id)
            if order["state"] in ENDED:
                self.crew.note(f"Understood: {step.detail['treatment']} {order['state'].replace('_', ' ')}.", moment)
                for row in step.detail.get("otherwise", []):
                    other = dict(row)
                    self._agenda.add(moment + TRY_AGAIN, Step(0, other.pop("act"), other))
