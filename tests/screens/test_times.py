"""Pages read times in their agency's zone and name it; what is kept, and the API, stay in UTC."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone

from consult import access, clock, queries, zone
from consult.actions import alerts, cases, notes
from consult.models import Agency
from consult.screens import labels
from tests.conftest import ADULT, NOON, Cast, Consult, earlier, later, open_consult
from tests.consult.test_zone import utc
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
DENVER, TOKYO = "America/Denver", "Asia/Tokyo"


@pytest.fixture(autouse=True)
def in_denver(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Brindle Vale keeps the time of Denver, Harrow Fen that of Tokyo; it is a minute past noon UTC."""
    Agency.objects.filter(pk=cast.osk.agency).update(timezone=DENVER)
    Agency.objects.filter(pk=cast.tarn.agency).update(timezone=TOKYO)
    monkeypatch.setattr(clock, "now", lambda: later(minutes=1))


@pytest.fixture
def page_of(signed_in: Sign) -> Any:
    def page_of(who: str, path: str) -> Element:
        return read(signed_in(who).get(path).text)

    return page_of


def taken(page: Element) -> str:
    return page.one("map-head").one("time").text


def test_the_board_shows_its_agencys_time_and_names_the_zone_once(consult: Consult, page_of: Any):
    consult.vitals(sbp=74, dbp=44)
    there = {"id": uuid4(), "opened_at": NOON, "patient": ADULT}
    cases.open_case(consult.cast.tarn, there, NOON)
    Consult(consult.cast, there["id"]).vitals(sbp=74, dbp=44, by=consult.cast.tarn)

    here, tokyo = page_of("merrin", "/board/"), page_of("vane", "/board/")

    assert (taken(here), taken(tokyo)) == ("05:00", "21:00")
    assert here.one("times").text == "Times: MST (UTC−7)"
    assert tokyo.one("times").text == "Times: JST (UTC+9)"
    assert here.one("body").attributes["data-zone"] == DENVER


def test_a_card_is_drawn_anew_where_the_agency_moves_to_another_zone(consult: Consult, page_of: Any):
    consult.vitals(sbp=74, dbp=44)
    assert taken(page_of("merrin", "/board/")) == "05:00"

    Agency.objects.update(timezone=TOKYO)

    assert taken(page_of("merrin", "/board/")) == "21:00"


PAGES = {
    "/cases/{case}/": "merrin",
    "/history/": "averill",
    "/history/{case}/": "averill",
    "/rules/": "averill",
    "/crew/": "osk",
    "/crew/{case}/": "osk",
    "/crew/{case}/handover/": "osk",
}


@pytest.mark.parametrize("path", PAGES)
def test_every_page_names_the_zone(path: str, consult: Consult, page_of: Any):
    page = page_of(PAGES[path], path.format(case=consult.uid))

    assert page.one("times").text == "Times: MST (UTC−7)"


def test_nobody_elses_times_are_touched_by_a_request(consult: Consult, page_of: Any):
    page_of("merrin", f"/cases/{consult.uid}/")

    assert timezone.get_current_timezone_name() == "UTC"


def test_the_zone_comes_with_what_is_read_anyway(consult: Consult, django_assert_num_queries: Any):
    user = account_of(consult.cast, "merrin")
    with django_assert_num_queries(1):
        assert access.actor_for_user(user, None, NOON).zone == DENVER
    with django_assert_num_queries(1):
        assert [row.zone for row in queries.board_cards(consult.cast.merrin.agency)] == [DENVER]


def test_an_alert_says_utc_where_it_is_kept_and_the_agencys_time_on_pages(consult: Consult, page_of: Any):
    consult.vitals(sbp=94, dbp=64)
    alerts.sweep(later(minutes=30))
    kept = next(alert["text"] for alert in consult.card["alerts"] if alert["kind"] == "no_contact")

    pages = [page_of("merrin", "/board/"), page_of("merrin", f"/cases/{consult.uid}/"), page_of("osk", "/crew/")]

    assert kept == "No data from unit since 12:00 UTC"
    for page in [*pages, page_of("averill", f"/history/{consult.uid}/")]:
        assert "No data from unit since 05:00" in page.text
        assert "UTC" not in page.text.replace("Times: MST (UTC−7)", "")


def test_a_persons_own_words_stay_as_they_are(consult: Consult, page_of: Any):
    notes.add_note(consult.cast.osk, consult.uid, {"id": uuid4(), "text": "hospital said 13:00 UTC"}, NOON)

    assert "hospital said 13:00 UTC" in page_of("merrin", f"/cases/{consult.uid}/").text


