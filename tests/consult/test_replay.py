"""Replay equals truth: folding the journal gives state, card and rows, and what was seen at any moment."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import msgspec
import pytest

from consult import problems, queries
from consult.actions import (
    accounts,
    alerts,
    batch,
    cards,
    cases,
    containers,
    corrections,
    interventions,
    notes,
    orders,
    questions,
    read_back,
    vitals,
)
from consult.case.decide import added_up
from consult.case.fold import alerted, treated
from consult.models import Case
from consult.state.case import CaseState
from tests import depth
from tests.bench import growing
from tests.conftest import Consult, later

Act = Callable[[Consult, Any, random.Random], None]


def _vitals(consult: Consult, at: Any, dice: random.Random) -> None:
    taken = at - timedelta(minutes=dice.choice([0, 0, 0, 1, 7]))
    values = {"sbp": dice.randint(60, 130), "dbp": dice.randint(25, 59), "hr": dice.randint(50, 150)}
    oxygen = {"spo2": 91, "oxygen_l_min": dice.choice([0, 2, 10, 10])}
    glucose = dice.choice([{"glucose_mmol_l": 3.1}, {"glucose_mmol_l": 5}, {"glucose_mg_dl": 110}])
    chosen = dice.choice([values, {"hr": 90, "lungs": "clear"}, {"sbp": 82, "bp_method": "palpated"}, oxygen, glucose])
    consult.vitals(at=taken, now=at, **chosen)


def _push(consult: Consult, at: Any, dice: random.Random) -> None:
    consult.give("epinephrine-push-dose", dice.choice([10, 20, 30]), "mcg", at=at)


def _bolus(consult: Consult, at: Any, dice: random.Random) -> None:
    running = consult.give("crystalloid-bolus", 500, "mL", at=at, status="running", over_min=15)
    if dice.random() < 0.5:
        done = {"id": uuid4(), "at": at, "status": "stopped", "infused": {"value": dice.choice([0, 200]), "unit": "mL"}}
        interventions.change_intervention(consult.cast.osk, UUID(running.resource.id), done, at)


def _infusion(consult: Consult, at: Any, dice: random.Random) -> None:
    strength, rate = {"value": 16, "unit": "mcg/mL"}, {"value": dice.choice([8, 40]), "unit": "mcg/min"}
    hung = {"concentration": strength, "container_ml": dice.choice([10, 250])}
    running = consult.give("norepinephrine-infusion", 4, "mcg/min", at=at, status="running", **hung)
    stronger = {"amount": rate, "concentration": {"value": 64, "unit": "mcg/mL"}}
    change = {"id": uuid4(), "at": at, **dice.choice([{"amount": rate}, stronger, {"status": "stopped"}])}
    interventions.change_intervention(consult.cast.osk, UUID(running.resource.id), change, at)


def _mix(consult: Consult, at: Any, dice: random.Random) -> None:
    mixed = at - timedelta(minutes=dice.choice([0, 0, 3]))
    syringe = {"form": "syringe", "treatment": "epinephrine-push-dose", "volume": {"value": 10, "unit": "mL"}}
    bag = {"form": "bag", "treatment": "norepinephrine-infusion", "volume": {"value": 250, "unit": "mL"}}
    gas = {"form": "cylinder", "cylinder": {"size": "D", "pressure": {"value": 1800, "unit": "psi"}}}
    made = dice.choice([{**syringe, "strength": {"value": 10, "unit": "mcg/mL"}}, gas, bag])
    made = {**made, "strength": {"value": 16, "unit": "mcg/mL"}} if made is bag else made
    containers.record_container(consult.cast.osk, consult.uid, {"id": uuid4(), "at": mixed, **made}, at)


def _discard(consult: Consult, at: Any, dice: random.Random) -> None:
    if consult.card["in_hand"]:
        held = UUID(dice.choice(consult.card["in_hand"])["id"])
        containers.discard(consult.cast.osk, held, {"id": uuid4(), "at": at}, at)


def _order(consult: Consult, at: Any, dice: random.Random) -> None:
    asked = UUID(consult.ask(30, at=at).resource.id)
    if dice.random() < 0.3:
        return
    orders.decide(consult.cast.merrin, asked, {"id": uuid4(), "decision": "approve"}, at)
    said = {
        "treatment": "epinephrine-push-dose",
        "route": "IV",
        "amount": {"value": dice.choice([30, 300]), "unit": "mcg"},
    }
    read_back.read_back(consult.cast.osk, asked, {"id": uuid4(), **said}, at)


def _correct(consult: Consult, at: Any, dice: random.Random) -> None:
    kinds = ("vitals.recorded", "intervention.recorded", "container.recorded")
    done = [line for line in consult.journal if line["kind"] in kinds]
    wrong = {UUID(line["data"]["target"]["id"]) for line in consult.journal if line["kind"] == "entry.corrected"}
    left = [line for line in done if UUID(line["data"]["id"]) not in wrong]
    if left:
        line = dice.choice(left)
        target = {"kind": line["kind"].split(".")[0], "id": UUID(line["data"]["id"])}
        corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "mistyped"}, at)


def _goal(consult: Consult, at: Any, dice: random.Random) -> None:
    goal = {"measure": dice.choice(["map", "sbp"]), "floor": dice.randint(60, 90), "reason": "head injury"}
    cases.set_goal(consult.cast.merrin, consult.uid, goal, at)


def _procedure(consult: Consult, at: Any, dice: random.Random) -> None:
    done = {"id": uuid4(), "procedure": "iv_access", "at": at, "outcome": "done", "gauge": 18}
    notes.add_procedure(consult.cast.osk, consult.uid, done, at)


def _coverage(consult: Consult, at: Any, dice: random.Random) -> None:
    until = at + timedelta(minutes=dice.randint(1, 30))
    cases.announce_coverage(consult.cast.osk, consult.uid, {"id": uuid4(), "at": at, "until": until}, at)


def _patch(consult: Consult, at: Any, dice: random.Random) -> None:
    weight = {"value": dice.randint(50, 110), "unit": "kg", "basis": "stated"}
    cases.patch_case(consult.cast.osk, consult.uid, {"patient": {"weight": weight}}, at)


def _time(consult: Consult, at: Any, dice: random.Random) -> None:
    alerts.sweep(at)


def _late(consult: Consult, at: Any, dice: random.Random) -> None:
    """A dose told after those that followed it, by a clock that may be off."""
    given, off = at - timedelta(minutes=dice.choice([1, 3, 8])), dice.choice([None, 400, -500])
    clock = {} if off is None else {"clock_offset_s": off}
    told = given - timedelta(seconds=off or 0)
    consult.give("epinephrine-push-dose", 10, "mcg", at=told, now=at, **clock)


def _batch(consult: Consult, at: Any, dice: random.Random) -> None:
    """What waited on a phone without a link: out of order, and one of it sent before."""
    sent = {"id": uuid4(), "taken_at": at - timedelta(minutes=4), "sbp": 78, "dbp": 40, "hr": 118}
    vitals.record_vitals(consult.cast.osk, consult.uid, sent, at)
    with batch.arriving(consult.cast.osk, at) as arrival:
        consult.give("epinephrine-push-dose", 10, "mcg", at=at - timedelta(minutes=2), now=at, arrival=arrival)
        vitals.record_vitals(consult.cast.osk, consult.uid, sent, at, arrival)
        consult.vitals(at=at - timedelta(minutes=dice.choice([1, 5])), now=at, arrival=arrival, sbp=96, dbp=50)


def _refused(consult: Consult, at: Any, dice: random.Random) -> None:
    """What is not accepted leaves nothing behind."""
    before = consult.row.folded
    with pytest.raises(problems.Problem):
        dice.choice([_nothing_ordered, _too_much])(consult, at)
    assert consult.row.folded == before


def _control(consult: Consult, at: Any, dice: random.Random) -> None:
    """Taken, over from whoever has it, and now and then given up."""
    who = dice.choice((consult.cast.merrin, consult.cast.quillan))
    cases.accept(who, consult.uid, {"take_over": True}, at)
    if dice.random() < 0.5:
        cases.release(who, consult.uid, {"id": uuid4(), "reason": "resting"}, at)


def _move(consult: Consult, at: Any, dice: random.Random) -> None:
    """Moved to another unit and at once back: the crew of the tests goes on."""
    for unit in (consult.cast.lund.unit, consult.cast.osk.unit):
        cases.move(consult.cast.merrin, consult.uid, {"id": uuid4(), "unit": unit, "at": at}, at)


def _nothing_ordered(consult: Consult, at: Any) -> None:
    consult.give("epinephrine-push-dose", 10, "mcg", at=at, order=uuid4())


def _too_much(consult: Consult, at: Any) -> None:
    consult.ask(5000, at=at, by=consult.cast.merrin)


def _held(consult: Consult, at: Any, dice: random.Random) -> None:
    growing.held(consult, at, dice.randint(0, 9))


def _stepped(consult: Consult, at: Any, dice: random.Random) -> None:
    growing.stepped(consult, at, dice.randint(0, 9))


def _learned(consult: Consult, at: Any, dice: random.Random) -> None:
    growing.learned(consult, at, dice.randint(0, 9))


def _consulted(consult: Consult, at: Any, dice: random.Random) -> None:
    """Asked, answered or told unasked, a step on, withdrawn; and where to go, set by either side."""
    crew, physician, card = consult.cast.osk, consult.cast.merrin, consult.card
    asked = [UUID(each["id"]) for each in card["questions"]]
    told = [UUID(each["id"]) for each in card["instructions"]]
    if dice.random() < 0.5 or not (asked or told):
        put = {"id": uuid4(), "at": at, "topic": "advice", "text": "Cool him?"}
        questions.ask(crew, consult.uid, put, at)
    elif asked and dice.random() < 0.7:
        answer = {"id": uuid4(), "at": at, "text": "Yes.", "question": dice.choice(asked)}
        questions.instruct(physician, consult.uid, answer, at)
    elif told:
        first = card["instructions"][0]
        step = questions.understood if first["state"] == "given" else questions.done
        step(crew, told[0], {"id": uuid4(), "at": at}, at)
    else:
        questions.withdraw_question(crew, asked[0], {"id": uuid4(), "reason": "arrived"}, at)
    by = dice.choice([crew, physician])
    cases.patch_case(by, consult.uid, {"destination": dice.choice(["Tor Clinic", "Harrow Point"])}, at)


ACTS: list[Act] = [_vitals, _vitals, _vitals, _push, _push, _bolus, _order, _correct, _goal, _procedure, _patch, _time]
ACTS += [_infusion, _mix, _mix, _discard, _late, _batch, _refused, _coverage, _held, _stepped, _control, _move]
ACTS += [_consulted, _consulted, _learned]


@pytest.mark.parametrize("seed", range(200 if depth.NIGHT else 4))
def test_after_every_action_state_card_and_rows_are_what_the_journal_says(
    consult: Consult, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether all is kept one by one, or but five of each."""
    for module, name in ((added_up, "MOST_KEPT"), (treated, "MOST_OVERDUE"), (alerted, "MOST_ALERTS")):
        monkeypatch.setattr(module, name, 5 if seed % 2 else getattr(module, name))
    dice, seen = random.Random(seed), {}
    for minute in range(25):
        dice.choice(ACTS)(consult, later(minutes=minute), dice)
        row, card = consult.row, consult.card
        if depth.NIGHT or minute % 3 == seed % 3:  # what is wrong once stays wrong
            assert cards.faults(row) == []
        seen[card["seq"]] = card

    assert cards.faults(consult.row) == []
    for seq, card in seen.items():
        assert queries.card_at(consult.row, seq) == card


