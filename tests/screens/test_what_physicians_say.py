"""What a physician says to an order stands wherever the crew is told of it, and is read back with the rest."""

from __future__ import annotations

import pytest

from tests.conftest import Consult
from tests.screens.conftest import Sign
from tests.screens.test_crew_news import brought_to, page_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]


@pytest.mark.parametrize("path", ["vitals/", "", "orders/", "orders/{}/", "orders/{}/readback/", "not-given"])
@pytest.mark.parametrize(
    ("how", "words"), [("changed", "start lower"), ("approved", "as agreed"), ("ordered", "no response to fluid")]
)
def test_what_a_physician_says_to_an_order_stands_wherever_it_is_told(
    consult: Consult, signed_in: Sign, path: str, how: str, words: str
):
    order = brought_to(consult, how)
    path = f"orders/{order}/not-given/" if path == "not-given" else path.format(order)
    page = page_of(signed_in, consult, path)
    (told,) = {each.text for each in page.every("says")}

    assert told == f"Dr. Merrin says: {words}"
    assert bool(page.every("input", name="words_too")) == ("readback" in path), "it is read back with the rest"
