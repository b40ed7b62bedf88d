"""A patient who was moved: the former crew reads where, the new one is told on whatever page is open."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
PAGES = ("", "vitals/", "give/", "orders/", "note/", "handover/", "move/")


@pytest.fixture
def moved(consult: Consult) -> Consult:
    """From Kestrel 2 to Plover 8, half a minute after noon."""
    at = later(seconds=30)
    cases.move(consult.cast.merrin, consult.uid, {"id": uuid4(), "unit": consult.cast.lund.unit, "at": at}, at)
    return consult


def shown(signed_in: Sign, who: str, path: str) -> Element:
    answer = signed_in(who).get(path)
    assert answer.status_code == 200, path
    return read(answer.text)


@pytest.mark.parametrize("page", PAGES)
def test_each_page_of_the_former_crew_says_where_the_patient_is(moved: Consult, signed_in: Sign, page: str) -> None:
    told = shown(signed_in, "osk", f"/crew/{moved.uid}/{page}")

    assert "This case was moved to Plover 8 at 12:00." in told.one(data_part="end").text
    assert told.one("h1").text == "Moved to Plover 8"
    assert told.every("form", id="entry") == []
    assert "Septic" not in told.text, "nothing of the patient, who is another crew's"


def test_the_new_crew_has_it_in_its_list_and_as_news(moved: Consult, signed_in: Sign) -> None:
    told = shown(signed_in, "lund", "/crew/")

    (news,) = told.one(data_part="news").every("news-item")
    assert "MOVED TO YOU from Kestrel 2" in news.text
    assert news.one("a").attributes["href"] == f"/crew/{moved.uid}/"
    assert f"/crew/{moved.uid}/" in {each.attributes["href"] for each in told.one(data_part="cases").every("a")}
    assert shown(signed_in, "lund", f"/crew/{moved.uid}/").one("h1").text.startswith("Plover 8")


def test_a_page_that_is_open_finds_the_case_by_asking(moved: Consult, signed_in: Sign) -> None:
    assert signed_in("lund").get("/crew/who/").json()["cases"] == [str(moved.uid)]
    assert signed_in("osk").get("/crew/who/").json()["cases"] == []
    assert signed_in("merrin").get("/crew/who/").json()["cases"] == []


@pytest.mark.parametrize("opened", [True, False])
def test_it_is_news_until_the_case_was_opened_and_can_only_be_put_away_by_opening_it(
    opened: bool, moved: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
) -> None:
    (news,) = shown(signed_in, "lund", "/crew/").one(data_part="news").every("news-item")
    assert [each.text for each in news.every("quiet-big")] == ["Open the case"]
    if opened:
        shown(signed_in, "lund", f"/crew/{moved.uid}/")
        (news,) = shown(signed_in, "lund", "/crew/").one(data_part="news").every("news-item")
        assert [each.text for each in news.every("quiet-big")] == ["Open the case", "Noted, stay here"]
    monkeypatch.setattr("consult.clock.now", lambda: later(minutes=31))

    assert len(shown(signed_in, "lund", "/crew/").one(data_part="news").every("news-item")) == (not opened)


def test_board_and_case_page_say_so_until_then(moved: Consult, signed_in: Sign) -> None:
    def said(path: str) -> list[str]:
        return [each.text for each in shown(signed_in, "merrin", path).every("not-seen")]

    pages = ("/board/", f"/cases/{moved.uid}/")
    assert [said(page) for page in pages] == [["not yet seen by Plover 8"]] * 2
    shown(signed_in, "osk", f"/crew/{moved.uid}/")
    assert [said(page) for page in pages] == [["not yet seen by Plover 8"]] * 2, "the former crew's look is none"
    shown(signed_in, "lund", f"/crew/{moved.uid}/")
    assert [said(page) for page in pages] == [[], []]


def test_the_form_offers_the_other_units(consult: Consult, signed_in: Sign) -> None:
    form = shown(signed_in, "osk", f"/crew/{consult.uid}/move/").one("form", id="entry")

    assert form.attributes["data-kind"] == "move"
    assert [each.text for each in form.one("choice").every("pick")] == ["Plover 8"]


def test_another_crew_finds_no_page(consult: Consult, signed_in: Sign) -> None:
    assert signed_in("lund").get(f"/crew/{consult.uid}/").status_code == 404
    assert signed_in("tarn").get(f"/crew/{consult.uid}/").status_code == 404


def test_the_case_page_offers_what_the_one_who_has_control_may(consult: Consult, signed_in: Sign) -> None:
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    page = shown(signed_in, "merrin", f"/cases/{consult.uid}/")

    (give_up,) = page.every("button", data_form="release")
    assert give_up.attributes["data-of"] == str(consult.cast.merrin.membership)
    units = page.one("form", data_name="move").every("option")
    assert [each.text for each in units] == ["", "Plover 8"]
