"""A weight on the screens: marked where it hardly fits the age, offered by age; for which weights a verdict holds."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import pytest

from consult import queries
from consult.actions import cases, orders
from consult.models import Case, Order
from consult.render import card_html
from dosing.patient import weight
from tests.conftest import NOON, Cast, earlier
from tests.screens import sample_board as board
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

YEARS_5 = {"value": 5, "unit": "years", "basis": "stated"}
# CDC 2000: 14.3 and 28.8 kg are the 3rd and 97th centile of 5 years, girls; 45 lb are 20.4 kg
SENTENCE = "weight 45 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile: entered in pounds? (20.4 kg)"


@pytest.fixture
def opened(cast: Cast) -> Any:
    """Open a case of a girl of five years and of this weight, and tell its id."""

    def made(kilograms: float, basis: str = "stated", age: dict[str, Any] | None = YEARS_5) -> Any:
        known = {"value": kilograms, "unit": "kg", "basis": basis}
        patient = {"age": age, "sex": "female", "weight": known, "label": "A"}
        data = {"id": uuid4(), "opened_at": earlier(minutes=20), "patient": patient, "complaint": "vomiting"}
        cases.open_case(cast.osk, data, earlier(minutes=20))
        return data["id"]

    return made


def ask(cast: Cast, case: Any, micrograms: float) -> None:
    wanted = {"treatment": "epinephrine-push-dose", "amount": {"value": micrograms, "unit": "mcg"}, "route": "IV"}
    orders.request_order(cast.osk, case, {"id": uuid4(), "at": NOON, "reason": "no response", **wanted}, NOON)


def page_of(signed_in: Sign, who: str, path: str) -> Element:
    return read(signed_in(who).get(path).text)


@pytest.mark.parametrize(("kilograms", "marked"), [(80, False), (150, False), (350, True), (29, True)])
def test_a_weight_that_hardly_fits_is_marked_beside_it_on_the_card(kilograms: float, marked: bool):
    card = board.kestrel()
    card["patient"]["weight"]["value"] = kilograms

    person = read(card_html(card)).one("who-person")

    assert person.text.endswith(" unlikely") is marked
    titles = [each.attributes["title"] for each in person.every("doubt")]
    assert titles == ([f"weight {kilograms} kg, usual is 30–150 kg for an adult"] if marked else [])


def test_the_case_page_says_why(signed_in: Sign, opened: Any):
    doubted, usual = opened(45), opened(18)

    assert SENTENCE in page_of(signed_in, "merrin", f"/cases/{doubted}/").one("patient-doubt").text
    assert not page_of(signed_in, "merrin", f"/cases/{usual}/").every("patient-doubt")


@pytest.mark.parametrize(
    ("kilograms", "basis", "told"),
    [
        # 15 mcg are the hard limit of 5 mcg/kg at 3 kg; any dose above 10 mcg needs an order (demonstration rules)
        (3.5, "stated", "Weight matters: below 3 kg over the hard limit"),
        (3.5, "age", "Weight matters: below 3 kg over the hard limit"),
        (5, "stated", None),  # an edge that is more than a fifth away is not told
        (3.5, "measured", None),
    ],
)
def test_an_order_on_a_guess_says_for_which_weights_its_verdict_holds(
    cast: Cast, signed_in: Sign, opened: Any, kilograms: float, basis: str, told: str | None
):
    case = opened(kilograms, basis)
    ask(cast, case, 15)

    on_board = read(card_html(queries.card(Case.objects.get(uid=case)))).one("ask")
    on_case = page_of(signed_in, "merrin", f"/cases/{case}/").one("ask")
    assert [each.text for each in on_board.every("ask-range")] == ([told] if told else [])
    assert [each.text for each in on_case.every("ask-range")] == ([told] if told else [])
    order = Order.objects.get()
    on_crews_page = page_of(signed_in, "osk", f"/crew/{case}/orders/{order.uid}/").one("main").text
    assert ("Weight matters: below 3 kg" in on_crews_page) is bool(told)


def test_the_rules_page_tells_the_formulas_and_the_references_with_their_sources(signed_in: Sign, cast: Cast):
    page = page_of(signed_in, "merrin", "/rules/")
    section = page.one(id="weights")

    rows = [[cell.text for cell in row.every("td")] for row in section.one("tbody").every("tr")]
    assert [(whom, value) for whom, value, _source in rows] == [
        ("1–11 months", "(months + 9) / 2, from 1 year 2 × (age + 5), from 5 years 4 × age"),
        ("1–10 years", "3 × age + 7"),
        ("11–12 years", "months / 2 + 4, from 1 year 2 × age + 8, from 6 years 3 × age + 7"),
        ("under 5 years", "3rd to 97th centile"),
        ("5 to 19 years", "3rd to 97th centile"),
        ("adult, or age unknown", "30–150 kg"),
        ("under 20 years", "−6 to +5 z"),
        ("adult, or age unknown", "30–250 kg"),
    ]
    number = section.one("tbody").every("tr")[1].one("note-ref").text
    assert "on average 0.8 % too heavy" in page.one(id=f"source-{number}").text
    assert [row.one("mark").text for row in section.one("tbody").every("tr")] == [
        "second-hand", "checked", "second-hand", "second-hand", "second-hand", "local choice",
        "unverified", "local choice",
    ]  # fmt: skip


def steps_on(signed_in: Sign, path: str) -> list[dict[str, Any]]:
    html = signed_in("osk").get(path).text
    start = html.index('<script id="weight-steps" type="application/json">')
    steps: list[dict[str, Any]] = json.loads(html[html.index(">", start) + 1 : html.index("</script>", start)])
    return steps


def test_the_pages_where_a_weight_is_entered_bring_the_estimates_with_them(signed_in: Sign, opened: Any):
    """So that they are there without a link; as an estimate, each with its source."""
    for path in ("/crew/open/", f"/crew/{opened(18)}/patient/"):
        steps = steps_on(signed_in, path)
        assert steps == weight.steps()
        assert all(step["text"].endswith("kg (estimate)") and "[" in step["source"] for step in steps)


@pytest.mark.parametrize(
    ("age", "told"), [(YEARS_5, ("5", "years")), (YEARS_5 | {"value": 2.5}, ("2.5", "years")), (None, (None, None))]
)
def test_the_patients_page_knows_the_age_on_record(signed_in: Sign, opened: Any, age: Any, told: tuple[str, str]):
    offer = page_of(signed_in, "osk", f"/crew/{opened(18, age=age)}/patient/").one("by-age")

    assert (offer.attributes.get("data-value"), offer.attributes.get("data-unit")) == told
    assert "hidden" in offer.attributes  # the script shows it where there is something to offer
