"""While you were away: what changed between a last look and the return, by case, until it is put away."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from consult import clock
from consult.actions import alerts, cases, looks, notes, orders
from consult.models import LastLook
from tests.conftest import Cast, Consult, later, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db


class Desk:
    """A person at the board, whose clock stands where a test puts it."""

    def __init__(self, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        self.client, self.patch = client, monkeypatch

    def at(self, now: datetime, path: str = "/board/") -> Element:
        self.patch.setattr(clock, "now", lambda: now)
        return read(self.client.get(path).text)

    def away(self, now: datetime, path: str = "/board/") -> list[str]:
        """The lines that the page tells, without their times."""
        told = self.at(now, path).every("away-cases")
        lists = [each for box in told for each in box.every("ol")]
        return [line.text.partition(" ")[2] for each in lists for line in each.every("li")]


@pytest.fixture
def desk(consult: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Merrin has looked at the board at noon, and gone."""
    desk = Desk(signed_in("merrin"), monkeypatch)
    assert desk.away(later(seconds=1)) == []
    return desk


def test_what_changed_is_told_on_return(consult: Consult, desk: Desk) -> None:
    consult.vitals(at=later(minutes=5), sbp=70, dbp=40)
    asked = consult.ask(at=later(minutes=6)).resource.id
    orders.decide(consult.cast.quillan, asked, {"decision": "approve", "reason": "agreed"}, later(minutes=7))
    consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=8), over_min=10)
    notes.change_phase(consult.cast.osk, consult.uid, {"at": later(minutes=9), "phase": "arrest"}, later(minutes=9))
    told = " / ".join(desk.away(later(minutes=20)))

    for words in (
        "High MAP critical",
        "Order requested",
        "Approved",
        "Given crystalloid",
        "Cardiac arrest",
    ):
        assert words in told, told
    assert "Pressure" not in told, "a reading stands on the card"


def test_whoever_comes_back_within_a_minute_has_missed_nothing(consult: Consult, desk: Desk) -> None:
    consult.ask(at=later(seconds=20))

    assert desk.away(later(seconds=50)) == []


def test_while_a_page_is_open_nothing_is_missed(consult: Consult, desk: Desk) -> None:
    """The process keeps how far the page holds each case; what came before that is no news."""
    consult.ask(at=later(minutes=5))
    held = [(consult.cast.merrin.membership, True, {str(consult.uid): consult.row.seq})]
    looks.note_heads(held, later(minutes=9))
    consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=11), over_min=10)

    told = " / ".join(desk.away(later(minutes=12)))
    assert "Given" in told
    assert "Order requested" not in told


@pytest.mark.parametrize("seen", ["by its process", "by the page that was just opened"])
def test_whoever_works_in_a_case_is_not_away_from_it(consult: Consult, desk: Desk, seen: str) -> None:
    """Of the other cases it is told all the same: nobody has seen them."""
    other = open_consult(consult.cast)
    case = f"/cases/{consult.uid}/"
    desk.at(later(minutes=4), case)
    desk.client.post("/away/seen/")
    if seen == "by its process":
        held = [(consult.cast.merrin.membership, False, {str(consult.uid): consult.row.seq})]
        looks.note_heads(held, later(minutes=8, seconds=40))
    else:
        desk.at(later(minutes=8, seconds=40), case)
    consult.ask(at=later(minutes=8, seconds=50))
    other.ask(at=later(minutes=8, seconds=50))

    if seen == "by its process":
        (of_other,) = desk.at(later(minutes=9, seconds=30)).one("away-cases").every("ol")
        assert "Order requested" in of_other.text
    assert desk.away(later(minutes=9, seconds=35), case) == []
    consult.ask(at=later(minutes=15))
    assert desk.away(later(minutes=20), case) != [], "once the page is closed the next is news"


def test_it_stays_until_it_is_put_away(consult: Consult, desk: Desk) -> None:
    consult.ask(at=later(minutes=5))
    first = desk.away(later(minutes=9))
    consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=9, seconds=10), over_min=10)

    assert desk.away(later(minutes=9, seconds=20)) == first, "what one sees happen is no part of it"
    assert desk.client.post("/away/seen/").status_code == 302
    assert desk.away(later(minutes=9, seconds=30)) == []
    consult.give("crystalloid-bolus", 250, "mL", at=later(minutes=12), over_min=10)
    assert "Given crystalloid bolus 250" in " / ".join(desk.away(later(minutes=15)))