def test_a_refusal_of_the_api_says_utc_also_to_somebody_signed_in(consult: Consult, signed_in: Sign):
    order = consult.ask(30, by=consult.cast.merrin).resource.id
    path = f"/api/v1/orders/{order}/withdraw/"
    body = {"id": str(uuid4()), "reason": "not needed"}
    cases.close(consult.cast.osk, consult.uid, {"outcome": "died"}, NOON)

    answer = signed_in("merrin").post(path, body, content_type="application/json")

    assert (answer.status_code, "12:00:00 UTC" in answer.json()["detail"]) == (409, True)


class TestHistory:
    """In Denver 5 January begins at 07:00 UTC."""

    @pytest.fixture(autouse=True)
    def around_midnight(self, cast: Cast) -> None:
        open_consult(cast, complaint="before", opened_at=utc("2030-01-05 06:59:59"))
        open_consult(cast, complaint="after", opened_at=utc("2030-01-05 07:00:00"))

    @pytest.mark.parametrize(
        ("query", "complaints"),
        [("since=2030-01-05", ["after"]), ("until=2030-01-04", ["before"]), ("", ["after", "before"])],
    )
    def test_a_day_begins_at_the_agencys_midnight(self, query: str, complaints: list[str], page_of: Any):
        rows = page_of("averill", f"/history/?{query}").every("tr")[1:]

        assert [row.every("small")[-1].text for row in rows] == complaints
        assert {row.every("a")[0].text for row in rows} <= {"2030-01-05 00:00", "2030-01-04 23:59"}

    def test_the_zone_is_named_as_it_was_called_then(self, cast: Cast, page_of: Any):
        summer = open_consult(cast, complaint="summer", opened_at=utc("2029-07-01 12:00"))

        assert page_of("averill", "/history/").one("times").text == "Times: MDT (UTC−6), MST (UTC−7)"
        assert "opened 2029-07-01 06:00" in page_of("averill", f"/history/{summer.uid}/").text


class TestLabel:
    def test_it_bears_local_times_with_their_date_and_zone(self, consult: Consult, page_of: Any):
        path = f"/cases/{consult.uid}/label/epinephrine-push-dose/"

        label = page_of("osk", f"{path}?mixed=23:30").one("article")

        assert label.one("label-times").text == "Mixed 23:30 Discard 03:30 on 5 Jan or at handover"
        assert "4 Jan 2030, MST" in label.one("label-whose").text

    @pytest.mark.parametrize(
        ("stated", "now", "expected"),
        [
            ("23:59", "2030-01-05 07:01", "2030-01-05 06:59"),
            ("00:01", "2030-01-05 06:59:30", "2030-01-05 07:01"),
            ("01:30", "2030-11-03 08:45", "2030-11-03 08:30"),
            ("01:30", "2030-11-03 08:15", "2030-11-03 07:30"),
            ("01:50", "2030-03-10 09:05", "2030-03-10 08:50"),
            ("02:30", "2030-03-10 09:45", "2030-03-09 09:30"),
        ],
    )
    def test_hours_and_minutes_are_the_last_that_the_agencys_clock_showed(self, stated: str, now: str, expected: str):
        with zone.of(DENVER):
            assert labels.mixed_time(stated, utc(now)) == utc(expected)

    def test_four_hours_are_four_hours_where_the_clock_is_put(
        self, consult: Consult, page_of: Any, monkeypatch: pytest.MonkeyPatch
    ):
        monkeypatch.setattr(clock, "now", lambda: utc("2030-03-10 08:31"))

        label = page_of("osk", f"/cases/{consult.uid}/label/epinephrine-push-dose/?mixed=01:30").one("article")

        assert label.one("label-times").text == "Mixed 01:30 Discard 06:30 or at handover"


def test_what_a_signed_in_program_reads_is_in_utc(consult: Consult, signed_in: Sign):
    consult.vitals(sbp=74, dbp=44, at=earlier(minutes=5))

    card = signed_in("merrin").get(f"/api/v1/cases/{consult.uid}/").json()
    entry = signed_in("merrin").get(f"/api/v1/cases/{consult.uid}/journal/").json()["results"][-1]

    assert card["vitals"]["sbp"]["taken_at"] == "2030-01-05T11:55:00Z"
    assert (entry["at"], entry["received_at"]) == ("2030-01-05T11:55:00Z",) * 2


def test_a_finding_tells_when_a_rhythm_was_taken_in_the_agencys_time(consult: Consult, page_of: Any):
    consult.vitals(sbp=150, dbp=90, hr=130, rhythm="complete heart block")

    crew = page_of("osk", f"/crew/{consult.uid}/give/").text
    physician = page_of("merrin", f"/cases/{consult.uid}/").text

    told = "esmolol can stop the heart (rhythm at 05:00: complete heart block)"
    assert told in crew
    assert told in physician
