"""Who has control of a case: whoever decides where nobody has it; a colleague's decision leaves it where it is."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import cards, cases, orders
from consult.render import card_html
from tests.conftest import NOON, Consult
from tests.screens.page_text import read

DECISIONS = {
    "approve": {},
    "change": {"amount": {"value": 25, "unit": "mcg"}, "reason": "start lower"},
    "ask": {"text": "Lungs?"},
    "decline": {"reason": "fluid first"},
}


def decide(consult: Consult, decision: str = "approve", by: str = "merrin", uid: UUID | None = None) -> UUID:
    asked, uid = UUID(consult.ask(30).resource.id), uid or uuid4()
    data = {"id": uid, "decision": decision, **DECISIONS[decision]}
    for _ in range(2):  # sent twice, as by a page that had no answer
        orders.decide(getattr(consult.cast, by), asked, data, NOON)
    return uid


def shown(consult: Consult) -> Any:
    return read(card_html(consult.card)).one("article")


@pytest.mark.parametrize("decision", DECISIONS)
def test_a_decision_takes_control_of_a_case_that_nobody_has(consult: Consult, decision: str):
    decide(consult, decision)

    assert consult.card["physician"] == {"id": str(consult.cast.merrin.membership), "name": "Dr. Merrin"}
    assert consult.row.physician_id == consult.cast.merrin.membership
    assert consult.kinds[-2:] == ["order.decided", "case.accepted"]
    accepted = consult.journal[-1]
    assert (accepted["by"]["name"], accepted["data"]["physician"]) == ("Dr. Merrin", "Dr. Merrin")
    assert not cards.differs(consult.row)


def test_an_order_of_ones_own_takes_it_too(consult: Consult):
    consult.ask(10, by=consult.cast.merrin)

    assert consult.kinds[-2:] == ["order.placed", "case.accepted"]
    assert shown(consult).one("who-by").text == "Dr. Merrin"
    assert shown(consult).every("accept") == []


def test_a_request_of_the_crew_leaves_it_with_nobody(consult: Consult):
    consult.ask(30)

    assert consult.card["physician"] is None


def test_a_colleague_who_decides_leaves_it_and_the_card_names_both(consult: Consult):
    cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4()}, NOON)
    decide(consult)

    assert consult.kinds.count("case.accepted") == 1
    assert shown(consult).one("who-by").text == "Dr. Quillan"
    (order,) = consult.card["orders"]
    assert order["decided_by"] == "Dr. Merrin"
    head = shown(consult).one("ask-head")
    assert "by Dr. Merrin" in head.text
    assert all("Merrin" not in hidden.text for hidden in head.every("ask-for")), "named on the dense board, too"
