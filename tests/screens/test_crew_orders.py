"""The crew's side of the loop: limits shown, not advised; orders told step by step; read-back with nothing to copy."""

from __future__ import annotations

import json
import re
from typing import Any
from uuid import uuid4

import pytest

from consult import queries
from consult.actions import alerts, orders, read_back
from consult.screens import crew_dose_form, crew_treatments
from dosing.ground.facts import Amount
from tests.conftest import NOON, Consult, child, later, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read
from tests.screens.test_crew import ordered

pytestmark = pytest.mark.django_db

INFUSION = {
    "treatment": "norepinephrine-infusion",
    "amount": {"value": 8, "unit": "mcg/min"},
    "concentration": {"value": 16, "unit": "mcg/mL"},
    "action": "start",
}
RIGHT = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": {"value": 30, "unit": "mcg"}}


def page_of(signed_in: Sign, consult: Consult, path: str) -> Any:
    return read(signed_in("osk").get(f"/crew/{consult.uid}/{path}").text)


def chosen_on(page: Any) -> set[str]:
    return {each.attributes["value"] for each in page.every("input") if "checked" in each.attributes}


class TestDoseChoices:
    # What is offered, with volumes and sources, stands in tests/dosing/test_usual.py.
    def test_each_amount_stands_beside_its_volume(self, consult: Consult, signed_in: Sign):
        page = page_of(signed_in, consult, "give/epinephrine-push-dose/")

        assert [pick.text for pick in page.every("pick") if pick.every("input", name="dose")] == [
            "10 mcg 1 mL",
            "20 mcg 2 mL",
            "Other",
        ]

    def test_a_childs_bolus_is_offered_per_kg(self, cast: Any, signed_in: Sign):
        small = open_consult(cast, child(5, 18))

        page = page_of(signed_in, small, "give/crystalloid-bolus/")

        picks = [pick.text for pick in page.every("pick") if pick.every("input", name="dose")]
        assert picks[:3] == ["180 mL 10 mL/kg", "360 mL 20 mL/kg", "540 mL 30 mL/kg above the usual"]
        assert "adults" not in page.one("main").text

    def test_a_pump_rate_waits_for_the_strength_in_hand(self, consult: Consult, signed_in: Sign):
        page = page_of(signed_in, consult, "give/norepinephrine-infusion/")

        told = [each.attributes.get("data-volumes") for each in page.every("small")]
        rates = [json.loads(volumes) for volumes in told if volumes]
        # 80 kg: 0.05 x 80 x 60 / 16 = 15 mL/h
        assert rates[0] == {"16 mcg/mL": "15 mL/h", "32 mcg/mL": "7.5 mL/h", "64 mcg/mL": "3.75 mL/h"}

    def test_a_treatment_of_one_unit_asks_for_no_unit(self, consult: Consult, signed_in: Sign):
        page = page_of(signed_in, consult, "give/crystalloid-bolus/")

        assert [each.attributes.get("type") for each in page.every("input", name="amount.unit")] == ["hidden"]

    def test_the_ordered_amount_is_one_more_choice(self):
        choices = crew_dose_form.with_amount([], {"value": 30, "unit": "mcg"})

        assert [(each["key"], each["text"]) for each in choices] == [("30 mcg", "30 mcg")]
        assert crew_dose_form.with_amount(choices, {"value": 30, "unit": "mcg"}) == choices

    @pytest.mark.parametrize(
        ("address", "chosen"),
        [
            ("&route=IO&amount=30+mcg", {"IO", "30 mcg"}),
            ("&route=IV&amount=10+mcg", {"IV", "10 mcg"}),
            ("&route=PO&amount=10+snails", set()),
            ("&amount=inf+mcg", set()),
        ],
    )
    def test_what_was_chosen_to_give_comes_along_to_the_request(
        self, address: str, chosen: set[str], consult: Consult, signed_in: Sign
    ):
        page = page_of(signed_in, consult, f"orders/request/?treatment=epinephrine-push-dose{address}")

        assert chosen_on(page) == chosen

    def test_strength_time_and_product_come_along_too(self, consult: Consult, signed_in: Sign):
        infusion = "treatment=norepinephrine-infusion&strength=32+mcg/mL&amount=0.2+mcg/kg/min"
        bolus = "treatment=crystalloid-bolus&over_min=15&product=lactated+Ringer"

        pages = [page_of(signed_in, consult, f"orders/request/?{address}") for address in (infusion, bolus)]

        assert [chosen_on(page) for page in pages] == [{"32 mcg/mL", "0.2 mcg/kg/min"}, {"15"}]
        typed = [each for each in pages[1].every(name="product") if each.attributes.get("type") != "radio"]
        assert [each.attributes["value"] for each in typed] == ["lactated Ringer"]

    @pytest.mark.parametrize(
        ("least", "most", "text"),
        [
            (Amount(10, "mcg"), Amount(20, "mcg"), "10–20 mcg"),
            (None, Amount(1000, "mL"), "up to 1,000 mL"),
            (Amount(1, "g"), Amount(1, "g"), "1 g"),
            (None, None, ""),
        ],
    )
    def test_a_span_is_written_without_error_prone_notation(self, least: Amount | None, most: Amount | None, text: str):
        assert crew_treatments.span_text(least, most) == text


