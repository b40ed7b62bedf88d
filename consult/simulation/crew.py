"""The hands of a crew: they measure, give, stop and write, on the body and into the outbox at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random
from typing import Any

from consult.simulation import effects, kit, monitor, treat
from consult.simulation.agenda import Agenda, Pace
from consult.simulation.entries import Entry, new_id, stamp
from consult.simulation.outbox import Outbox
from consult.simulation.scenario import Scenario, Step
from dosing.ground.facts import Amount

PROPOSAL = ("treatment", "amount", "route", "stock", "concentration", "over_min", "gauge", "product", "indication")
FLUIDS = ("crystalloid-bolus",)


@dataclass(slots=True)
class Running:
    """A fluid or an infusion that runs: the id of its entry, and for a fluid its volume and when it will be in."""

    id: str
    treatment: str
    began: datetime
    ends: datetime | None = None
    volume_ml: float = 0.0
    strength: Amount | None = None

    def infused_ml(self, moment: datetime) -> float:
        """How much of a fluid is in."""
        if self.ends is None or moment >= self.ends:
            return self.volume_ml
        return round(self.volume_ml * ((moment - self.began) / (self.ends - self.began)), 0)


class Crew:
    """One crew with one patient; every method takes the moment at which it happens."""

    def __init__(self, scenario: Scenario, outbox: Outbox, pace: Pace, agenda: Agenda, chance: Random) -> None:
        self.scenario = scenario
        self.body = scenario.make_body()
        self.case = new_id()
        self.cuff = True
        self.in_arrest = False
        self.running: dict[str, Running] = {}
        self._kit = kit.Kit()
        self.last_reading: dict[str, Any] = {}
        self._outbox, self._pace, self._agenda, self._chance = outbox, pace, agenda, chance

    def open_case(self, moment: datetime, incident: str) -> None:
        """Write the case down as it is met."""
        content = {**self.scenario.case, "opened_at": stamp(moment), "incident": incident}
        content["eta"] = stamp(self._pace.due(self.scenario.eta_min))
        if self.scenario.onset_min is not None:
            onset = stamp(self._pace.start + timedelta(minutes=self.scenario.onset_min))
            content["patient"] = {**content["patient"], "onset_at": onset}
        self._outbox.put(Entry("case", "", content, id=self.case))

    def measure(self, moment: datetime, *, method: str = "cuff", lactate: bool = False) -> None:
        """Take a full set of vitals; without the cuff only what the monitor shows by itself, in an arrest none."""
        if self.in_arrest:
            return
        reading = {"taken_at": stamp(moment), "source": "monitor", **monitor.quick(self.body, self._chance)}
        if self.cuff:
            reading |= monitor.pressure(self.body, self._chance, method) | monitor.examination(self.body, self._chance)
        if lactate:
            reading["lactate_mmol_l"] = round(self.body.lactate_mmol_l, 1)
        self.last_reading = reading
        self._write("vitals", reading)
        if reading.get("lungs") == "crackles":
            self._stop_fluids(moment)

    def give(self, step: Step, moment: datetime, order: str | None = None) -> None:
        """Give what the step says and write it down; fluids and infusions are written as running."""
        detail = step.detail
        amount, minutes = amount_of(detail["amount"]), detail.get("over_min")
        content = {key: detail[key] for key in PROPOSAL if key in detail} | {"given_at": stamp(moment)}
        if order:
            content["order"] = order
        content |= self._from_hand(str(detail["treatment"]), amount, moment)
        treatment, entry_id = str(detail["treatment"]), new_id()
        running = Running(entry_id, treatment, moment)
        if is_infusion(treatment):
            running.strength = amount_of(detail["concentration"]) if "concentration" in detail else None
            treat.run(self.body, treatment, amount, running.strength)
        else:
            treat.give(self.body, treatment, amount, minutes)
        if is_infusion(treatment) or (treatment in FLUIDS and minutes):
            content["status"] = "running"
            self.running[entry_id] = running
        if treatment in FLUIDS and minutes:
            running.volume_ml = treat.in_unit(self.body, amount, "mL")
            running.ends = self._pace.later(moment, float(minutes))
        self._write("intervention", content, entry_id)
        if not detail.get("forgotten"):
            look = effects.load().look_again(treatment) + float(minutes or 0)
            self._agenda.add(self._pace.later(moment, look), Step(0, "measure"))

    def _from_hand(self, treatment: str, amount: Amount, moment: datetime) -> dict[str, Any]:
        """Mix the syringe that a push needs, and say which bag is hung for what runs."""
        made = self._kit.mixed_for(treatment, amount, self.body)
        if made is not None:
            self._write("container", kit.entry_of(treatment, made, stamp(moment)))
        fluid = treat.in_unit(self.body, amount, "mL") if treatment in FLUIDS else 0.0
        hung = self._kit.hung_for(treatment, fluid)
        return {} if hung is None else {"container_ml": hung}

    def set_rate(self, treatment: str, amount: Mapping[str, Any], moment: datetime, order: str) -> None:
        """Set the rate of an infusion that runs, as it was ordered."""
        for running in self._runs(treatment):
            treat.run(self.body, treatment, amount_of(amount), running.strength)
            content = {"at": stamp(moment), "amount": dict(amount), "order": order}
            self._write("change", content, target=running.id)

    def hold(self, treatment: str, moment: datetime, order: str) -> None:
        """Let an infusion that runs pause, as it was ordered."""
        treat.stop(self.body, treatment)
        for running in self._runs(treatment):
            self._write("change", {"at": stamp(moment), "status": "held", "order": order}, target=running.id)

    def stop(self, treatment: str, moment: datetime) -> None:
        """Stop whatever of this treatment runs."""
        treat.stop(self.body, treatment)
        for running in self._runs(treatment):
            self._end(running, "stopped", moment)

    def end_fluids(self, moment: datetime) -> None:
        """Write down the fluids that have run in by now."""
        for running in list(self.running.values()):
            if running.ends and running.ends <= moment:
                self._end(running, "finished", running.ends)

    def note(self, text: str, moment: datetime) -> None:
        """Write a note."""
        self._write("note", {"at": stamp(moment), "text": text})

    def ask(self, topic: str, text: str, moment: datetime) -> None:
        """Ask something that is no order."""
        self._write("question", {"at": stamp(moment), "topic": topic, "text": text})

    def say(self, step: str, instruction: str, moment: datetime) -> None:
        """Say of an instruction that it is understood, or done."""
        self._write(step, {"at": stamp(moment)}, target=instruction)

    def see_destination(self, destination: str) -> None:
        """Say that a new destination is seen."""
        self._write("patch", {"destination_seen": destination})

    def procedure(self, detail: Mapping[str, Any], moment: datetime) -> None:
        """Write a procedure down."""
        self._write("procedure", {**detail, "at": stamp(moment)})

    def change_phase(self, phase: str, moment: datetime) -> None:
        """Tell of a cardiac arrest, or that the pulse is back; in between no pressure is there to be taken."""
        self.in_arrest = phase == "arrest"
        self._write("phase", {"phase": phase, "at": stamp(moment)})

    def request(self, step: Step, reason: str, moment: datetime) -> str:
        """Ask for an order; returns its id."""
        wanted = (*PROPOSAL, "action", "repeat", "titrate")
        content = {key: step.detail[key] for key in wanted if key in step.detail}
        order = new_id()
        self._write("order", {**content, "at": stamp(moment), "reason": reason}, order)
        return order

    def read_back(self, order: str, words: Mapping[str, Any], moment: datetime) -> None:
        """Repeat an order."""
        self._write("readback", {**words, "at": stamp(moment)}, target=order)

    def answer(self, order: str, text: str, moment: datetime) -> None:
        """Answer what a physician asked about a request."""
        self._write("answer", {"at": stamp(moment), "text": text}, target=order)

    def give_up(self, order: str, reason: str) -> None:
        """Say that an order will not be given."""
        self._write("not_given", {"reason": reason}, target=order)

    def hand_over(self, to: str, moment: datetime) -> None:
        """Hand the patient over; the last entry of a transport."""
        self._write("handover", {"to": to, "at": stamp(moment)})

    def in_words(self) -> str:
        """The last pressure as a crew would say it."""
        seen = self.last_reading
        told = f"{seen['sbp']}/{seen['dbp']}" if "dbp" in seen else "no pressure just now"
        return f"{told}, heart rate {seen.get('hr', 'not taken')}, lungs {seen.get('lungs', 'not assessed')}"

    def _stop_fluids(self, moment: datetime) -> None:
        for treatment in FLUIDS:
            self.stop(treatment, moment)

    def _end(self, running: Running, status: str, moment: datetime) -> None:
        del self.running[running.id]
        content: dict[str, Any] = {"at": stamp(moment), "status": status}
        infused = running.infused_ml(moment)
        if infused > 0:
            content["infused"] = {"value": infused, "unit": "mL"}
        self._write("change", content, target=running.id)
        if status == "stopped":
            self._agenda.add(self._pace.later(moment, effects.load().look_again(running.treatment)), Step(0, "measure"))

    def _runs(self, treatment: str) -> list[Running]:
        return [running for running in self.running.values() if running.treatment == treatment]

    def _write(self, kind: str, content: Mapping[str, Any], entry_id: str | None = None, target: str = "") -> None:
        self._outbox.put(Entry(kind, target or self.case, content, id=entry_id or new_id()))


def amount_of(row: Mapping[str, Any]) -> Amount:
    """An amount of the API as a plain one."""
    return Amount(row["value"], row["unit"])


def is_infusion(treatment: str) -> bool:
    """Whether a treatment runs at a rate until it is stopped."""
    return treatment.endswith("-infusion")
