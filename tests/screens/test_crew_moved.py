"""A patient who was moved: the former crew reads where, the new one is told on whatever page is open."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases
from consult.models import AccessRecord
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read
from tests.screens.test_consults_without_a_drug import ask, tell

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
PAGES = ("", "vitals/", "give/", "orders/", "note/", "move/")


def move(consult: Consult) -> None:
    """From Kestrel 2 to Plover 8, half a minute after noon."""
    at = later(seconds=30)
    cases.move(consult.cast.merrin, consult.uid, {"id": uuid4(), "unit": consult.cast.lund.unit, "at": at}, at)


@pytest.fixture
def moved(consult: Consult) -> Consult:
    move(consult)
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
    links = [each.attributes["href"] for each in told.one(id="main").every("quiet-big")]
    assert links == [f"/crew/{moved.uid}/handover/", f"/cases/{moved.uid}/handover/"]


BEFORE = ("Kestrel 2", "Septic", "74/44", "Question: advice", "“Cool her?”")
SINCE = ("Plover 8: 58 y", "92/60", "Answered", "To 36.")


@pytest.mark.parametrize("page", ["crew", "cases"], ids=["to read", "to print"])
def test_the_former_crew_reads_its_handover_as_of_the_move_and_nothing_of_later(
    page: str, consult: Consult, signed_in: Sign
) -> None:
    consult.vitals(at=NOON, sbp=74, dbp=44)
    asked = ask(consult)
    move(consult)
    consult.vitals(at=later(seconds=40), by=consult.cast.lund, sbp=92, dbp=60)
    tell(consult, question=asked, now=later(seconds=50))
    consult.give("epinephrine-push-dose", 10, "mcg", at=later(seconds=20), now=later(seconds=55))

    text = shown(signed_in, "osk", f"/{page}/{consult.uid}/handover/").text

    assert [each for each in BEFORE if each not in text] == []
    assert [each for each in SINCE if each in text] == []
    assert "Entered later Given EPINEPHrine push dose 10 mcg" in text, "its own, told late"
    assert "Plover 8" in text


def test_it_is_read_for_a_day_by_that_crew_alone_each_look_is_on_record_and_it_marks_nothing_as_seen(
    moved: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = f"/crew/{moved.uid}/handover/"
    assert "Septic" in shown(signed_in, "osk", path).one(data_part="handover").text
    assert list(AccessRecord.objects.values_list("what", flat=True)) == ["handover after the move"]
    assert moved.card["moved_not_seen_since"] is not None
    assert [path in signed_in(who).get("/crew/").text for who in ("osk", "lund")] == [True, False]
    assert signed_in("tarn").get(path).status_code == 404
    assert "Plover 8: 58 y" in shown(signed_in, "lund", path).one(data_part="handover").text
    monkeypatch.setattr("consult.clock.now", lambda: later(days=1, seconds=30))

    assert path not in signed_in("osk").get("/crew/").text
    told = shown(signed_in, "osk", path)
    assert told.every(data_part="handover") == told.one(id="main").every("quiet-big") == []
    assert signed_in("osk").get(f"/cases/{moved.uid}/handover/").status_code == 404
    assert signed_in("osk").get(f"/api/v1/cases/{moved.uid}/").status_code == 404


def test_a_patient_who_comes_back_is_read_as_of_now(moved: Consult, signed_in: Sign) -> None:
    cases.move(
        moved.cast.lund,
        moved.uid,
        {"id": uuid4(), "unit": moved.cast.osk.unit, "at": later(minutes=1)},
        later(minutes=1),
    )
    assert shown(signed_in, "osk", f"/crew/{moved.uid}/handover/").every("form", data_kind="handover")


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
