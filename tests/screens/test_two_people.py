"""What waits for another person, as pages tell it: a second physician, a voice order's physician, the crew's answer."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID, uuid4

import pytest

from consult.actions import cases, interventions, orders, read_back
from consult.render import card_html
from consult.render.handover import handover
from consult.screens.crew_news import news
from tests.conftest import NOON, Consult, later, with_a_user
from tests.screens.conftest import Sign
from tests.screens.page_text import read
from tests.screens.test_crew_orders import page_of

pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.fixture
def low(consult: Consult) -> Consult:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    return consult


def beyond(consult: Consult) -> UUID:
    return UUID(consult.ask(150, by=consult.cast.merrin, hard_limit_reason="arterial line in").resource.id)


def cosign(consult: Consult, order: UUID, at: datetime = NOON) -> None:
    orders.cosign(consult.cast.quillan, order, {"id": uuid4(), "reason": "agreed"}, at)


class TestASecondPhysician:
    def test_the_board_marks_it_and_offers_it_to_all_but_who_decided(self, low: Consult):
        beyond(low)
        card = read(card_html(low.card)).one("article")
        block = card.one("ask")

        assert "data-needs" in card.attributes
        assert "second physician needed" in block.one("ask-head").text
        assert "arterial line in" in block.text
        button = block.one("button", data_form="cosign")
        assert button.attributes["data-but"] == str(low.cast.merrin.membership)

    def test_the_crew_is_told_not_to_give_and_has_nothing_to_read_back(self, low: Consult, signed_in: Sign):
        order = beyond(low)
        page = page_of(signed_in, low, f"orders/{order}/")

        assert page.one("h1").text == "Waits for a second physician: do not give"
        assert page.one(id="main-button").text.startswith("All orders")
        for path in (f"orders/{order}/readback/", f"give/epinephrine-push-dose/?order={order}"):
            gate = page_of(signed_in, low, path).one("ordered")
            assert gate.attributes["data-held"] == "WAITS FOR A SECOND PHYSICIAN: do not give", path

    def test_co_signed_it_is_news_that_leads_to_the_read_back(self, low: Consult):
        order = beyond(low)
        (first,) = news(low.cast.osk, NOON)
        cosign(low, order)
        (second,) = news(low.cast.osk, NOON)

        assert (first["lead"], first["go"]) == ("WAITS FOR A SECOND PHYSICIAN: do not give", "See the order")
        assert (second["lead"], second["go"]) == ("CO-SIGNED", "Read it back")
        assert first["key"] != second["key"]


class TestAVoiceOrder:
    def test_the_board_asks_its_physician_alone(self, low: Consult):
        said = {"physician": with_a_user(low.cast.merrin), "at": NOON}
        given = low.give("epinephrine-push-dose", 30, "mcg", voice_order=said).resource
        card = read(card_html(low.card))
        block = card.one("ask")

        assert "ordered by voice of Dr. Merrin, to be countersigned" in card.one("doubt").text
        assert "for Dr. Merrin to countersign" in block.text
        assert block.one("btn-row").attributes["data-of"] == str(low.cast.merrin.membership)
        address = f"/api/v1/interventions/{given.id}/countersign/"
        assert block.one("button", data_act="post").attributes["data-url"] == address

        interventions.countersign(low.cast.merrin, UUID(given.id), {"id": uuid4()}, NOON)
        assert not read(card_html(low.card)).every("ask")

    def test_its_crew_reads_whether_it_stands_wherever_the_dose_does(self, low: Consult, signed_in: Sign):
        said = {"physician": with_a_user(low.cast.merrin), "at": NOON}
        given = low.give("epinephrine-push-dose", 30, "mcg", voice_order=said).resource

        def stands() -> list[str]:
            lines = next(part["lines"] for part in handover(low.card, NOON) if part["name"] == "Given")
            return [page_of(signed_in, low, "").one(data_part="given").text, str(lines)]

        assert all("waits for Dr. Merrin to countersign" in text for text in stands())
        assert news(low.cast.osk, NOON) == []

        denied = {"id": uuid4(), "agreed": False, "reason": "I was asked for fluid only"}
        interventions.countersign(low.cast.merrin, UUID(given.id), denied, NOON)
        (item,) = news(low.cast.osk, NOON)
        assert (item["lead"], item["what"]) == ("ORDER DENIED:", "EPINEPHrine push dose 30 mcg IV")
        assert "I was asked for fluid only" in item["why"]
        (beside,) = news(low.cast.osk, NOON, beside=uuid4())
        assert "30" not in beside["what"] + beside["why"], "nothing to copy beside a read-back"
        assert all("order denied by Dr. Merrin" in text for text in stands())
        assert news(low.cast.osk, later(minutes=31)) == []

    def test_the_crew_chooses_the_physician_from_a_list(self, low: Consult, signed_in: Sign):
        with_a_user(low.cast.merrin)
        choices = page_of(signed_in, low, "give/epinephrine-push-dose/").one("select", name="voice_order.physician")

        assert [option.text for option in choices.every("option")] == ["nobody", "Dr. Merrin"]


def test_an_order_voided_by_another_weight_is_news_on_every_page(low: Consult, signed_in: Sign):
    order = low.ask(0.4, "mcg/kg", by=low.cast.merrin).resource.id
    weight = {"value": 70, "unit": "kg", "basis": "measured"}
    cases.patch_case(low.cast.merrin, low.uid, {"patient": {"weight": weight}}, NOON)

    for place in ("", "vitals/", "give/", "orders/", "note/", "give/epinephrine-push-dose/"):
        item = page_of(signed_in, low, place).one("news-item")
        told = item.one("news-what").text
        assert "VOIDED: do not give" in told, place
        assert ", ordered 12:00:00" in told, "a newer order may say the same"
        assert item.one("a").attributes["href"] == f"/crew/{low.uid}/orders/{order}/"


def test_an_order_per_kg_that_was_read_back_is_to_be_read_back_again(low: Consult, signed_in: Sign):
    """By arithmetic 0.1 mcg/kg/min of 16 mcg/mL run at 30 mL/h for 80 kg, at 24 mL/h for 64."""
    drip = {"treatment": "norepinephrine-infusion", "route": "IV"}
    strength = {"value": 16, "unit": "mcg/mL"}
    asked = low.ask(0.1, "mcg/kg/min", by=low.cast.merrin, action="start", concentration=strength, **drip)
    order = UUID(asked.resource.id)
    said = {**drip, "concentration": strength, "rate": {"value": 30, "unit": "mL/h"}}
    read_back.read_back(low.cast.osk, order, {"id": uuid4(), **said}, NOON)
    assert "= 30 mL/h" in page_of(signed_in, low, "orders/").text
    weight = {"value": 64, "unit": "kg", "basis": "measured"}
    cases.patch_case(low.cast.merrin, low.uid, {"patient": {"weight": weight}}, NOON)

    page = page_of(signed_in, low, "orders/")
    item = page.one("news-item")
    assert "READ BACK AGAIN start norepinephrine infusion 0.1 mcg/kg/min" in item.one("news-what").text
    assert item.one("a").attributes["href"] == f"/crew/{low.uid}/orders/{order}/readback/"
    assert "= 24 mL/h" in page.text
    assert "30 mL/h" not in page.text
