"""What a dose is for and by which route, as the crew chooses it: one tap, and each page is of one of them."""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

import pytest

from consult.actions import cases, notes, rule_sets
from tests.conftest import NOON, Consult, earlier
from tests.dosing.test_for_what_and_by_route import DRAFT
from tests.screens.conftest import Sign

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(consult: Consult, signed_in: Sign, at_noon: None) -> Any:
    """Opens a page of the case as its crew, under the draft that has exampline for sedation and for a seizure."""
    rule_sets.adopt(consult.cast.sorrel, DRAFT, NOON, reason="tried", by_way_of="page")
    consult.vitals(at=earlier(minutes=1), sbp=122, dbp=78)
    client = signed_in("osk")

    def get(path: str) -> str:
        answer = client.get(f"/crew/{consult.uid}/{path}")
        assert answer.status_code == 200, path
        return answer.text

    return get


def offered(text: str) -> list[str]:
    return re.findall(r'name="dose"[^>]*value="([\d.]+ mg)"', text)


def chosen(text: str, nav: str) -> list[str]:
    part = text.partition(f'id="{nav}"')[2].partition("</nav>")[0]
    return re.findall(r'aria-current="true">([^<]+)<', part)


def test_the_list_has_a_line_an_indication(page: Any):
    lines = re.findall(r'href="[^"]*/give/exampline/([^"]*)"><b>([^<]+)</b>', page("give/"))
    assert sorted(lines) == [
        ("?for=sedation", "exampline for sedation"),
        ("?for=seizure", "exampline for a seizure"),
    ]
    assert "/give/hydrocortisone/?for" not in page("give/")


@pytest.mark.parametrize(
    ("address", "sprays"), [("give/naloxone/", False), ("give/naloxone/?by=IN", True), ("give/ketamine/?by=IM", False)]
)
def test_a_spray_is_in_hand_for_the_nose_alone(page: Any, address: str, sprays: bool):
    listed = re.findall(r'name="stock"[^>]*value="([^"]+)"', page(address))

    assert ("40 mg/mL" in listed) == sprays == ("<small>nasal spray, 4 mg in 0.1 mL</small>" in page(address))
    assert listed
    assert "10 mg/mL" not in listed  # of ketamine: for a vein


@pytest.mark.parametrize(
    ("address", "title", "route", "routes", "most"),
    [
        ("", "exampline for sedation", [], {"IM", "IN", "IO", "IV"}, "2 mg"),
        ("?for=sedation", "exampline for sedation", [], {"IM", "IN", "IO", "IV"}, "2 mg"),
        ("?for=seizure", "exampline for a seizure", ["IV, IO, intranasal"], {"IN", "IO", "IV"}, "4 mg"),
        ("?for=seizure&by=IM", "exampline for a seizure", ["IM"], {"IM"}, "10 mg"),
        ("?for=headache&by=SC", "exampline for sedation", [], {"IM", "IN", "IO", "IV"}, "2 mg"),
    ],
)
def test_a_page_is_of_one_indication_and_of_routes_that_share_their_limits(
    page: Any, address: str, title: str, route: list[str], routes: set[str], most: str
):
    text = page(f"give/exampline/{address}")

    assert f"<h1>{title}</h1>" in text
    assert chosen(text, "by-route") == route
    assert set(re.findall(r'name="route" value="([A-Z]+)"', text)) == routes
    assert offered(text)[-1] == most
    indication = "seizure" if "seizure" in address else "sedation"
    assert f'name="indication" value="{indication}"' in text


def test_a_request_keeps_what_it_is_for(page: Any):
    assert "/orders/request/?treatment=exampline&amp;for=seizure" in page("give/exampline/?for=seizure")
    text = page("orders/request/?treatment=exampline&for=seizure&by=IM")
    assert "Request an order: exampline for a seizure" in text
    assert (chosen(text, "for-what"), offered(text)[-1]) == (["a seizure"], "10 mg")


def test_an_order_is_given_for_what_it_says(consult: Consult, page: Any):
    five = {"value": 5, "unit": "mg/mL"}
    more = {"treatment": "exampline", "indication": "seizure", "stock": five, "by": consult.cast.merrin}
    placed = consult.ask(4, "mg", **more).resource
    assert placed.shown.endswith("4 mg IV for a seizure")
    text = page(f"give/exampline/?order={placed.id}")

    assert 'name="indication" value="seizure"' in text
    assert 'id="for-what"' not in text  # what was ordered is not chosen anew


def test_a_treatment_without_indications_offers_no_choice(page: Any):
    text = page("give/hydrocortisone/")
    assert 'id="for-what"' not in text
    assert 'name="indication"' not in text


def test_an_arrest_stands_on_every_page_of_the_case(consult: Consult, page: Any):
    assert "Cardiac arrest</b> since" not in page("give/")
    notes.change_phase(consult.cast.osk, consult.uid, {"id": uuid4(), "at": NOON, "phase": "arrest"}, NOON)
    for path in ("", "give/", "give/hydrocortisone/", "vitals/", "orders/"):
        assert "<b>Cardiac arrest</b> since" in page(path), path
    text = page("phase/")
    assert set(re.findall(r'name="phase" value="(\w+)"', text)) == {"transport", "pulse_back", "ended"}


@pytest.mark.parametrize(("limits", "told"), [("full", False), ("no_cpr", True), ("comfort", True), ("unknown", False)])
def test_what_the_patient_wants_stands_on_the_page_that_tells_an_arrest(
    consult: Consult, page: Any, limits: str, told: bool
):
    cases.patch_case(consult.cast.osk, consult.uid, {"patient": {"care_limits": limits}}, NOON)
    assert ('id="care-limits"' in page("phase/")) is told


def test_blood_is_chosen_by_product_and_fluid_also_named_in_words(page: Any):
    named = re.findall(r'type="radio" name="product" value="([^"]+)"', page("give/blood-product/"))
    assert named == [each.name for each in DRAFT.products]
    assert {"red cells", "whole blood", "plasma"} <= set(named)
    fluid = page("give/crystalloid-bolus/")
    named = re.findall(r'type="radio" name="product" value="([^"]+)"', fluid)
    assert named[0] == "0.9 % saline"
    assert not {"sterile water", "potassium chloride", "0.45 % saline"} & set(named)
    assert '<input name="product"' in fluid


@pytest.mark.parametrize("treatment", ["ceftriaxone", "calcium-chloride", "vasopressin-infusion"])
def test_a_drug_that_is_neither_is_asked_for_no_product(page: Any, treatment: str):
    for path in (f"give/{treatment}/", f"orders/request/?treatment={treatment}"):
        assert 'name="product"' not in page(path)
