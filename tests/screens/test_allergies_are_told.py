"""The patient's allergies stand wherever the patient changes hands or is decided about; that none is known is said."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases
from consult.render import card_html
from tests.conftest import ADULT, NOON, Cast, Consult, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db
ALLERGIC = {**ADULT, "allergies": ["penicillin", "latex"]}
DENIES = {**ADULT, "allergies": ["NKDA"]}
ALLERGIES, NONE = "Allergies: penicillin, latex", "No allergies recorded"
NONE_KNOWN = "No known allergies (“NKDA”)"
PAGES = [
    ("osk", "/crew/{case}/"),
    ("osk", "/crew/{case}/handover/"),
    ("osk", "/cases/{case}/handover/?paper=a4"),
    ("osk", "/cases/{case}/handover/?paper=receipt"),
    ("merrin", "/board/downtime/"),
    ("merrin", "/shift/"),
]


def of(cast: Cast, patient: dict[str, object]) -> Consult:
    """A case of Dr. Merrin."""
    consult = open_consult(cast, patient)
    cases.accept(cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    return consult


@pytest.mark.parametrize(("who", "page"), PAGES)
@pytest.mark.parametrize(("patient", "said"), [(ALLERGIC, ALLERGIES), (ADULT, NONE), (DENIES, NONE_KNOWN)])
def test_each_page_and_sheet_says_which_or_that_none_is_recorded(
    cast: Cast, signed_in: Sign, who: str, page: str, patient: dict[str, object], said: str
) -> None:
    consult = of(cast, patient)
    main = read(signed_in(who).get(page.format(case=consult.uid)).text).one(id="main")

    assert main.text.count(said) == 1
    before = "State" if page == "/shift/" else "Given"  # it comes early
    assert main.text.index(said) < main.text.index(before)


@pytest.mark.parametrize(("patient", "said"), [(ALLERGIC, ALLERGIES), (ADULT, NONE), (DENIES, NONE_KNOWN)])
def test_the_case_page_says_it_in_its_head_and_beside_an_order_only_which(
    cast: Cast, signed_in: Sign, patient: dict[str, object], said: str
) -> None:
    page = read(signed_in("merrin").get(f"/cases/{of(cast, patient).uid}/").text)

    assert page.one("patient-allergy").text == said
    assert (said in page.one("order-patient").text) == (patient is ALLERGIC)


def test_the_board_says_which_and_spends_no_room_on_none(cast: Cast) -> None:
    assert ALLERGIES in read(card_html(of(cast, ALLERGIC).card)).one("who").text
    assert "llerg" not in card_html(of(cast, ADULT).card)
    assert "NKDA" not in card_html(of(cast, DENIES).card)