class TestGive:
    def test_the_last_pressure_the_recipe_and_the_limits_stand_on_the_page(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=74, dbp=44, bp_method="cuff")

        page = page_of(signed_in, consult, "give/epinephrine-push-dose/")

        assert page.one("last").text.startswith("54 MAP")
        prefilled, *ways = page.every("recipe")
        assert prefilled.text.startswith("First, where stocked: a prefilled 10 mL syringe of 10 mcg per mL")
        assert len(ways) == 2
        assert "After each dose flush with 5-10 mL of saline; a small child with 2-5 mL." in page.text
        assert "holds 10 mL, 100 mcg: 10 mcg per mL" in page.text
        assert "10–20 mcg" in page.text

    def test_the_main_button_waits(self, consult: Consult, signed_in: Sign):
        button = page_of(signed_in, consult, "give/epinephrine-push-dose/").one(id="main-button")

        assert button.attributes["aria-disabled"] == "true"
        assert button.text.startswith("Choose route and dose")

    def test_what_was_given_already_can_be_recorded(self, consult: Consult, signed_in: Sign):
        already = page_of(signed_in, consult, "give/epinephrine-push-dose/").one(id="already")

        assert "Already given: record it" in already.text
        assert not already.every("button")  # the one main button records it, and says so

    def test_how_a_source_was_read_is_left_to_the_rules_page(self, consult: Consult, signed_in: Sign):
        for path in ("give/", "give/epinephrine-im/", "give/norepinephrine-infusion/"):
            assert not re.search(r"\[(read|second-hand|memory|our choice)\]", page_of(signed_in, consult, path).text), (
                path
            )

    @pytest.mark.parametrize(
        ("treatment", "by_order"),
        [("fentanyl", True), ("vasopressin-infusion", True), ("epinephrine-push-dose", False)],
    )
    @pytest.mark.parametrize("page", ["give/{}/", "orders/request/?treatment={}"])
    def test_it_says_whose_limits_they_are(
        self, page: str, treatment: str, by_order: bool, consult: Consult, signed_in: Sign, at_noon: None
    ):
        consult.vitals(sbp=80, dbp=45)

        text = page_of(signed_in, consult, page.format(treatment)).text

        assert [words in text for words in ("Limits for an order", "Standing limits")] == [by_order, not by_order]

    @pytest.mark.parametrize("path", ["give/fentanyl/", "give/crystalloid-bolus/", "procedure/"])
    def test_where_a_number_comes_from_stands_on_the_rules_page_alone(
        self, path: str, consult: Consult, signed_in: Sign, at_noon: None
    ):
        """Whoever gives a drug reads its limits, and that the rules are a demonstration: not what nobody looked up."""
        text = page_of(signed_in, consult, path).text

        assert [each.text for each in queries.rules_of(consult.row).sources.values() if each.text in text] == []
        assert "memory" not in text
        assert "Demonstration rules 1, not approved" in text

    def test_an_unknown_treatment_is_not_found(self, consult: Consult, signed_in: Sign):
        assert signed_in("osk").get(f"/crew/{consult.uid}/give/snake-oil/").status_code == 404

    def test_what_was_read_back_is_chosen_and_all_else_is_folded_away(self, consult: Consult, signed_in: Sign):
        order = ordered(consult)
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **RIGHT}, NOON)

        page = page_of(signed_in, consult, f"give/epinephrine-push-dose/?order={order}")

        assert "Ordered by Dr. Merrin, read back by the crew" in page.one("ordered").text
        chosen = [each.attributes["value"] for each in page.every("input") if "checked" in each.attributes]
        assert chosen[:2] == ["IV", "30 mcg"]
        others = page.one("details", id="not-as-read-back").every("input", name="dose")
        assert [each.attributes["value"] for each in others] == ["30 mcg", "10 mcg", "20 mcg", "other"]

    def test_of_an_order_that_is_not_read_back_nothing_is_chosen(self, consult: Consult, signed_in: Sign):
        page = page_of(signed_in, consult, f"give/epinephrine-push-dose/?order={ordered(consult)}")

        assert [each for each in page.every("input", name="dose") if "checked" in each.attributes] == []

    @pytest.mark.parametrize(
        ("state", "held"),
        [
            ("requested", "AWAITING DECISION: do not give"),
            ("approved", "NOT READ BACK: do not give"),
            ("declined", "DECLINED: do not give"),
            ("withdrawn", "WITHDRAWN: do not give"),
            ("expired", "EXPIRED: do not give"),
            ("not_given", "NOT GIVEN: do not give"),
            ("given", "ALREADY GIVEN: do not give again"),
        ],
    )
    def test_an_order_that_does_not_hold_holds_the_page(self, state: str, held: str, consult: Consult, signed_in: Sign):
        order = _brought_to(consult, state)

        page = page_of(signed_in, consult, f"give/epinephrine-push-dose/?order={order}")

        assert page.one("ordered").attributes["data-held"] == held
        assert held in page.one("ordered").text
        assert page.one("form", id="entry").attributes["data-order"] == order  # what was done is recorded with it

    def test_one_that_holds_counts_down(self, consult: Consult, signed_in: Sign):
        order = _brought_to(consult, "read_back")

        page = page_of(signed_in, consult, f"give/epinephrine-push-dose/?order={order}")

        assert page.one("ordered").attributes["data-expires-at"] == "2030-01-05T12:10:00Z"
        assert page.one("ordered").attributes["data-expired"] == "EXPIRED: do not give"
        assert "data-held" not in page.one("ordered").attributes


