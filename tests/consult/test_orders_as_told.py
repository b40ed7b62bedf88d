"""What was asked beside what was ordered, and what was read back beside it: to whom it is told, and when it happened.

That a misheard order is told with both sides is how the trade repeats orders: common practice, no source.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import orders, read_back
from consult.clock import stamp
from consult.render.order_story import changed
from consult.render.orders import panel, said
from consult.rows.rows import plain
from consult.screens.crew_orders import order_page
from tests.conftest import NOON, Consult, later

PUSH = {"treatment": "epinephrine-push-dose", "route": "IV"}


def mcg(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg"}


@pytest.fixture
def asked(consult: Consult) -> UUID:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    return UUID(consult.ask(30).resource.id)


def decided(consult: Consult, asked: UUID, decision: str, **more: Any) -> dict[str, Any]:
    data = {"id": uuid4(), "decision": decision, **more}
    return plain(orders.decide(consult.cast.merrin, asked, data, NOON).resource)


def misread(consult: Consult, asked: UUID, minutes: float = 2) -> dict[str, Any]:
    decided(consult, asked, "approve")
    data = {"id": uuid4(), **PUSH, "amount": mcg(300)}
    return plain(read_back.read_back(consult.cast.osk, asked, data, later(minutes=minutes)).resource)


def test_a_changed_order_keeps_what_was_asked(consult: Consult, asked: UUID) -> None:
    order = decided(consult, asked, "change", amount=mcg(20), reason="start lower")

    assert order["shown"] == "EPINEPHrine push dose 20 mcg IV"
    assert order["asked_for"] == "EPINEPHrine push dose 30 mcg IV"
    facts = dict(order_page(order)["facts"])
    assert facts["You requested"] == "EPINEPHrine push dose 30 mcg IV"
    assert order_page(order)["says"] == ["Dr. Merrin says: start lower"]


DRIP = (
    "start norepinephrine infusion {rate} mcg/kg/min IV{of}, "
    "up by 0.05 mcg/kg/min every {every} min to MAP 65, most {most} mcg/kg/min, call at {call} mcg/kg/min"
)
ASKED = {"rate": 0.05, "of": "", "every": 3, "most": 0.3, "call": 0.25}


@pytest.mark.parametrize(
    ("ordered", "words"),
    [
        ({}, ""),
        ({"rate": 0.1}, "0.1, not 0.05 mcg/kg/min"),
        ({"call": 0.15}, "call at 0.15, not 0.25 mcg/kg/min"),
        ({"rate": 0.1, "most": 0.2}, "0.1, not 0.05 mcg/kg/min; most 0.2, not 0.3 mcg/kg/min"),
        ({"every": 5}, "every 5, not 3 min"),
        (
            {"every": 5, "rate": 0.1, "most": 0.2, "of": " of 16 mcg per mL"},
            "0.1, not 0.05 mcg/kg/min; now of 16 mcg per mL; every 5, not 3 min; and more",
        ),
        ({"of": " of 16 mcg per mL"}, "now of 16 mcg per mL"),
    ],
)
def test_of_a_changed_order_that_is_told_first_which_was_changed(ordered: dict[str, Any], words: str) -> None:
    told = {"shown": DRIP.format(**{**ASKED, **ordered}), "asked_for": DRIP.format(**ASKED)}

    assert changed({"title": "norepinephrine infusion", **told}) == words


def test_another_route_and_dose_are_told_as_what_they_were(consult: Consult, asked: UUID) -> None:
    order = decided(consult, asked, "change", amount=mcg(20), route="IO", reason="no vein")

    assert changed(order) == "20, not 30 mcg; IO, not IV"


def test_an_order_approved_as_it_was_asked_says_nothing_of_it_twice(consult: Consult, asked: UUID) -> None:
    order = decided(consult, asked, "approve", reason="agreed")

    assert order["asked_for"] is None
    page = order_page(order)
    assert "You requested" not in dict(page["facts"])
    assert page["says"] == ["Dr. Merrin says: agreed"]


def test_the_physician_reads_what_was_read_back_and_when(consult: Consult, asked: UUID) -> None:
    misread(consult, asked)

    (order,) = consult.card["orders"]
    assert panel(order)["misread"] == "epinephrine push dose 300 mcg IV"
    assert order["misread_at"] == stamp(later(minutes=2))
    (alert,) = [each for each in consult.card["alerts"] if each["kind"] == "readback_mismatch"]
    assert alert["raised_at"] == stamp(later(minutes=2))


def test_a_match_takes_the_difference_away(consult: Consult, asked: UUID) -> None:
    misread(consult, asked)
    data = {"id": uuid4(), **PUSH, "amount": mcg(30)}
    read_back.read_back(consult.cast.osk, asked, data, later(minutes=3))

    (order,) = consult.card["orders"]
    assert (panel(order)["misread"], order["misread_at"]) == ("", None)
    assert order["read_back_at"] == stamp(later(minutes=3))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({**PUSH, "amount": mcg(100)}, "epinephrine push dose 100 mcg IV"),
        (
            {**PUSH, "strength": {"value": 0.1, "unit": "mg/mL"}, "volume": {"value": 1, "unit": "mL"}},
            "epinephrine push dose 1 mL of 0.1 mg per mL IV",
        ),
        (
            {
                "treatment": "norepinephrine-infusion",
                "route": "IV",
                "concentration": {"value": 16, "unit": "mcg/mL"},
                "rate": {"value": 20, "unit": "mL/h"},
            },
            "norepinephrine infusion 20 mL/h of 16 mcg per mL IV",
        ),
        ({"treatment": "norepinephrine-infusion", "route": ""}, "norepinephrine infusion"),
    ],
    ids=["a dose", "a syringe in the hand", "a bag in the hand", "a stop"],
)
def test_what_was_said_is_told_as_it_was_said(content: dict[str, Any], words: str) -> None:
    assert said(content) == words
