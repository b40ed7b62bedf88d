"""Decisions are tried without a database: what is known and asked in, events out."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any, NoReturn, TypeVar
from uuid import uuid4

import msgspec
import pytest

from consult import events, problems
from consult.case import entries
from consult.case.decide import cases, interventions, order_book, orders, read_back, vitals
from consult.case.decide.asked import Asked, Decided, Known
from consult.case.fold.apply import apply
from consult.case.fold.entry import Entry
from consult.state.case import CaseState
from consult.state.parts import Author, Order, RulesInForce, Said, UnitNamed
from dosing.ground.facts import Age, Amount, Patient, Weight
from dosing.load.reader import load_shipped
from tests.conftest import NOON, later
from tests.copying import replace

RULES = load_shipped("demonstration")
OSK, MERRIN, QUILLAN = (
    Author("1", "J. Osk", "crew"),
    Author("2", "Dr. Merrin", "physician"),
    Author("3", "Dr. Quillan", "physician"),
)
Content = TypeVar("Content", bound=msgspec.Struct)


class Nothing:
    """A past in which a decision that needs none must not look."""

    def __getattr__(self, name: str) -> NoReturn:
        raise AssertionError(f"looked into the past: {name}")


def opened() -> CaseState:
    """A man of 58 and 80 kg, twenty minutes before noon."""
    event = events.CaseOpened(
        id=str(uuid4()),
        content=msgspec.Raw(b"{}"),
        unit=UnitNamed("k2", "Kestrel 2"),
        judged=events.Judged(record=str(uuid4()), rule_set=RulesInForce(**RULES.label, approved=False)),
        opened_at=later(minutes=-20),
        patient=Patient(age=Age(58, "years"), weight=Weight(80), sex="male"),
        complaint="weak, pale",
        impression="septic",
        destination="",
        incident="",
        eta=None,
    )
    return apply(None, Entry(event, later(minutes=-20), NOON, OSK))


class Story:
    """One case in memory: each decision is folded at once."""

    def __init__(self) -> None:
        self.state = opened()

    def known(self) -> Known:
        return Known(self.state, RULES, Nothing())

    def asked(self, content: Content, by: Author, at: datetime) -> Asked[Content]:
        return Asked(content, msgspec.Raw(msgspec.json.encode(content)), str(uuid4()), by, at, at)

    def take(self, decided: Decided, by: Author, at: datetime) -> Decided:
        for event in decided.events:
            self.state = apply(self.state, Entry(event, at, at, by))
        return decided

    def pressure(self, sbp: int, dbp: int, at: datetime = NOON) -> Decided:
        asked = self.asked(vitals.VitalsEntry(taken_at=at, sbp=sbp, dbp=dbp), OSK, at)
        return self.take(vitals.record_vitals(self.known(), asked), OSK, at)

    def push(self, mcg: float, at: datetime = NOON, **more: Any) -> Decided:
        dose = entries.DoseEntry(
            treatment="epinephrine-push-dose", amount=Amount(mcg, "mcg"), route="IV", given_at=at, **more
        )
        return self.take(interventions.record_intervention(self.known(), self.asked(dose, OSK, at)), OSK, at)

    def request(self, amount: Amount, at: datetime = NOON, by: Author = OSK) -> Order:
        entry = entries.OrderEntry(treatment="epinephrine-push-dose", amount=amount, route="IV", reason="no response")
        self.take(orders.request_order(self.known(), self.asked(entry, by, at)), by, at)
        return self.state.orders[-1]

    def decide(self, order: Order, by: Author, at: datetime = NOON, **what: Any) -> Decided:
        asked = self.asked(entries.DecisionEntry(**what), by, at)
        return self.take(orders.decide(self.known(), asked, order), by, at)


@pytest.fixture
def story() -> Story:
    story = Story()
    story.pressure(84, 44)
    return story


def test_a_set_says_what_follows_from_it(story: Story) -> None:
    """(84 + 2 × 44) ÷ 3 = 57.3 (the usual estimate; reference/clinical values)."""
    (event,) = story.pressure(84, 44).events
    assert isinstance(event, events.VitalsRecorded)
    assert event.derived.map == pytest.approx(57.33)
    assert story.state.pressure is not None
    assert story.state.pressure.map == event.derived.map


def test_a_dose_asks_for_its_reading_and_one_beyond_the_limits_raises_its_alarm(story: Story) -> None:
    within, beyond = story.push(10), story.push(40, later(minutes=4))

    assert (within.happened, [cause.kind for cause in beyond.happened]) == ([], ["dose_outside_limits"])
    assert story.state.flagged == (story.state.doses[-1].id,)
    assert [asked.intervention for asked in story.state.reassessments] == [dose.id for dose in story.state.doses]


def test_the_whole_loop_ends_with_the_dose_that_was_ordered(story: Story) -> None:
    order = story.request(Amount(30, "mcg"))
    decided = story.decide(order, MERRIN, decision="approve")
    assert [event.kind for event in decided.events] == ["order.decided", "case.accepted"]
    assert story.state.physician is not None

    said = Said(treatment=order.treatment, route="IV", amount=Amount(0.03, "mg"))
    repeated = read_back.read_back(story.known(), story.asked(said, OSK, NOON), story.state.orders[0])
    story.take(repeated, OSK, NOON)
    assert story.state.orders[0].state == "read_back"

    given = story.push(30, later(minutes=1), order=order.id)
    assert story.state.orders == ()
    assert given.happened == []
    (event,) = given.events
    assert isinstance(event, events.InterventionRecorded)
    assert event.became is not None
    assert (event.became.state, event.became.given) == ("given", 1)


def test_of_two_physicians_one_wins(story: Story) -> None:
    order = story.request(Amount(30, "mcg"))
    story.decide(order, MERRIN, decision="approve")

    with pytest.raises(problems.WrongState, match=r"approved by Dr\. Merrin"):
        story.decide(story.state.orders[0], QUILLAN, decision="decline", reason="wait")


def test_an_order_that_has_run_out_is_not_decided_before_the_sweep_says_so(story: Story) -> None:
    order = replace(story.request(Amount(30, "mcg")), expires_at=NOON)
    with pytest.raises(problems.WrongState, match="expired at 12:00:00 UTC"):
        story.decide(order, MERRIN, later(seconds=1), decision="approve")


@pytest.mark.parametrize(
    ("unit", "kg", "is_read_back", "stands"),
    [
        ("mcg/kg", 60, False, None),
        ("mcg/kg", 60, True, "approved"),
        ("mcg/kg", 400, True, "requested"),
        ("mcg/kg", 400, False, None),
        ("mcg", 60, False, "approved"),
        ("mcg", 60, True, "read_back"),
    ],
)
def test_what_a_new_weight_makes_of_an_order(
    story: Story, unit: str, kg: float, is_read_back: bool, stands: str | None
) -> None:
    """Contract, "Cases": approved per kg and not read back is voided. By arithmetic 0.3 mcg/kg of 60 kg are 18 mcg."""
    amount = Amount(0.3, unit) if unit == "mcg/kg" else Amount(30, unit)
    order = story.request(amount)
    story.decide(order, MERRIN, decision="approve", reason="for now")
    if is_read_back:
        said = Said(treatment=order.treatment, route="IV", amount=amount)
        story.take(read_back.read_back(story.known(), story.asked(said, OSK, NOON), story.state.orders[0]), OSK, NOON)
    weighed = entries.CaseChangeEntry(patient=entries.PatientPart(weight=Weight(kg)))
    at = later(minutes=2)
    story.take(cases.patch(story.known(), story.asked(weighed, OSK, at)), OSK, at)

    assert [order.state for order in story.state.orders] == ([stands] if stands else [])
    if stands == "approved" and unit == "mcg/kg":
        (order,) = story.state.orders
        assert (order.read_back_at, order.steps[-1].step) == (None, "set back")
        assert order.for_rules().to_read_back_from == at  # from when its read-back is waited for
        assert order.check is not None
        assert order.check.give is not None
        assert order.check.give.shown.startswith("18 mcg")
        told_late = order_book.as_it_stood(order, later(minutes=1))
        assert (told_late.state, order_book.as_it_stood(order, later(minutes=3)).state) == ("read_back", "approved")


def test_a_case_that_ends_takes_its_open_orders_with_it(story: Story) -> None:
    story.request(Amount(30, "mcg"))
    end = cases.handover(story.known(), story.asked(entries.HandoverEntry(to="Tamar Vale General"), OSK, NOON))
    story.take(end, OSK, NOON)

    assert [event.kind for event in end.events] == ["case.handed_over", "order.ended"]
    assert (story.state.state, story.state.orders) == ("handed_over", ())
    with pytest.raises(problems.WrongState, match="handed over at 12:00:00 UTC"):
        story.request(Amount(30, "mcg"), later(minutes=1))


def test_an_event_is_written_and_read_as_the_same(story: Story) -> None:
    (event,) = story.push(10, later(minutes=1)).events
    text = msgspec.json.encode(event)

    assert msgspec.json.decode(text, type=type(event)) == event
    assert json.loads(text)["content"]["treatment"] == "epinephrine-push-dose"