class TestReadBack:
    def test_the_page_is_the_same_whatever_was_ordered(self, consult: Consult, signed_in: Sign):
        client = signed_in("osk")
        push = ordered(consult, 30)
        infusion = ordered(consult, **{**INFUSION, "value": 8, "unit": "mcg/min"})

        pages = [client.get(f"/crew/{consult.uid}/orders/{order}/readback/").text for order in (push, infusion)]

        stripped = [
            re.sub(r'content="[A-Za-z0-9]{64}"|data-server-time="[^"]*"', "", page)
            .replace(push, "")
            .replace(infusion, "")
            for page in pages
        ]
        assert stripped[0] == stripped[1]

    def test_every_treatment_of_the_rules_can_be_named_and_no_amount_is_written(
        self, consult: Consult, signed_in: Sign
    ):
        order = ordered(consult, 30)

        page = page_of(signed_in, consult, f"orders/{order}/readback/")

        named = {each.attributes["value"] for each in page.every("input", name="treatment")}
        assert named == {*queries.rules_of(consult.row).treatments, "other"}
        assert page.one("h1").text == "Read back what is set up"
        assert page.every("a", href=f"/crew/{consult.uid}/orders/")  # the way back
        assert "30" not in page.one("main").text
        assert page.text.count("Dr. Merrin") == 1, "but for what is said with the order"

    def test_its_steps_are_asked_for_in_the_order_s_own_sequence(self, consult: Consult, signed_in: Sign):
        """As an order is said: up by so much, every so often, to which pressure, at most which rate, call at which."""
        page = page_of(signed_in, consult, f"orders/{ordered(consult, 30)}/readback/").one("steps-asked")
        named = [each.attributes["name"] or "" for each in page.every("input")]

        asked = ["step.value", "every_min", "unit", "goal.measure", "goal.floor", "most.value", "call_at.value"]
        assert [*dict.fromkeys(named)] == [f"titrate.{name}" for name in asked]
        assert [each.text[:2] for each in page.every("legend") if "label" in each.words] == ["1.", "2.", "3."]
        assert all(len(box.every("span")) == 2 for box in page.every("box"))  # what it is, and its unit

    def test_a_mismatch_names_the_field_never_the_value(self, consult: Consult, signed_in: Sign):
        order = ordered(consult, 30)
        said = {**RIGHT, "amount": {"value": 500, "unit": "mcg"}}
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **said}, NOON)

        wrong = page_of(signed_in, consult, f"orders/{order}/").one("wrong").text

        assert "dose, strength or rate" in wrong
        assert "You said epinephrine push dose 500 mcg IV" in wrong
        assert "30" not in wrong


