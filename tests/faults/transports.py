"""What happens in the transports of a shift under kills: by whom what is posted, and what is left unanswered.

Each transport is one thread that plays its crew and both physicians by their own tokens. What is left unanswered is
answered once its alert is seen; what that is, and how long between, follows from the seed.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random
from typing import Any
from uuid import uuid4

from consult.simulation.link import Answer
from dosing.load.reader import read_text
from tests.faults.book import Book, Sender, Wait, now, stamp
from tests.faults.whole_board import RULES

PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"
STRENGTH = {"value": 16, "unit": "mcg/mL"}
GOOD = {"sbp": 118, "dbp": 76, "hr": 88, "rr": 16, "spo2": 97}
LOW = {"sbp": 84, "dbp": 50, "hr": 118, "rr": 22, "spo2": 95}
SEEN_WITHIN_S = 25.0  # after that an alert counts as missed, and the script goes on
LEFT = 0.45  # of what could wait
LOOKS_S = 1.2
SHORT = read_text(RULES.read_text(encoding="utf-8"), RULES.name)
WATCH, LOOK = SHORT.watch, SHORT.treatments[PUSH].reassessment


@dataclass
class Transport:
    """One unit at work, run after run, until the shift is over."""

    number: int
    crew: Sender
    other_crew: Sender
    other_unit: str
    physicians: tuple[Sender, Sender]
    book: Book
    chance: Random
    over: threading.Event
    case: str = ""
    runs: int = 0
    acts: list[Callable[[Transport], None]] = field(default_factory=list)

    def thread(self) -> threading.Thread:
        """By which it works."""
        return threading.Thread(target=self.live, name=f"transport {self.number}", daemon=True)

    def live(self) -> None:
        """Runs until the shift is over; each ends as a run does."""
        try:
            while not self.over.is_set():
                own = self.crew
                self.run()
                self.crew = own
        except Exception as fault:
            self.book.faults.append(f"transport {self.number}, case {self.case}: {fault!r}")

    def run(self) -> None:
        self.runs += 1
        self.open()
        for act in self.chance.sample(self.acts, len(self.acts)):
            if self.over.is_set():
                break
            self.measure(GOOD)
            act(self)
            self.book.done.append(act.__name__)
            self.pause()
        ending = {"to": "Ashgrove"} if self.chance.random() < 0.5 else {"outcome": "cancelled"}
        self.case_post("handover/" if "to" in ending else "close/", ending)
        self.measure(GOOD, late=True)

    # ---- what all acts are made of ---------------------------------------------------------------------------

    def case_post(self, path: str, content: dict[str, Any], by: Sender | None = None, **more: Any) -> Answer:
        return (by or self.crew).send(f"cases/{self.case}/{path}", content, **more)

    def measure(self, values: dict[str, Any], *, late: bool = False) -> str:
        """A set of vitals; its id."""
        taken = now() - timedelta(seconds=2 if late else 0)
        entry = {"id": str(uuid4()), "taken_at": stamp(taken), "bp_method": "cuff", **values}
        self.case_post("vitals/", entry)
        return str(entry["id"])

    def pause(self) -> None:
        self.over.wait(self.chance.uniform(0.2, 1.2))

    @property
    def physician(self) -> Sender:
        return self.chance.choice(self.physicians)

    def leaves(self) -> bool:
        """Whether what waits now is left until it alarms."""
        return self.chance.random() < LEFT

    def until_alarm(self, wait: Wait, by: Sender | None = None) -> dict[str, Any]:
        """Look at the card until the alert stands there; the alert, or nothing if it does not come."""
        until = time.monotonic() + wait.seconds + SEEN_WITHIN_S
        while time.monotonic() < until:
            for alert in (by or self.crew).read(f"cases/{self.case}/").get("alerts", []):
                if alert["kind"] == wait.kind and wait.cause in ("", alert["cause"]):
                    return dict(alert)
            time.sleep(LOOKS_S)
        return {}

    def wait(self, kind: str, cause: str, entry: str, seconds: float = 0, at: datetime | None = None) -> Wait:
        self.book.waits.append(begun := Wait(self.case, kind, cause, entry, seconds, at))
        return begun

    def answered(self, wait: Wait, act: Callable[[], str]) -> None:
        """Let it wait for its alarm, or not; then do what answers it, which says its id."""
        if self.leaves():
            self.until_alarm(wait)
        else:
            self.pause()
        wait.ended.append(act())

    def open(self) -> None:
        self.case = str(uuid4())
        patient = {"age": {"value": 61, "unit": "years"}, "weight": {"value": 80, "unit": "kg"}}
        entry = {"id": self.case, "opened_at": stamp(now()), "patient": patient, "impression": "septic"}
        self.crew.send("cases/", entry)
        wait = self.wait("not_accepted", "control", self.case, WATCH.not_accepted_s)
        self.answered(wait, lambda: self.by_id(self.physicians[0], "accept/", {}))

    def by_id(self, by: Sender, path: str, content: dict[str, Any]) -> str:
        """Post to the case; the id under which that was done."""
        entry = {"id": str(uuid4()), **content}
        self.case_post(path, entry, by)
        return str(entry["id"])

    def give_push(self, **dose: Any) -> None:
        """Give a push, and take the pressure that it asks for, in time or once it is missed."""
        entry, given_at = str(uuid4()), now()
        amount = {"amount": {"value": 10, "unit": "mcg"}, "route": "IV"} | dose
        self.case_post("interventions/", {"id": entry, "treatment": PUSH, **amount, "given_at": stamp(given_at)})
        seconds = LOOK.due_min * 60 + LOOK.grace_s
        wait = self.wait("reassessment_overdue", "reassessment", entry, seconds, given_at)
        self.answered(wait, lambda: self.measure(GOOD))


def to(path: str, who: Sender, **content: Any) -> str:
    """Post; the id under which that was done."""
    entry = {"id": str(uuid4()), **content}
    who.send(path, entry)
    return str(entry["id"])


# ---- the acts --------------------------------------------------------------------------------------------------


def readings(transport: Transport) -> None:
    """Several sets, a note, something done, one set taken back."""
    ids = [transport.measure({**GOOD, "hr": transport.chance.randint(70, 110)}) for _ in range(4)]
    transport.case_post("notes/", {"at": stamp(now()), "text": "calm, pink, talks"})
    transport.case_post("procedures/", {"procedure": "iv_access", "at": stamp(now()), "outcome": "done", "gauge": 18})
    target = {"kind": "vitals", "id": ids[0]}
    transport.case_post("corrections/", {"target": target, "reason": "cuff had slipped"})
    transport.crew.send(f"cases/{transport.case}/", {"destination": f"Ward {transport.runs}"}, "PATCH")


def push(transport: Transport) -> None:
    """A push for a low pressure."""
    transport.measure(LOW)
    transport.give_push()


def request(transport: Transport) -> None:
    """A request, decided by one of two physicians who both try; read back, wrong at first; given."""
    order, dose = str(uuid4()), {"treatment": PUSH, "amount": {"value": 30, "unit": "mcg"}, "route": "IV"}
    transport.measure(LOW)
    transport.case_post("orders/", {"id": order, "at": stamp(now()), "reason": "no response", **dose})
    wait = transport.wait("order_waiting", order, order, WATCH.request_alarm_s)
    transport.answered(wait, lambda: both_decide(transport, order))
    wait = transport.wait("readback_waiting", order, wait.ended[0], WATCH.read_back_mixed_s)
    if transport.chance.random() < 0.4:
        wrong = to(f"orders/{order}/readback/", transport.crew, **{**dose, "amount": {"value": 3, "unit": "mcg"}})
        wait.ended.append(wrong)
        mismatch = transport.wait("readback_mismatch", order, wrong)
        mismatch.ended.append(to(f"orders/{order}/readback/", transport.crew, **dose))
    else:
        transport.answered(wait, lambda: to(f"orders/{order}/readback/", transport.crew, **dose))
    transport.give_push(**dose, order=order)


def both_decide(transport: Transport, order: str) -> str:
    """Both physicians decide at once, each until answered: one is told that it stands, the other that it is decided."""
    ids = [str(uuid4()), str(uuid4())]
    answers: dict[str, int] = {}

    def decides(who: Sender, own: str) -> None:
        answers[own] = who.send(f"orders/{order}/decision/", {"id": own, "decision": "approve"}).status

    threads = [threading.Thread(target=decides, args=pair) for pair in zip(transport.physicians, ids, strict=True)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    if sorted(answers.values()) != [200, 409]:
        transport.book.faults.append(f"two decisions about one request were answered {sorted(answers.values())}")
    return min(ids, key=lambda own: answers[own])


def asked_back(transport: Transport) -> None:
    """A request that is asked back, answered and declined."""
    order, dose = str(uuid4()), {"treatment": PUSH, "amount": {"value": 30, "unit": "mcg"}, "route": "IV"}
    transport.case_post("orders/", {"id": order, "at": stamp(now()), "reason": "still low", **dose})
    wait = transport.wait("order_waiting", order, order, WATCH.request_alarm_s)
    path = f"orders/{order}/decision/"
    transport.answered(wait, lambda: to(path, transport.physician, decision="ask", text="Which fluids so far?"))
    answered = to(f"orders/{order}/answer/", transport.crew, text="500 mL")
    wait = transport.wait("order_waiting", order, answered, WATCH.request_alarm_s)
    transport.answered(wait, lambda: to(path, transport.physician, decision="decline", reason="pressure came up"))


def infusion(transport: Transport) -> None:
    """An infusion with steps by a physician's order: read back, begun, stepped up too soon, stopped."""
    order, runs = str(uuid4()), str(uuid4())
    titrate = {"step": {"value": 0.02, "unit": "mcg/kg/min"}, "every_min": 1, "goal": {"measure": "map", "floor": 65}}
    titrate["most"] = {"value": 0.3, "unit": "mcg/kg/min"}
    rate = {"treatment": DRIP, "amount": {"value": 0.1, "unit": "mcg/kg/min"}, "route": "IV"}
    words = {**rate, "concentration": STRENGTH, "action": "start", "reason": "low", "titrate": titrate}
    transport.case_post("orders/", {"id": order, "at": stamp(now()), **words}, transport.physician)
    wait = transport.wait("readback_waiting", order, order, WATCH.read_back_mixed_s)
    said = {**rate, "action": "start", "titrate": titrate}
    transport.answered(wait, lambda: to(f"orders/{order}/readback/", transport.crew, **said))
    begun = {"id": runs, "status": "running", "given_at": stamp(now()), "order": order, "concentration": STRENGTH}
    transport.case_post("interventions/", {**rate, **begun})
    transport.pause()
    changed = {"value": 0.12, "unit": "mcg/kg/min"}
    too_soon = to(f"interventions/{runs}/changes/", transport.crew, at=stamp(now()), amount=changed, order=order)
    transport.wait("dose_outside_limits", runs, too_soon)
    to(f"interventions/{runs}/changes/", transport.crew, at=stamp(now()), status="stopped")
    transport.measure(GOOD)


