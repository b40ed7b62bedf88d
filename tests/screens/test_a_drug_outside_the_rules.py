"""The pages ask for the name of a drug that is not in the rules, and show it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest

from consult.actions import read_back
from consult.render.card import card_html
from tests.conftest import NOON, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db

CEFAZOLIN = {"treatment": "other", "name": "cefazolin sodium", "route": "IV", "amount": {"value": 2, "unit": "g"}}


def fields(page: Any) -> set[str]:
    return {each.attributes.get("name", "") for each in page.every("input")}


@pytest.mark.parametrize(
    ("path", "asked"),
    [
        ("give/other/", {"name", "amount_text", "route"}),
        ("orders/request/?treatment=other", {"name", "amount.value", "amount.unit", "route", "reason_pick"}),
    ],
)
def test_the_crews_forms_ask_for_it(consult: Consult, signed_in: Sign, path: str, asked: set[str]):
    assert fields(read(signed_in("osk").get(f"/crew/{consult.uid}/{path}").text)) >= asked


def test_the_list_of_requests_leads_to_it(consult: Consult, signed_in: Sign):
    assert "?treatment=other" in signed_in("osk").get(f"/crew/{consult.uid}/orders/request/").text


def test_ordered_it_is_read_back_by_name_and_given_by_it(consult: Consult, signed_in: Sign):
    order = consult.ask(by=consult.cast.merrin, **CEFAZOLIN).resource.id
    page = signed_in("osk").get(f"/crew/{consult.uid}/orders/{order}/readback/").text
    assert "name" in fields(read(page))
    assert "cefazolin" not in page  # nothing to copy
    assert "cefazolin sodium 2 g IV" in card_html(consult.card)

    read_back.read_back(consult.cast.osk, UUID(order), CEFAZOLIN, NOON)
    given = signed_in("osk").get(f"/crew/{consult.uid}/give/other/?order={order}").text
    assert 'value="cefazolin sodium"' in given
    assert f'data-order="{order}"' in given


def test_the_physicians_page_orders_it_by_name(consult: Consult, signed_in: Sign):
    page = signed_in("merrin").get(f"/cases/{consult.uid}/").text
    form = page.partition('data-name="order-other"')[2].partition("</form>")[0]

    assert '<input class="input" name="name"' in form
    assert 'name="treatment" value="other"' in form