class TestOrderPage:
    @pytest.mark.parametrize(
        ("state", "heading", "button"),
        [
            ("requested", "Order requested", "All orders"),
            ("asked", "Query about the request: epinephrine push dose", "Answer"),
            ("approved", "Ordered: read it back before it is given", "Read back"),
            ("read_back", "Read back and matched: prepare and give", "Prepare and give"),
            ("not_given", "Not given", "All orders"),
        ],
    )
    def test_each_step_says_what_is_next(
        self, state: str, heading: str, button: str, consult: Consult, signed_in: Sign
    ):
        order = _brought_to(consult, state)

        page = page_of(signed_in, consult, f"orders/{order}/")

        assert page.one("h1").text.lower() == heading.lower()
        assert page.one(id="main-button").text.startswith(button)
        assert "Kestrel 2, 58 y male, 80 kg measured" in page.one(id="main-button").text

    def test_the_list_says_what_each_order_waits_for(self, consult: Consult, signed_in: Sign):
        ordered(consult, 40)
        _brought_to(consult, "asked")

        rows = [row.text for row in page_of(signed_in, consult, "orders/").every("row")]

        assert any("30 mcg IV" in row and "Query: what is the heart rate?" in row for row in rows)
        assert any("40 mcg IV" in row and "Read back now" in row for row in rows)

    def test_a_question_stands_until_it_is_answered_and_then_stands_with_its_answer(
        self, consult: Consult, signed_in: Sign
    ):
        order = _brought_to(consult, "asked")
        consult.vitals(sbp=74, dbp=44, hr=128)
        assert "what is the heart rate?" in page_of(signed_in, consult, f"orders/{order}/").one("wrong").text

        orders.answer(consult.cast.osk, order, {"id": uuid4(), "text": "128, regular"}, NOON)
        page = page_of(signed_in, consult, f"orders/{order}/")

        assert page.one("h1").text == "Order requested"
        assert not [each for each in page.every("wrong") if "what is the heart rate?" in each.text]
        assert "J. Osk answers: 128, regular" in page.text

    def test_a_question_is_shown_with_the_way_to_answer(self, consult: Consult, signed_in: Sign):
        order = _brought_to(consult, "asked")

        page = page_of(signed_in, consult, f"orders/{order}/")

        assert "what is the heart rate?" in page.one("wrong").text
        answer = f"orders/{order}/answer/"
        assert page.one(id="main-button").attributes["href"] == f"/crew/{consult.uid}/{answer}"
        form = page_of(signed_in, consult, answer)
        assert form.one("h1").text.endswith("asks: what is the heart rate?")
        assert form.one("main").text.count("what is the heart rate?") == 1
        assert form.one("main").text.count("30 mcg") == 1  # what it is about, once, below
        assert form.one("form", id="entry").attributes["data-target"] == order
        assert form.one("input", name="question").attributes["value"] == "what is the heart rate?"

    def test_orders_that_need_the_crew_are_counted_on_every_page(self, consult: Consult, signed_in: Sign):
        ordered(consult)

        assert page_of(signed_in, consult, "vitals/").one("count").text.startswith("1")


def _brought_to(consult: Consult, state: str) -> str:
    if state in ("requested", "asked", "declined"):
        order = str(consult.ask().resource.id)
        if state == "declined":
            orders.decide(consult.cast.merrin, order, {"id": uuid4(), "decision": "decline", "reason": "Volume"}, NOON)
        if state == "asked":
            question = {"id": uuid4(), "decision": "ask", "text": "what is the heart rate?"}
            orders.decide(consult.cast.merrin, order, question, NOON)
        return order
    order = ordered(consult)
    if state in ("read_back", "given"):
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **RIGHT}, NOON)
    if state == "given":
        consult.give("epinephrine-push-dose", 30, "mcg", order=order)
    if state == "withdrawn":
        orders.withdraw(consult.cast.merrin, order, {"id": uuid4(), "reason": "Came up"}, NOON)
    if state == "expired":
        alerts.sweep(later(minutes=11))
    if state == "not_given":
        orders.not_given(consult.cast.osk, order, {"id": uuid4(), "reason": "Patient better"}, NOON)
    return order


def test_a_changed_order_with_steps_leads_with_what_was_changed_and_is_quiet_about_the_rest(
    consult: Consult, signed_in: Sign
) -> None:
    consult.vitals(sbp=74, dbp=44)
    rate = [{"value": value, "unit": "mcg/kg/min"} for value in (0.05, 0.1, 0.3)]
    steps = {"step": rate[0], "every_min": 3, "most": rate[2], "goal": {"measure": "map", "floor": 65}}
    asked = {"id": uuid4(), "at": NOON, "reason": "low", **INFUSION, "amount": rate[0], "route": "IV", "titrate": steps}
    orders.request_order(consult.cast.osk, consult.uid, asked, NOON)
    decided = {"id": uuid4(), "decision": "change", "amount": rate[1], "reason": "low", "titrate": steps}
    orders.decide(consult.cast.merrin, asked["id"], decided, NOON)

    order, row = (page_of(signed_in, consult, path).one(id="main") for path in (f"orders/{asked['id']}/", "orders/"))

    assert order.one("h1").text == "CHANGED: 0.1, not 0.05 mcg/kg/min"
    assert row.one("row").one("b").text == "CHANGED: 0.1, not 0.05 mcg/kg/min"
    bold = [each.text for page in (order, row) for each in [*page.every("h1"), *page.every("b")]]
    assert not any("up by" in each for each in bold)
    assert all("Up by 0.05 mcg/kg/min every 3 min to MAP 65" in page.text for page in (order, row))
