"""A physician looks back on the consults that they took part in, and on no others; reviews are for supervisors."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases, notes
from consult.models import Case, Membership, TookPart
from tests.conftest import NOON, Consult, earlier, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read
from tests.screens.test_review import found, page_of

pytestmark = pytest.mark.django_db
OWN = "weak, pale"


@pytest.fixture(autouse=True)
def accepted(consult: Consult) -> None:
    """One case that Dr. Merrin took, and one in which she had no part."""
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    open_consult(consult.cast, complaint="vomiting", opened_at=earlier(hours=2))


@pytest.mark.parametrize(
    ("who", "complaints"),
    [("merrin", [OWN]), ("quillan", []), ("averill", [OWN, "vomiting"]), ("sorrel", [OWN, "vomiting"])],
)
def test_the_list_has_their_own(who: str, complaints: list[str], signed_in: Sign):
    assert found(page_of(signed_in, "/history/", who)) == complaints


def test_without_any_it_says_so(signed_in: Sign):
    assert "You have not taken part in any case yet" in page_of(signed_in, "/history/", "quillan").one("empty").text


@pytest.mark.parametrize("path", ["/history/{case}/", "/history/{case}/card/1/"])
def test_only_their_own_can_be_replayed(path: str, consult: Consult, signed_in: Sign):
    other = Case.objects.exclude(uid=consult.uid).get()
    client = signed_in("merrin")

    assert client.get(path.format(case=consult.uid)).status_code == 200
    assert client.get(path.format(case=other.uid)).status_code == 404


def test_what_they_did_by_another_membership_is_theirs_too(consult: Consult, signed_in: Sign):
    signed_in("merrin")
    now = Membership.objects.get(pk=consult.cast.merrin.membership)
    before = Membership.objects.create(agency=now.agency, user=now.user, role="physician", name=now.name, ended_at=NOON)
    assert TookPart.objects.update(physician=before) == 1

    assert len(found(page_of(signed_in, "/history/", "merrin"))) == 1


def test_a_review_is_read_and_not_written(consult: Consult, signed_in: Sign):
    review = {"id": uuid4(), "text": "infusion could have come sooner", "outcome": "learning"}
    notes.add_review(consult.cast.averill, consult.uid, review, NOON)
    page = page_of(signed_in, f"/history/{consult.uid}/", "merrin")

    assert "infusion could have come sooner" in page.one(id="reviews").text
    assert page.every("input", name="outcome") == []


def test_a_look_back_at_an_open_case_is_no_look_at_its_requests(consult: Consult, signed_in: Sign):
    """Only who sees them holds back their alarm."""
    consult.ask()
    asked = consult.row.seq
    for who in ("merrin", "sorrel"):
        read(signed_in(who).get(f"/history/{consult.uid}/").text)

    assert (consult.row.seq, consult.card["orders"][0]["seen_at"]) == (asked, None)