def question(transport: Transport) -> None:
    """A question without a drug, its answer, understood and done."""
    asked = str(uuid4())
    transport.case_post("questions/", {"id": asked, "at": stamp(now()), "topic": "advice", "text": "Which side up?"})
    wait = transport.wait("question_waiting", asked, asked, WATCH.question_alarm_s)
    told = {"at": stamp(now()), "text": "Left side.", "question": asked}
    transport.answered(wait, lambda: transport.by_id(transport.physician, "instructions/", told))
    instruction = wait.ended[0]
    wait = transport.wait("readback_waiting", instruction, instruction, WATCH.waiting_s)
    transport.answered(wait, lambda: to(f"instructions/{instruction}/understood/", transport.crew, at=stamp(now())))
    to(f"instructions/{instruction}/done/", transport.crew, at=stamp(now()))


def danger(transport: Transport) -> None:
    """A saturation that is a danger, noticed by a physician, then better."""
    wait = transport.wait("low_saturation", "", transport.measure({**GOOD, "spo2": 71}))
    noticed(transport, wait)
    transport.measure(GOOD)
    transport.measure(GOOD)


def noticed(transport: Transport, wait: Wait) -> None:
    """A physician takes notice of the alert."""
    if alert := transport.until_alarm(wait):
        to(f"alerts/{alert['id']}/acknowledge/", transport.physician)


