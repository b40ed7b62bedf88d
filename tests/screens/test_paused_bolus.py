"""A bolus is paused by its stop, with what went in: a crew is offered what is left, a physician its stop alone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest

from consult import clock
from consult.actions import interventions
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.fixture
def bolus(consult: Consult) -> str:
    """The id of a bolus of 1,000 mL that runs."""
    more = {"status": "running", "over_min": 15, "product": "balanced crystalloid"}
    return str(consult.give("crystalloid-bolus", 1000, "mL", **more).resource.id)


def stop(consult: Consult, bolus: str, **more: Any) -> None:
    content = {"id": uuid4(), "at": later(minutes=5), "status": "stopped", **more}
    interventions.change_intervention(consult.cast.osk, bolus, content, later(minutes=5))


def home(signed_in: Sign, consult: Consult) -> Element:
    return read(signed_in("osk").get(f"/crew/{consult.uid}/").text)


def test_the_crew_is_told_before_that_a_pause_is_a_stop(consult: Consult, bolus: str, signed_in: Sign):
    page = read(signed_in("osk").get(f"/crew/{consult.uid}/change/{bolus}/").text)

    assert [each.attributes["value"] for each in page.every("input", name="status")] == ["finished", "stopped"]
    assert "A pause is a stop" in page.one(id="entry").text


def test_what_is_left_is_offered_as_a_new_bolus_with_all_that_was_chosen(
    consult: Consult, bolus: str, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(clock, "now", lambda: later(minutes=6))
    assert not home(signed_in, consult).every(id="go-on")
    stop(consult, bolus, infused={"value": 300, "unit": "mL"})

    offer = home(signed_in, consult).one(id="go-on")

    assert offer.text == "Go on: crystalloid bolus, 700 mL left"
    brings = parse_qs(urlsplit(offer.attributes["href"] or "").query)
    assert brings == {"amount": ["700 mL"], "route": ["IV"], "product": ["balanced crystalloid"]}
    page = read(signed_in("osk").get(str(offer.attributes["href"])).text)
    (chosen,) = [each for each in page.every("input", name="dose") if "checked" in each.attributes]
    assert chosen.attributes["value"] == "700 mL"


@pytest.mark.parametrize(
    ("infused", "after_min", "again"),
    [(None, 6, False), (1000, 6, False), (300, 36, False), (300, 8, True)],
    ids=["nobody said how much went in", "all of it", "long ago", "a later one was given"],
)
def test_nothing_is_offered_where(
    infused: float | None,
    after_min: float,
    again: bool,
    consult: Consult,
    bolus: str,
    signed_in: Sign,
    monkeypatch: pytest.MonkeyPatch,
):
    stop(consult, bolus, **({"infused": {"value": infused, "unit": "mL"}} if infused else {}))
    if again:
        consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=7))
    monkeypatch.setattr(clock, "now", lambda: NOON + timedelta(minutes=after_min))

    assert not home(signed_in, consult).every(id="go-on")


def test_a_physician_is_offered_its_stop_and_neither_a_hold_nor_a_rate(consult: Consult, bolus: str, signed_in: Sign):
    page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)
    (panel,) = [each for each in page.every("section") if each.attributes.get("data-part") == f"runs-{bolus}"]

    assert [button.attributes["data-form"] for button in panel.every("button", data_act="open")] == ["stop"]
    assert "To pause a bolus, stop it" in panel.text
