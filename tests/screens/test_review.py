"""Looking back: the list finds cases, the replay shows what was stored then; no crew may do either."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries, review
from consult.actions import alerts, cases, corrections, notes, orders, questions, read_back
from consult.models import AccessRecord, Alert, Case
from consult.render import card_html
from consult.screens import review as screen
from tests.conftest import ADULT, NOON, Consult, child, earlier, later, open_consult
from tests.consult.test_containers import change, hang
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db


def page_of(signed_in: Sign, path: str, who: str = "averill") -> Element:
    answer = signed_in(who).get(path)
    assert answer.status_code == 200
    return read(answer.text)


def found(page: Element) -> list[str]:
    """The complaints of the cases listed, in order."""
    return [row.every("small")[-1].text for row in page.every("tr")[1:]]


@pytest.mark.parametrize("path", ["/history/", "/history/{case}/", "/history/{case}/card/1/"])
@pytest.mark.parametrize(
    ("who", "status"),
    [("averill", 200), ("sorrel", 200), ("osk", 403), ("tarn", 403)],
)
def test_supervisors_and_directors_look_back(path: str, who: str, status: int, consult: Consult, signed_in: Sign):
    assert signed_in(who).get(path.format(case=consult.uid)).status_code == status


@pytest.mark.parametrize("path", ["/history/", "/history/{case}/"])
def test_every_page_carries_the_caution(path: str, consult: Consult, signed_in: Sign):
    page = page_of(signed_in, path.format(case=consult.uid))

    assert "local protocol and the licensed clinician decide" in page.one("foot").text
    assert "not approved" in page.one("caution-tag").text


class TestList:
    @pytest.fixture(autouse=True)
    def past(self, consult: Consult) -> None:
        """Three cases: septic at 11:40 outside limits, a child at 10:00, a bleeding one on the day before."""
        consult.give("epinephrine-push-dose", 40, "mcg")
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        open_consult(
            consult.cast, child(5, 18), complaint="vomiting", opened_at=earlier(hours=2), impression="hypovolemic"
        )
        open_consult(consult.cast, complaint="fell", opened_at=earlier(days=1), impression="hemorrhagic")

    def test_a_dose_outside_limits_that_nobody_acknowledged_is_marked(self, consult: Consult, signed_in: Sign):
        cases.close(consult.cast.osk, consult.uid, {"outcome": "handed_over"}, later(minutes=1))
        marks = page_of(signed_in, "/history/").every("found")[0].every("a")
        assert [mark.attributes["href"] for mark in marks if mark.text == "not acknowledged"] == [
            f"/cases/{consult.uid}/"
        ]

        alert = Alert.objects.get(kind="dose_outside_limits")
        alerts.acknowledge(consult.cast.averill, alert.uid, {}, later(minutes=2))
        assert "not acknowledged" not in page_of(signed_in, "/history/").text

    def test_it_is_newest_first(self, signed_in: Sign):
        assert found(page_of(signed_in, "/history/")) == ["weak, pale", "vomiting", "fell"]

    @pytest.mark.parametrize(
        ("query", "complaints"),
        [
            pytest.param("q=VOM", ["vomiting"], id="text in the complaint"),
            pytest.param("impression=hemorrhagic", ["fell"], id="impression"),
            pytest.param("outside=on", ["weak, pale"], id="outside limits"),
            pytest.param("state=ended", [], id="ended"),
            pytest.param("state=open&q=fell", ["fell"], id="still open"),
            pytest.param("alert=dose_outside_limits", ["weak, pale"], id="kind of alert"),
            pytest.param("since=2030-01-05", ["weak, pale", "vomiting"], id="from a day on"),
            pytest.param("until=2030-01-04", ["fell"], id="to the end of a day"),
            pytest.param("since=2030-01-04&until=2030-01-04&q=weak", [], id="several at once"),
        ],
    )
    def test_filters_narrow_it(self, query: str, complaints: list[str], signed_in: Sign):
        assert found(page_of(signed_in, f"/history/?{query}")) == complaints

    def test_unit_and_physician_are_offered_and_narrow_it(self, consult: Consult, signed_in: Sign):
        page = page_of(signed_in, "/history/")
        units = {option.text: option.attributes["value"] for option in page.one(id="id_unit").every("option")}

        assert set(units) == {"Any", "Kestrel 2", "Plover 8"}
        assert found(page_of(signed_in, f"/history/?unit={units['Plover 8']}")) == []
        assert found(page_of(signed_in, f"/history/?physician={consult.cast.merrin.membership}")) == ["weak, pale"]

    def test_who_had_part_before_stands_beside_who_has_it_now(self, consult: Consult, signed_in: Sign):
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4(), "take_over": True}, later(minutes=1))
        lund = {"id": uuid4(), "unit": consult.cast.lund.unit, "at": later(minutes=2)}
        cases.move(consult.cast.osk, consult.uid, lund, later(minutes=2))

        (row,) = page_of(signed_in, f"/history/?physician={consult.cast.merrin.membership}").every("tr")[1:]

        assert row.every("td")[1].text == "Plover 8 A before Kestrel 2"
        assert row.every("td")[4].text == "Dr. Quillan also Dr. Merrin"

    def test_a_filter_that_makes_no_sense_is_told_and_finds_nothing(self, signed_in: Sign):
        page = page_of(signed_in, "/history/?since=soon")

        assert "Enter a valid date" in page.one("problem").text
        assert "Correct the filter" in page.one("empty").text

    def test_another_agencys_cases_are_not_there(self, consult: Consult, signed_in: Sign):
        there = {"id": uuid4(), "opened_at": NOON, "patient": ADULT, "complaint": "not yours"}
        cases.open_case(consult.cast.tarn, there, NOON)

        assert "not yours" not in found(page_of(signed_in, "/history/"))
        assert signed_in("averill").get(f"/history/{there['id']}/").status_code == 404

    def test_pages_follow_each_other_without_gap_or_repeat(self, signed_in: Sign, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(screen, "PAGE", 2)

        first = page_of(signed_in, "/history/?q=")
        older = first.one("paging").one("a").attributes["href"]
        second = page_of(signed_in, f"/history/{older}")

        assert found(first) == ["weak, pale", "vomiting"]
        assert found(second) == ["fell"]
        assert second.one("paging").text == "Newest"

    def test_cases_opened_in_the_same_moment_are_on_one_page_each(
        self, consult: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
    ):
        monkeypatch.setattr(screen, "PAGE", 1)
        Case.objects.update(opened_at=NOON)
        seen, path = [], "/history/"
        for _ in range(3):
            page = page_of(signed_in, path)
            seen += found(page)
            path = (
                f"/history/{page.one('paging').every('a')[-1].attributes['href']}" if page.one("paging").text else path
            )

        assert sorted(seen) == ["fell", "vomiting", "weak, pale"]

    def test_the_newest_review_stands_beside_its_case(self, consult: Consult, signed_in: Sign):
        for outcome in ("learning", "follow_up"):
            data = {"id": uuid4(), "text": "seen", "outcome": outcome}
            notes.add_review(consult.cast.averill, consult.uid, data, NOON)

        rows = page_of(signed_in, "/history/").every("tr")[1:]

        assert [row.every("td")[-1].text for row in rows] == ["follow up", "not yet", "not yet"]


class TestReplay:
    def test_it_shows_the_stored_card_not_todays(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=74, dbp=44, at=NOON)
        seq = consult.row.seq
        consult.vitals(sbp=120, dbp=80, at=later(minutes=5))

        then, now = (page_of(signed_in, f"/history/{consult.uid}/?seq={each}") for each in (seq, consult.row.seq))

        assert then.one("map-value").text == "54"
        assert now.one("map-value").text == "93"

    def test_it_computes_nothing(self, consult: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch):
        from consult.actions import carry_out

        consult.vitals(sbp=74, dbp=44)
        monkeypatch.setattr(carry_out, "card_of", lambda *_: pytest.fail("a card was built"))

        assert page_of(signed_in, f"/history/{consult.uid}/?seq=2").one("map-value").text == "54"

    def test_it_says_that_it_is_a_replay_and_where_its_clock_stands(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=74, dbp=44, at=earlier(minutes=3), now=later(minutes=1))

        page = page_of(signed_in, f"/history/{consult.uid}/?seq=2")

        assert page.one("replay-tag").text == "Replay, not live entry 2 of 3, clock stands at 12:01:00"
        assert "a dense board leaves out the large trend and" in page.one("foot").text

    def test_the_journal_marks_the_current_entry_and_those_ahead(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=112, dbp=70)
        consult.vitals(sbp=110, dbp=70, at=later(minutes=2))

        lines = page_of(signed_in, f"/history/{consult.uid}/?seq=2").one("journal").every("li")

        assert [line.attributes.get("aria-current") for line in lines] == [None, "step", None]
        assert ["data-ahead" in line.attributes for line in lines] == [False, False, True]
        assert "+ 2 min" in lines[2].text

    def test_a_reading_that_was_sent_later_says_when_it_was_taken(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=90, dbp=50, at=later(seconds=17), now=later(minutes=2))
        consult.vitals(sbp=92, dbp=50, at=later(minutes=2, seconds=50), now=later(minutes=3))

        page = page_of(signed_in, f"/history/{consult.uid}/")
        late, soon = (line.text for line in page.one("journal").every("li") if "50 mmHg" in line.text)
        assert "taken 12:00:17" in late
        assert "taken" not in soon

    def test_late_and_wrong_entries_are_marked(self, consult: Consult, signed_in: Sign):
        wrong = consult.vitals(sbp=174, dbp=94, at=earlier(minutes=15), now=later(minutes=1)).resource.id
        target = {"kind": "vitals", "id": wrong}
        marked = {"id": uuid4(), "target": target, "reason": "Wrong number"}
        corrections.correct(consult.cast.osk, consult.uid, marked, later(minutes=2))

        lines = page_of(signed_in, f"/history/{consult.uid}/").one("journal").every("li")
        line = next(line for line in lines if "174/94" in line.text)

        assert "entered in error Wrong number" in line.text
        assert "late, happened 11:45:00" in line.text
        assert line.every("entered-in-error")

    def test_nothing_on_the_card_can_be_pressed(self, consult: Consult, signed_in: Sign):
        consult.ask()

        frame = page_of(signed_in, f"/history/{consult.uid}/").one("replay-card")

        assert frame.name == "fieldset"
        assert "disabled" in frame.attributes
        assert frame.every("button")

    @pytest.mark.parametrize(("asked", "shown"), [("0", "1"), ("999999", "last"), ("x", "1"), ("", "1")])
    def test_an_entry_that_is_not_there_leads_to_the_nearest(
        self, asked: str, shown: str, consult: Consult, signed_in: Sign
    ):
        consult.vitals(sbp=112, dbp=70)
        expected = str(consult.row.seq) if shown == "last" else shown

        page = page_of(signed_in, f"/history/{consult.uid}/?seq={asked}")

        assert page.one(id="replay").attributes["data-seq"] == expected

    def test_the_card_alone_is_served_for_stepping(self, consult: Consult, signed_in: Sign):
        client = signed_in("averill")

        assert client.get(f"/history/{consult.uid}/card/1/").text.startswith("<article")
        assert client.get(f"/history/{consult.uid}/card/99/").status_code == 404

    def test_opening_it_is_on_record(self, consult: Consult, signed_in: Sign):
        page_of(signed_in, f"/history/{consult.uid}/")

        record = AccessRecord.objects.get()
        assert (record.by_id, record.what) == (consult.cast.averill.membership, "replay")

    def test_the_whole_journal_is_there_however_long(self, consult: Consult, monkeypatch: pytest.MonkeyPatch):
        for minute in range(5):
            notes.add_note(consult.cast.osk, consult.uid, {"id": uuid4(), "text": "on scene"}, later(minutes=minute))
        whole = screen.whole_journal(consult.row)

        monkeypatch.setattr(screen.queries, "journal", lambda case, after: _two_at_a_time(case, after))

        assert screen.whole_journal(consult.row) == whole
        assert [entry["seq"] for entry in whole] == list(range(1, consult.row.seq + 1))

    def test_reviews_are_listed_and_a_form_takes_another(self, consult: Consult, signed_in: Sign):
        data = {"id": uuid4(), "text": "infusion could have come sooner", "outcome": "learning"}
        notes.add_review(consult.cast.averill, consult.uid, data, NOON)

        page = page_of(signed_in, f"/history/{consult.uid}/")

        assert "learning infusion could have come sooner N. Averill" in page.one(id="reviews").text
        outcomes = {each.attributes["value"] for each in page.every("input", name="outcome")}
        assert outcomes == {"no_concern", "learning", "follow_up"}


_journal = queries.journal


def test_a_stored_card_says_that_its_check_is_the_one_made_as_asked(consult: Consult, at_noon: None):
    """A live board checks a request anew with each pressure; what was stored is the check of the request."""
    consult.vitals(sbp=75, dbp=57)
    consult.ask(30)
    consult.vitals(at=later(minutes=4), sbp=199, dbp=46)

    made = read(card_html(consult.card)).one("made-with")

    assert made.text == "as requested: checked 12:00:00 with MAP 63"


def _two_at_a_time(case: Case, after: int) -> list[dict[str, Any]]:
    return _journal(case, after, 2)


class TestWords:
    def test_who_accepts_control_is_named_once_and_from_whom(self, consult: Consult):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4(), "take_over": True}, later(seconds=5))
        cases.release(consult.cast.quillan, consult.uid, {"id": uuid4(), "reason": "called away"}, later(seconds=9))

        *_, first, second, third = review.replay_lines(queries.journal(consult.row))
        assert [(line["lead"], line["text"], line["by"]) for line in (first, second, third)] == [
            ("Control accepted", "", "Dr. Merrin"),
            ("Control accepted", "from Dr. Merrin", "Dr. Quillan"),
            ("Control given up", "called away", "Dr. Quillan"),
        ]

    def test_what_is_escalated_says_what_the_alert_told(self, consult: Consult):
        """Of a read-back that waits and of an instruction the kind of the alert is one."""
        told = {"id": uuid4(), "at": NOON, "text": "Sit her up."}
        questions.instruct(consult.cast.merrin, consult.uid, told, NOON)
        for minute in (2, 5):
            alerts.sweep(later(minutes=minute))

        lines = review.replay_lines(queries.journal(consult.row))
        escalated = [line["text"] for line in lines if line["lead"] == "Escalated"]
        assert any(text.startswith("Instruction not") and ", to " in text for text in escalated), escalated


class TestOrderTimes:
    def test_a_new_rate_is_carried_out_when_it_is_set(self, consult: Consult):
        consult.vitals(sbp=80, dbp=40)
        drip = hang(consult)
        rate = {"amount": {"value": 12, "unit": "mcg/min"}}
        about = {"treatment": "norepinephrine-infusion", "action": "change", **rate}
        asked = {"id": uuid4(), "at": NOON, "reason": "low", "intervention": drip, **about}
        order = orders.request_order(consult.cast.merrin, consult.uid, asked, NOON).resource.id
        read_back.read_back(consult.cast.osk, UUID(order), {"id": uuid4(), **about}, later(seconds=20))
        change(consult, drip, later(seconds=50), **rate)

        (told,) = review.order_times(queries.journal(consult.row))

        steps = {step["name"]: step["took"] for step in told["steps"]}
        assert steps == {"Read back": "20 s", "Carried out": "30 s"}

    def test_each_step_is_measured_from_the_one_before(self, consult: Consult):
        order = consult.ask(30).resource.id
        merrin, osk = consult.cast.merrin, consult.cast.osk
        question = {"id": uuid4(), "decision": "ask", "text": "weight?"}
        orders.decide(merrin, order, question, later(seconds=20))
        orders.decide(merrin, order, {"id": uuid4(), "decision": "approve"}, later(seconds=48))
        right = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": {"value": 30, "unit": "mcg"}}
        wrong = {**right, "route": "IO"}
        read_back.read_back(osk, order, {"id": uuid4(), **wrong}, later(seconds=60))
        read_back.read_back(osk, order, {"id": uuid4(), **right}, later(seconds=73))
        consult.give("epinephrine-push-dose", 30, "mcg", at=later(minutes=2), order=order)

        (told,) = review.order_times(queries.journal(consult.row))

        assert [(step["name"], step["took"]) for step in told["steps"]] == [
            ("Decided", "48 s"),
            ("Read back", "25 s"),
            ("Given", "47 s"),
        ]

    def test_a_changed_order_is_named_as_ordered(self, consult: Consult):
        order = consult.ask(30).resource.id
        change = {"id": uuid4(), "decision": "change", "amount": {"value": 15, "unit": "mcg"}, "reason": "less first"}
        orders.decide(consult.cast.merrin, order, change, later(seconds=20))

        (told,) = review.order_times(queries.journal(consult.row))

        assert told["shown"] == "EPINEPHrine push dose 15 mcg IV, asked for EPINEPHrine push dose 30 mcg IV"

    def test_a_request_nobody_answered_has_no_steps(self, consult: Consult):
        consult.ask(30)

        (told,) = review.order_times(queries.journal(consult.row))

        assert (told["steps"], told["none"]) == ([], "No decision")

    def test_an_order_that_a_physician_gave_unasked_lacks_no_decision(self, consult: Consult):
        dose = {"treatment": "epinephrine-push-dose", "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
        placed = {"id": uuid4(), "at": NOON, "reason": "no response to fluid", **dose}
        orders.request_order(consult.cast.merrin, consult.uid, placed, NOON)

        (told,) = review.order_times(queries.journal(consult.row))

        assert (told["steps"], told["none"]) == ([], "Never read back")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (-5, "0 s"),
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (125, "2 min 05 s"),
        (3600, "1 h 00 min"),
        (3900, "1 h 05 min"),
    ],
)
def test_a_length_of_time_is_written_in_words(seconds: int, text: str):
    assert review.length_text(timedelta(seconds=seconds)) == text


def test_what_came_in_the_same_moment_has_no_time_between():
    moment = datetime(2030, 1, 5, tzinfo=UTC)

    assert review.since_text(moment, None) == ""
    assert review.since_text(moment, moment) == ""
    assert review.since_text(moment + timedelta(seconds=40), moment) == "+ 40 s"