def too_much(transport: Transport) -> None:
    """A dose far beyond its limit."""
    dose = {"id": str(uuid4()), "treatment": "fentanyl", "amount": {"value": 900, "unit": "mcg"}, "route": "IV"}
    transport.case_post("interventions/", {**dose, "given_at": stamp(now())})
    noticed(transport, transport.wait("dose_outside_limits", str(dose["id"]), str(dose["id"])))


def arrest(transport: Transport) -> None:
    """An arrest, epinephrine, a pulse again, and the first set after it."""
    transport.case_post("phase/", {"at": stamp(now()), "phase": "arrest"})
    dose = {"treatment": "epinephrine-arrest", "amount": {"value": 1, "unit": "mg"}, "route": "IV"}
    transport.case_post("interventions/", {**dose, "given_at": stamp(now())})
    transport.pause()
    back = now()
    pulse = transport.by_id(transport.crew, "phase/", {"at": stamp(back), "phase": "pulse_back"})
    seconds = WATCH.pulse_back_set_min * 60 + WATCH.pulse_back_grace_s
    wait = transport.wait("reassessment_overdue", "reassessment", pulse, seconds, back)
    transport.answered(wait, lambda: transport.measure(GOOD))


def kept(transport: Transport) -> None:
    """Kept on the phone for a while, then sent together; one of the sets is a danger."""
    entries = []
    for number in range(12):
        values = {**GOOD, "hr": 29} if number == 11 else GOOD
        what = {"kind": "vitals", "taken_at": stamp(now()), **values}
        what = {"kind": "note", "at": stamp(now()), "text": f"kept {number}"} if number % 4 == 2 else what
        entries.append({"id": str(uuid4()), "case": transport.case, **what})
        time.sleep(0.05)
    transport.crew.send_batch(entries)
    noticed(transport, transport.wait("vital_sign", "hr", str(entries[-1]["id"])))
    transport.measure(GOOD)
    transport.measure(GOOD)


