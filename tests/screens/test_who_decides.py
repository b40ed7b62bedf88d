"""What deciding brings besides, said before the press, and who gave which reason: with whoever was asked or told."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest

from consult.actions import cases, orders
from consult.render import card_html
from tests.conftest import NOON, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.usefixtures("at_noon")

KEEPS = "Dr. Quillan has control and keeps it."
TAKES = "No physician has control: this takes it."
ORDERS = {"order", "order-other", "instruction"}


def panel_of(consult: Consult) -> Element:
    return read(card_html(consult.card)).one("ask")


def forms_that_say_so(page: Element, told: str = TAKES) -> set[str]:
    forms = [form for form in page.every("form") if "data-name" in form.attributes]
    return {str(form.attributes["data-name"]) for form in forms if told in form.text}


class TestNobodyHasControl:
    @pytest.mark.parametrize(
        "decision",
        [
            {"decision": "approve"},
            {"decision": "change", "amount": {"value": 20, "unit": "mcg"}, "reason": "half of it"},
            {"decision": "ask", "text": "Lungs?"},
            {"decision": "decline", "reason": "fluid first"},
        ],
        ids=lambda decision: decision["decision"],
    )
    def test_a_decision_says_that_it_takes_control_and_does(self, decision: dict[str, Any], consult: Consult):
        order = consult.ask().resource.id
        panel = panel_of(consult)
        approve = panel.one("ask-approve")

        assert approve.text == "Approve for Kestrel 2 and take control"
        assert (approve.attributes["aria-label"] or "").endswith(", and take control")
        assert forms_that_say_so(panel) == {"change", "ask", "decline"}
        orders.decide(consult.cast.merrin, order, {"id": uuid4(), **decision}, NOON)
        assert consult.card["physician"]["name"] == "Dr. Merrin"

    def test_so_does_each_order_on_the_case_page_and_nothing_that_leaves_control_alone(
        self, consult: Consult, signed_in: Sign
    ):
        page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)

        assert forms_that_say_so(page) == ORDERS

    def test_so_does_the_answer_to_a_question(self, consult: Consult):
        from consult.actions import questions

        asked = {"id": uuid4(), "at": NOON, "topic": "advice", "text": "Sit up or flat?"}
        questions.ask(consult.cast.osk, consult.uid, asked, NOON)

        assert forms_that_say_so(panel_of(consult)) == {"answer"}

    def test_once_somebody_has_it_nothing_takes_it(self, consult: Consult, signed_in: Sign):
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4()}, NOON)
        consult.ask()

        assert panel_of(consult).one("ask-approve").one("span").text == "Approve for Kestrel 2"
        assert not read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).every("takes-control")


class TestAColleagueHasControl:
    """A colleague's decision counts and leaves control where it is, so that is said; not to the one who has it."""

    def test_button_and_forms_say_who_keeps_it_and_he_does(self, consult: Consult):
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4()}, NOON)
        order = consult.ask().resource.id
        panel = panel_of(consult)

        assert panel.one("ask-approve").text == "Approve for Kestrel 2 Dr. Quillan keeps control"
        assert forms_that_say_so(panel, KEEPS) == {"change", "ask", "decline"}
        told = [each.attributes["data-but"] for each in panel.every("keeps-control")]
        assert set(told) == {str(consult.cast.quillan.membership)}, "hidden from whoever has it"
        orders.decide(consult.cast.merrin, order, {"id": uuid4(), "decision": "approve"}, NOON)
        assert consult.card["physician"]["name"] == "Dr. Quillan"

    def test_so_does_each_order_on_the_case_page(self, consult: Consult, signed_in: Sign):
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4()}, NOON)

        assert forms_that_say_so(read(signed_in("merrin").get(f"/cases/{consult.uid}/").text), KEEPS) == ORDERS


def test_each_reason_of_an_order_bears_the_name_of_who_gave_it(consult: Consult):
    order = consult.ask(reason="no response to fluid").resource.id
    assert f"{consult.cast.osk.name}: “no response to fluid”" in panel_of(consult).text

    changed = {"decision": "change", "amount": {"value": 20, "unit": "mcg"}, "reason": "half of it first"}
    orders.decide(consult.cast.merrin, order, {"id": uuid4(), **changed}, NOON)

    reasons = [each.text for each in panel_of(consult).every("ask-why")]
    assert reasons[0] == f"{consult.cast.osk.name}: “no response to fluid”"
    assert reasons[-1] == "Dr. Merrin: “half of it first”"


def test_the_reason_for_an_approval_is_told_too(consult: Consult):
    order = consult.ask().resource.id
    approved = {"id": uuid4(), "decision": "approve", "reason": "line is in"}
    orders.decide(consult.cast.quillan, order, approved, NOON)

    assert "Dr. Quillan: “line is in”" in panel_of(consult).text


def test_who_gives_control_up_reads_what_is_left_open(consult: Consult, signed_in: Sign):
    """An own order that is not read back yet has nobody then whom the crew reaches about it."""
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    (form,) = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).every("form", data_name="release")
    assert "Still open" not in form.text

    order = consult.ask(20).resource.id
    orders.decide(consult.cast.merrin, order, {"id": uuid4(), "decision": "approve"}, NOON)
    (form,) = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).every("form", data_name="release")

    assert "Still open, with nobody to answer: EPINEPHrine push dose 20 mcg IV" in form.text
