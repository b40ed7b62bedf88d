"""What can be entered again and again in one case, each act once a minute: for the growth run and the test of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from tests.bench.growing_orders import cosigned, learned, misread
from tests.conftest import Consult, with_a_user
from tests.copying import replace

Act = Callable[[Consult, datetime, int], None]
PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"
PRESSURES = ((118, 76), (84, 50), (84, 48), (62, 30))  # at goal, below it twice, critical


def _set(consult: Consult, at: datetime, number: int) -> None:
    sbp, dbp = PRESSURES[number % len(PRESSURES)]
    consult.vitals(at=at, sbp=sbp, dbp=dbp, hr=120, rr=24, spo2=94, etco2=30, lungs="clear", oxygen_l_min=10)


def _push(consult: Consult, at: datetime, number: int) -> None:
    consult.give(PUSH, 30, "mcg", at=at)


def _late_push(consult: Consult, at: datetime, number: int) -> None:
    """Told after the doses that followed it, which are judged anew."""
    consult.give(PUSH, 10, "mcg", at=at - timedelta(seconds=50), now=at)


def _bolus(consult: Consult, at: datetime, number: int) -> None:
    given = consult.give("crystalloid-bolus", 100, "mL", at=at, status="running", over_min=5)
    _change(consult, at, given.resource.id, status="stopped", infused={"value": 50, "unit": "mL"})


def _change(consult: Consult, at: datetime, running: str, **what: Any) -> None:
    from consult.actions import interventions

    interventions.change_intervention(consult.cast.osk, UUID(running), {"id": uuid4(), "at": at, **what}, at)


def _rate(consult: Consult, at: datetime, number: int) -> None:
    """A new rate of the infusion that runs."""
    running = _drip(consult)
    if running is None:
        hung = {"concentration": {"value": 16, "unit": "mcg/mL"}, "container_ml": 250}
        consult.give(DRIP, 4, "mcg/min", at=at, status="running", **hung)
    else:
        _change(consult, at, running, amount={"value": 4 + number % 3, "unit": "mcg/min"})


def _drip(consult: Consult) -> str | None:
    """The infusion that runs."""
    running = (dose for dose in consult.card["running"] if (dose["treatment"], dose["status"]) == (DRIP, "running"))
    return next((dose["id"] for dose in running), None)


def held(consult: Consult, at: datetime, number: int) -> None:
    """The infusion that runs is held, and runs again."""
    running = _drip(consult)
    if running is None:
        _rate(consult, at, number)
        return
    _change(consult, at, running, status="held")
    _change(consult, at + timedelta(seconds=20), running, status="running")


def stepped(consult: Consult, at: datetime, number: int) -> None:
    """The crew may step up what runs: ordered, read back, one step, withdrawn."""
    from consult.actions import orders, read_back

    runs, rate = _drip(consult), {"value": 8, "unit": "mcg/min"}
    if runs is None:
        _rate(consult, at, number)
        return
    _change(consult, at, runs, amount=rate)  # whatever rate it had, the steps lead up from this one
    steps = {"step": {"value": 2, "unit": "mcg/min"}, "every_min": 3, "most": {"value": 12, "unit": "mcg/min"}}
    whole: dict[str, Any] = {"treatment": DRIP, "action": "change", "amount": rate}
    whole["titrate"] = {**steps, "goal": {"measure": "map", "floor": 65}}
    ordered = {"id": uuid4(), "at": at, "reason": "as agreed", "intervention": UUID(runs), **whole}
    placed = UUID(orders.request_order(consult.cast.merrin, consult.uid, ordered, at).resource.id)
    read_back.read_back(consult.cast.osk, placed, {"id": uuid4(), **whole}, at)
    _change(consult, at, runs, amount=rate, order=placed)
    orders.withdraw(consult.cast.merrin, placed, {"id": uuid4(), "reason": "pressure at goal"}, at)


def _pressed(consult: Consult, at: datetime, number: int) -> None:
    """The pressure that a running pressor asks for: the next one is due from then on."""
    if not consult.card["running"]:
        _rate(consult, at, number)
    consult.vitals(at=at, sbp=96, dbp=60)


def _syringe(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import containers

    strength, volume = {"value": 10, "unit": "mcg/mL"}, {"value": 10, "unit": "mL"}
    mixed = {"form": "syringe", "treatment": PUSH, "strength": strength, "volume": volume}
    containers.record_container(consult.cast.osk, consult.uid, {"id": uuid4(), "at": at, **mixed}, at)


def _discard(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import containers

    _syringe(consult, at, number)
    held = consult.card["in_hand"][-1]["id"]
    containers.discard(consult.cast.osk, UUID(held), {"id": uuid4(), "at": at}, at)


def _access(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import notes

    done = {"procedure": "iv_access", "at": at, "outcome": "done", "gauge": 18, "site": "left forearm"}
    notes.add_procedure(consult.cast.osk, consult.uid, {"id": uuid4(), **done}, at)


def _request(consult: Consult, at: datetime, number: int) -> None:
    """A request that waits, seen by a physician; the one before it is taken back."""
    from consult.actions import looks, orders

    for before in [each for each in consult.card["orders"] if each["state"] == "requested"]:
        taken_back = {"id": uuid4(), "reason": "asked anew"}
        orders.withdraw(consult.cast.osk, UUID(before["id"]), taken_back, at)
    consult.ask(at=at)
    in_person = replace(consult.cast.merrin, user_id=uuid4())
    looks.note_look(in_person, consult.row, "card", at)


def _ask_back(consult: Consult, at: datetime, number: int) -> None:
    """A physician asks back about a request, hears the answer, then declines it."""
    from consult.actions import orders

    asked = UUID(consult.ask(at=at).resource.id)
    orders.decide(consult.cast.merrin, asked, {"id": uuid4(), "decision": "ask", "text": "Which line?"}, at)
    orders.answer(consult.cast.osk, asked, {"id": uuid4(), "text": "18 G, left forearm"}, at)
    declined = {"id": uuid4(), "decision": "decline", "reason": "pressure at goal"}
    orders.decide(consult.cast.merrin, asked, declined, at)


def _ordered(consult: Consult, at: datetime, number: int) -> None:
    """Asked, approved, misread, read back, given."""
    from consult.actions import orders, read_back

    asked = UUID(consult.ask(at=at).resource.id)
    orders.decide(consult.cast.merrin, asked, {"id": uuid4(), "decision": "approve"}, at)
    for value in (300, 30):
        said = {"treatment": PUSH, "route": "IV", "amount": {"value": value, "unit": "mcg"}}
        read_back.read_back(consult.cast.osk, asked, {"id": uuid4(), **said}, at)
    consult.give(PUSH, 30, "mcg", at=at, order=asked)


def _by_voice(consult: Consult, at: datetime, number: int) -> None:
    """A dose ordered by voice, countersigned or denied."""
    from consult.actions import interventions

    by = {"physician": with_a_user(consult.cast.merrin), "at": at}
    given = UUID(consult.give(PUSH, 30, "mcg", at=at, voice_order=by).resource.id)
    said = {"agreed": False, "reason": "not mine"} if number % 2 else {}
    interventions.countersign(consult.cast.merrin, given, {"id": uuid4(), **said}, at)


def _note(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import corrections, notes

    note = uuid4()
    notes.add_note(consult.cast.osk, consult.uid, {"id": note, "at": at, "text": "Skin cool to the knees."}, at)
    wrong = {"target": {"kind": "note", "id": note}, "reason": "other patient"}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), **wrong}, at)


def _known(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import cases

    cases.patch_case(consult.cast.osk, consult.uid, {"destination": f"Harbor General, bay {number % 10}"}, at)
    goal = {"measure": "map", "floor": 65 + number % 2, "reason": "as agreed"}
    cases.set_goal(consult.cast.merrin, consult.uid, goal, at)


def _phase(consult: Consult, at: datetime, number: int) -> None:
    """An arrest, a pulse again, and the arrest taken back."""
    from consult.actions import corrections, notes

    arrest = uuid4()
    for entry, phase, later in ((arrest, "arrest", 0), (uuid4(), "pulse_back", 1)):
        when = at + timedelta(seconds=later)
        notes.change_phase(consult.cast.osk, consult.uid, {"id": entry, "at": when, "phase": phase}, when)
    wrong = {"target": {"kind": "phase", "id": arrest}, "reason": "there was a pulse"}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), **wrong}, at + timedelta(seconds=2))


def _arrest(consult: Consult, at: datetime, number: int) -> None:
    """An arrest with compressions, a shock taken back and another, and the pulse back."""
    from consult.actions import corrections, notes

    def told(act: Callable[..., Any], **what: Any) -> Any:
        return act(consult.cast.osk, consult.uid, {"id": uuid4(), "at": at, **what}, at)

    arrest = told(notes.change_phase, phase="arrest")
    told(notes.add_procedure, procedure="cpr")
    shocks = [told(notes.add_procedure, procedure="defibrillation", settings={"joules": 200}) for _ in range(2)]
    consult.give("epinephrine-arrest", 1, "mg", at=at)
    back = told(notes.change_phase, phase="pulse_back")
    for kind, wrong in (("procedure", shocks[0]), ("phase", back), ("phase", arrest)):
        target = {"kind": kind, "id": UUID(wrong.resource.id)}
        corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "twice"}, at)


def _no_coverage(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import cases

    until = at + timedelta(minutes=5 + number % 20)
    cases.announce_coverage(consult.cast.osk, consult.uid, {"id": uuid4(), "at": at, "until": until}, at)


def _acknowledge(consult: Consult, at: datetime, number: int) -> None:
    """A dose beyond the limits, its alert acknowledged by name, and the reading after it."""
    from consult.actions import alerts

    consult.give(PUSH, 40, "mcg", at=at)
    raised = consult.card["alerts"][-1]["id"]
    alerts.acknowledge(consult.cast.merrin, UUID(raised), {"id": uuid4(), "note": "spoken to"}, at)
    consult.vitals(at=at + timedelta(minutes=1), sbp=84, dbp=50, hr=110)


def _question(consult: Consult, at: datetime, number: int) -> None:
    """Asked, seen, answered, understood, done; a second one withdrawn."""
    from consult.actions import looks, questions

    crew, physician = consult.cast.osk, consult.cast.merrin
    form = {"capacity": "yes", "risks_told": True, "witness": "her son", "who_refuses": "patient"}
    asked, answer, moot = uuid4(), uuid4(), uuid4()
    refusal = {"topic": "refusal", "text": "Wants to stay at home.", "form": form}
    questions.ask(crew, consult.uid, {"id": asked, "at": at, **refusal}, at)
    looks.note_look(replace(physician, user_id=uuid4()), consult.row, "card", at)
    said = {"text": "Agreed.", "question": asked, "decision": "agreed"}
    questions.instruct(physician, consult.uid, {"id": answer, "at": at, **said}, at)
    for step in (questions.understood, questions.done):
        step(crew, answer, {"id": uuid4(), "at": at}, at)
    questions.ask(crew, consult.uid, {"id": moot, "at": at, "topic": "advice", "text": "Cool him?"}, at)
    questions.withdraw_question(crew, moot, {"id": uuid4(), "reason": "arrived"}, at)


def _instruction(consult: Consult, at: datetime, number: int) -> None:
    """Two instructions: one that cannot be done, one withdrawn; and a new destination that the crew has seen."""
    from consult.actions import cases, questions

    crew, physician = consult.cast.osk, consult.cast.merrin
    first, second, place = uuid4(), uuid4(), f"Tor Clinic, bay {number % 10}"
    for each in (first, second):
        questions.instruct(physician, consult.uid, {"id": each, "at": at, "text": "Sit him up."}, at)
    questions.understood(crew, first, {"id": uuid4(), "at": at}, at)
    questions.unable(crew, first, {"id": uuid4(), "at": at, "reason": "on a board"}, at)
    questions.withdraw_instruction(physician, second, {"id": uuid4(), "reason": "turned"}, at)
    cases.patch_case(physician, consult.uid, {"destination": place}, at)
    cases.patch_case(crew, consult.uid, {"destination_seen": place}, at)


def _time(consult: Consult, at: datetime, number: int) -> None:
    """What time alone brings: overdue, escalated, expired."""
    from consult.actions import alerts

    consult.give(PUSH, 10, "mcg", at=at)
    alerts.sweep(at)


def _control(consult: Consult, at: datetime, number: int) -> None:
    from consult.actions import cases

    taker = (consult.cast.merrin, consult.cast.quillan)[number % 2]
    cases.accept(taker, consult.uid, {"take_over": True}, at)


def _released(consult: Consult, at: datetime, number: int) -> None:
    """Control taken and given up again."""
    from consult.actions import cases

    cases.accept(consult.cast.merrin, consult.uid, {"take_over": True}, at)
    cases.release(consult.cast.merrin, consult.uid, {"id": uuid4(), "reason": "in the resuscitation room"}, at)


def _handed_on(consult: Consult, at: datetime, number: int) -> None:
    """Offered to a colleague at the change of shift, kept, offered again, accepted."""
    from consult.actions import cases, handovers
    from consult.models import Membership, User

    account, _ = User.objects.get_or_create(username="quillan", defaults={"first_name": "Dr.", "last_name": "Quillan"})
    Membership.objects.filter(pk=consult.cast.quillan.membership).update(user=account)
    offered = {"to": "quillan", "cases": [consult.uid], "note": "waits for blood"}
    cases.accept(consult.cast.merrin, consult.uid, {"take_over": True}, at)
    handovers.offer(consult.cast.merrin, {"id": uuid4(), **offered}, at)
    cases.accept(consult.cast.merrin, consult.uid, {}, at)
    again = handovers.offer(consult.cast.merrin, {"id": uuid4(), **offered}, at)
    handovers.accept(consult.cast.quillan, UUID(again.resource.id), {"cases": [consult.uid]}, at)


def _moved(consult: Consult, at: datetime, number: int) -> None:
    """To the other unit, whose crew writes, and back."""
    from consult.actions import cases, notes

    for unit, second in ((consult.cast.lund.unit, 0), (consult.cast.osk.unit, 1)):
        when = at + timedelta(seconds=second)
        cases.move(consult.cast.merrin, consult.uid, {"id": uuid4(), "unit": unit, "at": when}, when)
        if unit == consult.cast.lund.unit:
            notes.add_note(consult.cast.lund, consult.uid, {"id": uuid4(), "at": when, "text": "on board"}, when)


def _ended(consult: Consult, at: datetime, number: int) -> None:
    """Handed over or closed, looked back at, put on the board again."""
    from consult.actions import cases, notes

    if number % 2:
        cases.handover(consult.cast.osk, consult.uid, {"to": "Harbor General", "at": at}, at)
    else:
        cases.close(consult.cast.osk, consult.uid, {"outcome": "cancelled", "at": at}, at)
    notes.add_review(
        consult.cast.averill, consult.uid, {"id": uuid4(), "text": "Pump late.", "outcome": "learning"}, at
    )
    cases.reopen(consult.cast.merrin, consult.uid, {"reason": "turned back"}, at)


def _rules(consult: Consult, at: datetime, number: int) -> None:
    """Another rule set for the agency, and so for the case."""
    from consult.actions import rule_sets
    from dosing.load import reader

    rules = reader.load_shipped(("conservative", "demonstration")[number % 2])
    rule_sets.adopt(consult.cast.sorrel, rules, at, reason="yearly review", by_way_of="command")


def _rebuilt(consult: Consult, at: datetime, number: int) -> None:
    """The card made anew by other code than before."""
    import msgspec

    from consult.actions import cards
    from consult.models import Case

    older = msgspec.json.encode({**consult.card, "map_slope": -99.0}).decode()
    Case.objects.filter(uid=consult.uid).update(card=older)
    cards.rebuild_card(consult.row.pk, at)


ACTS: dict[str, Act] = {
    "vitals": _set,
    "push": _push,
    "push, told late": _late_push,
    "bolus, stopped": _bolus,
    "new rate": _rate,
    "held, runs again": held,
    "stepped up by order": stepped,
    "pressure while a pressor runs": _pressed,
    "syringe": _syringe,
    "syringe, discarded": _discard,
    "IV access": _access,
    "request, seen": _request,
    "asked back": _ask_back,
    "order, read back, given": _ordered,
    "order per kg, misread, set back": misread,
    "order, co-signed, withdrawn": cosigned,
    "allergy recorded, order decided again": learned,
    "dose by voice, countersigned": _by_voice,
    "note, corrected": _note,
    "patch and goal": _known,
    "phase, corrected": _phase,
    "arrest, pulse back": _arrest,
    "no coverage": _no_coverage,
    "dose, acknowledged": _acknowledge,
    "dose, time passes": _time,
    "question": _question,
    "instruction, destination": _instruction,
    "control taken over": _control,
    "control given up": _released,
    "handed on to a colleague": _handed_on,
    "moved to another unit and back": _moved,
    "card rebuilt": _rebuilt,
}
# These end the case or judge it anew, and so shorten its lists: they want a case of their own.
ENDING: dict[str, Act] = {"ended and reopened": _ended, "rule set": _rules}