def test_what_is_put_away_does_not_come_back(consult: Consult, desk: Desk) -> None:
    """Also without a live page: to put it away is a look."""
    consult.ask(at=later(minutes=5))
    assert desk.away(later(minutes=9))
    consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=11), over_min=10)
    desk.at(later(minutes=12))
    desk.client.post("/away/seen/")

    assert desk.away(later(minutes=20)) == []


def test_another_absence_begins_where_the_live_page_ended(consult: Consult, desk: Desk) -> None:
    """What was told before and stands unread is no part of it, nor is what was seen since."""
    consult.ask(at=later(minutes=5))
    assert "Order requested" in " / ".join(desk.away(later(minutes=9)))
    consult.give("crystalloid-bolus", 500, "mL", at=later(minutes=11), over_min=10)
    held = [(consult.cast.merrin.membership, True, {str(consult.uid): consult.row.seq})]
    looks.note_heads(held, later(minutes=12))
    notes.change_phase(consult.cast.osk, consult.uid, {"at": later(minutes=14), "phase": "arrest"}, later(minutes=14))

    told = " / ".join(desk.away(later(minutes=20)))
    assert "Cardiac arrest" in told
    assert "Order requested" not in told
    assert "Given" not in told
    assert "since 12:12" in desk.at(later(minutes=20)).one("section", id="away").text


def test_what_was_told_and_nothing_seen_since_is_told_again(consult: Consult, desk: Desk) -> None:
    consult.ask(at=later(minutes=5))
    first = desk.away(later(minutes=9))
    assert first
    assert desk.away(later(minutes=20)) == first


def test_it_is_one_line_until_it_is_opened(consult: Consult, desk: Desk) -> None:
    consult.ask(at=later(minutes=5))
    (folded,) = desk.at(later(minutes=9)).one("section", id="away").every("details")
    assert "open" not in folded.attributes
    assert "Kestrel 2" in folded.one("summary").text


def test_on_a_case_only_its_own_is_told_and_put_away(consult: Consult, desk: Desk) -> None:
    other = open_consult(consult.cast)
    consult.ask(at=later(minutes=5))
    other.ask(at=later(minutes=5))
    assert len(desk.at(later(minutes=9)).one("away-cases").every("ol")) == 2

    page = desk.at(later(minutes=9, seconds=5), f"/cases/{consult.uid}/")
    assert len(page.one("away-cases").every("ol")) == 1
    desk.client.post("/away/seen/", {"case": str(consult.uid)})
    assert desk.at(later(minutes=9, seconds=9), f"/cases/{consult.uid}/").every("away-cases") == []
    assert len(desk.at(later(minutes=9, seconds=9)).one("away-cases").every("ol")) == 1


def test_a_case_that_ended_or_began_meanwhile_is_told(consult: Consult, desk: Desk) -> None:
    cases.handover(consult.cast.osk, consult.uid, {"to": "Ashgrove"}, later(minutes=5))
    open_consult(consult.cast, complaint="fell")
    told = " / ".join(desk.away(later(minutes=9)))

    assert "Handed over to Ashgrove" in told
    assert "Case opened" in told


def test_what_one_did_oneself_is_no_news(consult: Consult, desk: Desk) -> None:
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, later(minutes=2))

    assert desk.away(later(minutes=4)) == []


def test_many_changes_are_counted_and_cost_no_more_queries(consult: Consult, desk: Desk, cast: Cast) -> None:
    def queries(now: datetime) -> tuple[int, Element]:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            page = desk.at(now)
        return len(captured), page

    consult.ask(at=later(minutes=3))
    few, _ = queries(later(minutes=10))
    for _ in range(4):
        another = open_consult(cast)
        for minute in range(8):
            another.give("crystalloid-bolus", 50, "mL", at=later(minutes=11 + minute), over_min=5)
    many, page = queries(later(minutes=30))

    assert many <= few
    assert " more" in page.one("away-cases").text
    assert all(len(each.every("li")) <= 8 for each in page.one("away-cases").every("ol"))


def test_programs_keep_no_last_look(consult: Consult, cast: Cast) -> None:
    assert looks.returned(cast.merrin, later(minutes=1)) is None
    assert not LastLook.objects.exists()
    looks.dismiss(cast.merrin, later(minutes=1))


def test_time_alone_is_told_too(consult: Consult, desk: Desk) -> None:
    alerts.sweep(later(minutes=3))

    assert "Medium No physician has control" in " / ".join(desk.away(later(minutes=9)))


def test_another_agency_is_told_nothing(consult: Consult, desk: Desk, signed_in: Sign) -> None:
    theirs = Desk(signed_in("vane"), desk.patch)
    assert theirs.away(later(seconds=1)) == []
    consult.ask(at=later(minutes=5))

    assert theirs.away(later(minutes=20)) == []
