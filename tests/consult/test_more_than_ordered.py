"""More than was ordered, or a rate below it, is told beside what was ordered: at the alert, on the timeline, as given.

Pump rates by the dopamine prescribing information: mL/h = mcg/kg/min x kg x 60 / (mcg/mL); 80 kg, 16 mcg/mL.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries
from consult.actions import interventions, orders, read_back
from consult.models import Case
from consult.render import dose_course
from consult.render.journal import timeline
from consult.render.treatments import ordered
from tests.conftest import NOON, Consult, later

DRIP = {"treatment": "norepinephrine-infusion", "route": "IV", "concentration": {"value": 16, "unit": "mcg/mL"}}
ORDERED = {"value": 0.05, "unit": "mcg/kg/min"}  # 15 mL/h
TOLD = "more than ordered: 0.05 mcg/kg/min"


@pytest.fixture
def order(consult: Consult) -> UUID:
    """The infusion, ordered and read back."""
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    content = {"id": uuid4(), "at": NOON, "reason": "as agreed", "action": "start", **DRIP, "amount": ORDERED}
    uid = UUID(orders.request_order(consult.cast.merrin, consult.uid, content, NOON).resource.id)
    read_back.read_back(consult.cast.osk, uid, {"id": uuid4(), **DRIP, "amount": ORDERED}, NOON)
    return uid


def start(consult: Consult, order: UUID, value: float, unit: str) -> UUID:
    strength = DRIP["concentration"]
    drip = consult.give(DRIP["treatment"], value, unit, status="running", concentration=strength, order=order)
    return UUID(drip.resource.id)


def new_rate(consult: Consult, running: UUID, value: float, unit: str) -> str:
    """What the timeline says of a new rate, 1 min later."""
    at = later(minutes=1)
    data: dict[str, Any] = {"id": uuid4(), "at": at, "amount": {"value": value, "unit": unit}}
    interventions.change_intervention(consult.cast.osk, running, data, at)
    lines = timeline(queries.journal(Case.objects.get(uid=consult.uid)))
    return str(next(line for line in lines if line["kind"] == "intervention.changed")["text"])


def running_now(consult: Consult) -> dict[str, Any]:
    return dict(consult.card["running"][0])


def test_a_pump_set_higher_than_ordered_is_told_with_its_dose_rate(consult: Consult, order: UUID) -> None:
    """20 mL/h x 16 / 60 / 80 = 0.0667 mcg/kg/min."""
    told = new_rate(consult, start(consult, order, 0.05, "mcg/kg/min"), 20, "mL/h")

    assert "0.0667 mcg/kg/min = 20 mL/h of 16 mcg per mL" in told
    (alert,) = [each for each in consult.card["alerts"] if each["kind"] == "dose_outside_limits"]
    for text in (told, running_now(consult)["shown"], alert["text"]):
        assert TOLD in text
    assert running_now(consult)["not_as_ordered"] == ORDERED


def test_a_start_that_is_higher_is_told_too_until_the_rate_is_as_ordered(consult: Consult, order: UUID) -> None:
    running = start(consult, order, 20, "mL/h")
    assert TOLD in running_now(consult)["shown"]

    assert TOLD not in new_rate(consult, running, 15, "mL/h")
    assert running_now(consult)["not_as_ordered"] is None


@pytest.mark.parametrize(
    ("value", "unit", "more"), [(15.1, "mL/h", False), (15.2, "mL/h", True), (4, "mcg/min", False)]
)
def test_a_pump_sets_steps_so_a_hundredth_is_not_more(
    consult: Consult, order: UUID, value: float, unit: str, more: bool
) -> None:
    assert (TOLD in new_rate(consult, start(consult, order, 0.05, "mcg/kg/min"), value, unit)) is more


def test_without_an_order_nothing_is_more(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    drip = consult.give(DRIP["treatment"], 0.05, "mcg/kg/min", status="running", concentration=DRIP["concentration"])
    assert "more than" not in new_rate(consult, UUID(drip.resource.id), 20, "mL/h")


LOWER = "not as ordered: 0.05 mcg/kg/min"


def test_a_lower_rate_than_ordered_is_told_on_card_timeline_and_handover(consult: Consult, order: UUID) -> None:
    told = new_rate(consult, start(consult, order, 0.05, "mcg/kg/min"), 0.04, "mcg/kg/min")

    (card_line,) = [str(each["shown"]) for each in consult.card["running"]]
    handed_over = str(dose_course.told(consult.card, consult.card["running"][0]))
    for text in (told, card_line, handed_over):
        assert LOWER in text
    assert (running_now(consult)["not_as_ordered"], ordered(running_now(consult))) == (ORDERED, "started by order")


@pytest.mark.parametrize(("value", "unit", "less"), [(14.9, "mL/h", False), (14.8, "mL/h", True), (3, "mcg/min", True)])
def test_a_hundredth_is_not_less_either(consult: Consult, order: UUID, value: float, unit: str, less: bool) -> None:
    start(consult, order, value, unit)

    assert (LOWER in running_now(consult)["shown"]) is less


def test_a_lower_rate_is_within_an_order_with_steps(consult: Consult) -> None:
    """Its physician said how far up, and each rate below that is one of its own."""
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    steps = {
        "step": ORDERED,
        "every_min": 3,
        "most": {**ORDERED, "value": 0.15},
        "goal": {"measure": "map", "floor": 65},
    }
    said = {"id": uuid4(), **DRIP, "amount": ORDERED, "titrate": steps}
    asked = {**said, "at": NOON, "reason": "as agreed", "action": "start"}
    uid = UUID(orders.request_order(consult.cast.merrin, consult.uid, asked, NOON).resource.id)
    read_back.read_back(consult.cast.osk, uid, {**said, "id": uuid4()}, NOON)

    assert "ordered" not in new_rate(consult, start(consult, uid, 0.05, "mcg/kg/min"), 0.04, "mcg/kg/min")
