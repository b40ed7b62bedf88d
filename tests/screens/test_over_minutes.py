"""In how long a dose is given belongs to it, wherever an order or a dose is told."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from consult.actions import orders, read_back
from consult.render import card_html
from tests.conftest import NOON, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db

TXA = {"treatment": "tranexamic-acid", "amount": {"value": 1, "unit": "g"}, "route": "IV"}
OVER = "1 g IV over 10 min"


@pytest.fixture
def order(consult: Consult) -> UUID:
    """A request for 1 g of tranexamic acid over 10 min."""
    data = {"id": uuid4(), "at": NOON, "reason": "bleeding", "over_min": 10, **TXA}
    return UUID(orders.request_order(consult.cast.osk, consult.uid, data, NOON).resource.id)


def test_a_request_says_it_on_card_panel_and_the_crews_pages(
    order: UUID, consult: Consult, signed_in: Sign, at_noon: None
):
    pages = (f"/crew/{consult.uid}/orders/{order}/", f"/crew/{consult.uid}/orders/", f"/crew/{consult.uid}/")
    shown = [read(signed_in("osk").get(page).text).one("main").text for page in pages]
    desk = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)

    assert OVER in read(card_html(consult.card)).one("ask-what").text
    assert OVER in desk.one("ask-what").text
    assert OVER in desk.one("timeline").text
    assert all(OVER in text for text in shown)


def test_an_approved_order_and_what_was_given_by_it_say_it(
    order: UUID, consult: Consult, signed_in: Sign, at_noon: None
):
    decision = {"id": uuid4(), "decision": "approve", "reason": "agreed"}
    orders.decide(consult.cast.merrin, order, decision, NOON)
    assert OVER in read(signed_in("osk").get("/crew/").text).one("news-item").text

    read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **TXA}, NOON)
    consult.give("tranexamic-acid", 1, "g", order=order, over_min=10)

    assert OVER in consult.card["doses"][-1]["shown"]
    assert OVER in read(signed_in("osk").get(f"/crew/{consult.uid}/handover/").text).one("spoken").text


def test_what_is_too_fast_says_so_and_can_be_told(consult: Consult, signed_in: Sign):
    """Amiodarone with a pulse: no faster than 10 min, the bag before the vial (prescribing information)."""
    page = read(signed_in("osk").get(f"/crew/{consult.uid}/give/amiodarone/?for=tachycardia").text)
    said = [each.text for each in page.every("pick") if " min" in each.text]
    strengths = [each.text for each in page.every("pick") if "per mL" in each.text]

    assert said[:4] == ["5 min: too fast", "10 min", "15 min", "30 min"]
    assert [each.split(" per mL")[0].split()[-2] for each in strengths] == ["1.5", "50"]
