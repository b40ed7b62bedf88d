"""What became known after an order, or while something runs, stands where crew and physician look.

Common practice of medical control, no source.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries
from consult.actions import cases, checks, interventions, orders, read_back
from consult.models import Order
from consult.render import journal
from consult.resources.orders import order_dict
from consult.screens.crew_news import news
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]

GRAMS = {"value": 2, "unit": "g"}
KNOWN = "allergy on record: penicillin anaphylaxis; cefTRIAXone needs an order"
NEW = "New since it was ordered: ask before you give it"


def page_of(signed_in: Sign, consult: Consult, path: str, who: str = "osk") -> Any:
    place = f"/crew/{consult.uid}/{path}" if who == "osk" else f"/cases/{consult.uid}/"
    return read(signed_in(who).get(place).text)


def ordered(consult: Consult, treatment: str, value: float, unit: str, **more: Any) -> UUID:
    """Dr. Merrin's order, read back at noon."""
    order = consult.ask(value, unit, by=consult.cast.merrin, treatment=treatment, **more).resource.id
    said = {"treatment": treatment, "route": "IV", "amount": {"value": value, "unit": unit}}
    read_back.read_back(consult.cast.osk, UUID(order), {"id": uuid4(), **said}, NOON)
    return UUID(order)


def learns(consult: Consult, **patient: Any) -> None:
    cases.patch_case(consult.cast.osk, consult.uid, {"patient": patient}, later(seconds=30))


@pytest.fixture
def back_with_the_physician(consult: Consult) -> UUID:
    """An antibiotic, ordered and read back before the allergy was recorded."""
    consult.vitals(sbp=110, dbp=70)
    order = ordered(consult, "ceftriaxone", 2, "g", over_min=30)
    learns(consult, allergies=["penicillin anaphylaxis"])
    return order


class TestAnOrderThatIsBack:
    def test_is_not_to_be_given_on_any_page_of_the_crew(self, consult, signed_in, back_with_the_physician):
        order = back_with_the_physician
        page = page_of(signed_in, consult, f"orders/{order}/")
        assert page.one("h1").text == "SET BACK TO THE PHYSICIAN: do not give"
        assert KNOWN in page.text
        give = page_of(signed_in, consult, f"give/ceftriaxone/?order={order}")
        assert "SET BACK TO THE PHYSICIAN: do not give" in give.one("ordered").text
        rows = page_of(signed_in, consult, "orders/")
        assert "SET BACK TO THE PHYSICIAN: do not give" in rows.text
        (item,) = news(consult.cast.osk, later(minutes=1))
        assert (item["lead"], item["href"]) == (
            "SET BACK TO THE PHYSICIAN: do not give",
            f"/crew/{consult.uid}/orders/{order}/",
        )
        assert KNOWN in item["why"]

    def test_is_the_physicians_to_decide_at_once(self, consult, signed_in, back_with_the_physician):
        page = page_of(signed_in, consult, "", "merrin")
        assert "Decide again" in page.text
        assert f"Known only since Dr. Merrin ordered it at 12:00: {KNOWN}" in page.text
        (alert,) = (each for each in consult.card["alerts"] if each["kind"] == "order_waiting")
        assert alert["text"] == f"cefTRIAXone is to be decided again: {KNOWN}"

    def test_stands_so_on_the_timeline(self, consult, back_with_the_physician):
        lines = journal.timeline(queries.journal(consult.row))
        assert "Order set back" in str(lines)
        assert KNOWN in str(lines)

    def test_decided_again_is_news_to_be_read_back(self, consult, signed_in, back_with_the_physician):
        again = {"id": uuid4(), "decision": "approve", "reason": "only a rash, as a child"}
        orders.decide(consult.cast.merrin, back_with_the_physician, again, later(minutes=1))
        (item,) = news(consult.cast.osk, later(minutes=1))

        assert item["lead"] == "APPROVED"
        assert "Decide again" not in page_of(signed_in, consult, "", "merrin").text


class TestAnOrderThatHolds:
    def test_says_above_its_button_what_the_vitals_have_become(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=124, dbp=76, rr=16, gcs=15, spo2=97)
        order = ordered(consult, "fentanyl", 40, "mcg")
        assert NEW not in page_of(signed_in, consult, f"orders/{order}/").text
        consult.vitals(at=later(seconds=40), sbp=124, dbp=76, rr=6, gcs=6, spo2=80)

        for path in (f"orders/{order}/", f"give/fentanyl/?order={order}"):
            page = page_of(signed_in, consult, path)
            assert "breathing is far too slow" in page.text.partition("Ordered by Dr. Merrin")[0], path
            assert "known only after Dr. Merrin ordered this at 12:00" in page.text
        assert page_of(signed_in, consult, f"orders/{order}/").one("h1").text == NEW
        assert order_dict(Order.objects.get(uid=order))["state"] == "read_back"

    def test_is_checked_as_given_by_it(self, consult: Consult):
        consult.vitals(sbp=84, dbp=44)
        order = ordered(consult, "epinephrine-push-dose", 30, "mcg")
        push = {"treatment": "epinephrine-push-dose", "amount": {"value": 30, "unit": "mcg"}, "route": "IV"}
        at = later(minutes=1)
        asked = ({**push, **more} for more in ({}, {"order": order}))
        plain, by_order = (checks.check_proposal(consult.cast.osk, consult.uid, each, at) for each in asked)

        assert (plain.verdict, by_order.verdict) == ("needs_order", "caution")
        assert any(each.text.startswith("ordered by Dr. Merrin: ") for each in by_order.findings)


class TestWhatRuns:
    @pytest.fixture
    def drip(self, consult: Consult) -> str:
        """Dopamine, running when a sulfite allergy and an MAO inhibitor are recorded."""
        consult.vitals(sbp=80, dbp=40)
        strength = {"value": 1600, "unit": "mcg/mL"}
        given = consult.give("dopamine-infusion", 5, "mcg/kg/min", status="running", concentration=strength)
        learns(consult, allergies=["sulfite"], history=["maoi"])
        return str(given.resource.id)

    @pytest.mark.parametrize("page", ["the case", "the change", "the handover", "the physician's"])
    def test_bears_what_became_known_on_every_page_that_shows_it(self, consult, signed_in, drip, page):
        paths = {"the case": "", "the change": f"change/{drip}/", "the handover": "handover/"}
        text = page_of(signed_in, consult, paths.get(page, ""), "osk" if page in paths else "merrin").text

        assert "Known since 12:00: allergy on record: sulfite; DOPamine infusion needs an order" in text
        assert "Known since 12:00: 5 mcg/kg/min is over the hard limit of 2 mcg/kg/min" in text

    def test_alarms(self, consult, drip):
        (alert,) = (each for each in queries.card(consult.row)["alerts"] if each["kind"] == "dose_outside_limits")

        assert "running, and known only since 12:00 UTC: " in alert["text"]
        assert alert["priority"] == "high"

    def test_loses_what_a_new_rate_has_made_right(self, consult, drip):
        change = {"id": uuid4(), "at": later(minutes=1), "amount": {"value": 2, "unit": "mcg/kg/min"}}
        interventions.change_intervention(consult.cast.osk, UUID(drip), change, later(minutes=1))
        (dose,) = consult.card["running"]

        assert [each["code"] for each in dose["known_since"]] == ["allergy"]