def test_what_is_spoilt_is_made_anew_from_the_journal(consult: Consult) -> None:
    """What a case keeps is spoilt on purpose; nothing of it may come back."""
    dice = random.Random(3)
    for minute, act in enumerate([_vitals, _push, _infusion, _infusion, _bolus, _correct, _push]):
        act(consult, later(minutes=minute), dice)
    kept, card = consult.row.folded, consult.card
    state = msgspec.json.decode(kept, type=CaseState)
    doses = tuple(msgspec.structs.replace(dose, verdict="within", shown="?", rates=()) for dose in state.doses)
    spoilt = msgspec.structs.replace(state, doses=doses, readings=(), latest={}, flagged=())
    Case.objects.filter(uid=consult.uid).update(folded=msgspec.json.encode(spoilt).decode())

    assert cards.rebuild_card(consult.row.pk, later(minutes=6))
    assert not cards.rebuild_card(consult.row.pk, later(minutes=6))
    again = msgspec.json.decode(consult.row.folded, type=CaseState)
    assert msgspec.structs.replace(again, seq=state.seq) == state
    assert {**consult.card, "seq": 0} == {**card, "seq": 0}


def test_that_a_unit_was_heard_of_is_no_difference(consult: Consult) -> None:
    """It is no entry: the case alone says so, until the next card."""
    consult.vitals(sbp=92, dbp=56)
    accounts.note_contact(consult.cast.osk.unit, later(minutes=1))

    assert consult.row.last_contact_at == later(minutes=1)
    assert cards.faults(consult.row) == []


def test_the_journal_has_every_number(consult: Consult) -> None:
    dice = random.Random(7)
    for minute in range(15):
        dice.choice(ACTS)(consult, later(minutes=minute), dice)

    assert [line["seq"] for line in consult.journal] == list(range(1, consult.row.seq + 1))


def test_before_the_first_and_after_the_last_there_is_nothing(consult: Consult) -> None:
    assert queries.card_at(consult.row, 0) is None
    assert queries.card_at(consult.row, consult.row.seq + 1) is None