def silent(transport: Transport) -> None:
    """Nothing is heard of the unit for too long."""
    wait = transport.wait("no_contact", "contact", transport.measure(GOOD), WATCH.no_contact_min * 60)
    transport.until_alarm(wait, by=transport.physicians[1])
    wait.ended.append(transport.measure(GOOD))


def given_up(transport: Transport) -> None:
    """A physician gives the case up, and a colleague takes it; or it is offered at the change of shift."""
    first, second = transport.physicians
    transport.case_post("accept/", {"take_over": True}, first)
    if transport.chance.random() < 0.5:
        released = transport.by_id(first, "release/", {"reason": "shift ends"})
        wait = transport.wait("not_accepted", "control", released, WATCH.not_accepted_s)
        transport.answered(wait, lambda: transport.by_id(second, "accept/", {}))
    else:
        offer = to("handovers/", first, to=second.name, cases=[transport.case])
        to(f"handovers/{offer}/accept/", second, cases=[transport.case])


def by_voice(transport: Transport) -> None:
    """A dose that a physician ordered by voice, countersigned by the one who is named."""
    named, dose = transport.physicians[0], {"treatment": "fentanyl", "amount": {"value": 50, "unit": "mcg"}}
    voice = {"physician": named.name, "at": stamp(now())}
    entry = {"id": str(uuid4()), **dose, "route": "IV", "given_at": stamp(now()), "voice_order": voice}
    transport.case_post("interventions/", entry)
    wait = transport.wait("countersign_waiting", "", str(entry["id"]))
    transport.until_alarm(wait)
    wait.ended.append(to(f"interventions/{entry['id']}/countersign/", named))


def moved(transport: Transport) -> None:
    """The patient goes on with another unit; the former crew tells late what it did before."""
    before, former = now(), transport.crew
    transport.book.moved.add(transport.case)
    transport.case_post("move/", {"unit": transport.other_unit, "at": stamp(now())})
    transport.crew = transport.other_crew
    former.send(f"cases/{transport.case}/vitals/", {"taken_at": stamp(before), **GOOD})
    transport.measure(GOOD)


ALWAYS = (readings, danger, question)
PLANS: tuple[tuple[Callable[[Transport], None], ...], ...] = (
    (push, request),
    (infusion, kept),
    (arrest, too_much),
    (request, given_up),
    (asked_back, moved),
    (silent, by_voice),
    (push, given_up, kept),
    (infusion, question),
    (request, too_much),
    (arrest, asked_back),
    (kept, by_voice, moved),
    (silent, push),
)
