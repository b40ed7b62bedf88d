"""What became of orders, as the crew's pages tell it: on every page, in the list of ended ones, before a case ends."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import clock
from consult.actions import alerts, cases, orders, questions, read_back
from consult.screens.crew_news import news
from tests.conftest import ADULT, NOON, Consult, later, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read
from tests.screens.test_crew import CASE_PAGES

pytestmark = pytest.mark.django_db

PUSH = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": {"value": 30, "unit": "mcg"}}
DOSE = "EPINEPHrine push dose 30 mcg IV"


@pytest.fixture(autouse=True)
def _at_a_minute_past_noon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: later(minutes=1))


def page_of(signed_in: Sign, consult: Consult, path: str, who: str = "osk") -> Element:
    return read(signed_in(who).get(f"/crew/{consult.uid}/{path}").text)


def decide(consult: Consult, order: UUID, decision: str, **more: Any) -> None:
    data = {"id": uuid4(), "decision": decision, **more}
    orders.decide(consult.cast.merrin, order, data, NOON)


def brought_to(consult: Consult, how: str) -> UUID:
    """An order of 30 mcg, brought to where the crew is told of it."""
    if how == "ordered":
        return UUID(consult.ask(30, by=consult.cast.merrin).resource.id)
    order = UUID(consult.ask(30).resource.id)
    if how in ("approved", "expired", "read back"):
        decide(consult, order, "approve", reason="as agreed")
    if how == "changed":
        decide(consult, order, "change", amount={"value": 25, "unit": "mcg"}, reason="start lower")
    if how == "declined":
        decide(consult, order, "decline", reason="fluid first")
    if how in ("asked", "answered"):
        decide(consult, order, "ask", text="Lungs clear?")
    if how == "answered":
        orders.answer(consult.cast.osk, order, {"id": uuid4(), "text": "clear"}, NOON)
    if how == "expired":
        alerts.sweep(later(minutes=11))
    if how == "read back":
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **PUSH}, NOON)
    if how.startswith("withdrawn by"):
        who = getattr(consult.cast, how.split()[-1])
        orders.withdraw(who, order, {"id": uuid4(), "reason": "pressure came up"}, NOON)
    if how.startswith("ended by"):
        cases.close(getattr(consult.cast, how.split()[-1]), consult.uid, {"id": uuid4(), "outcome": "moved"}, NOON)
    return order


# What happened, what the banner says, and to which page of the order it leads; None: it is no news to J. Osk.
NEWS = [
    ("approved", f"APPROVED {DOSE}", "readback/"),
    ("changed", "CHANGED EPINEPHrine push dose: 25, not 30 mcg", "readback/"),
    ("ordered", f"ORDERED {DOSE}", "readback/"),
    ("asked", "QUERY Lungs clear?", "answer/"),
    ("declined", f"DECLINED: do not give {DOSE}", ""),
    ("expired", f"EXPIRED: do not give {DOSE}, ordered 12:00:00", ""),
    ("withdrawn by merrin", f"WITHDRAWN: do not give {DOSE}", ""),
    ("ended by merrin", f"WITHDRAWN: do not give {DOSE}", ""),
    ("withdrawn by osk", None, ""),
    ("ended by osk", None, ""),
    ("answered", None, ""),
    ("requested", None, ""),
    ("read back", None, ""),
]


@pytest.mark.parametrize(("how", "words", "leads"), NEWS, ids=[how for how, _, _ in NEWS])
def test_the_banner_says_what_happened_and_leads_on(
    consult: Consult, signed_in: Sign, how: str, words: str | None, leads: str
):
    order = brought_to(consult, how)
    items = page_of(signed_in, consult, "vitals/").every("news-item")

    assert len(items) == (words is not None)
    if words is not None:
        whose = "58 y male, 80 kg measured, a case that has ended: " if how.startswith("ended") else ""
        assert items[0].one("news-what").text == f"{whose}{words}"
        assert items[0].one("a").attributes["href"] == f"/crew/{consult.uid}/orders/{order}/{leads}"


def test_a_query_leads_to_where_its_answer_is_typed(consult: Consult, signed_in: Sign):
    brought_to(consult, "asked")
    led = page_of(signed_in, consult, "vitals/").one("news-item").one("a").attributes["href"] or ""
    page = read(signed_in("osk").get(led).text)

    assert "Lungs clear?" in page.one("h1").text
    assert page.one("form", id="entry").one("textarea").attributes["name"] == "text"


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ("changed", "Dr. Merrin says: start lower"),
        ("changed", "Approved with a change by Dr. Merrin at 12:00:00"),
        ("declined", "Declined by Dr. Merrin at 12:00:00: fluid first"),
        ("withdrawn by merrin", "Withdrawn by Dr. Merrin at 12:00:00: pressure came up"),
        ("ended by merrin", "Withdrawn by Dr. Merrin at 12:00:00: case ended"),
        ("expired", "Expired at 12:10:00: not read back"),
    ],
)
def test_it_says_who_when_and_why(consult: Consult, signed_in: Sign, how: str, why: str):
    brought_to(consult, how)

    assert why in page_of(signed_in, consult, "vitals/").one("news-item").text


@pytest.mark.parametrize("path", ["/crew/", "/crew/open/", *(f"/crew/{{case}}/{page}" for page in CASE_PAGES)])
def test_it_stands_on_every_page(consult: Consult, signed_in: Sign, path: str):
    brought_to(consult, "declined")
    page = read(signed_in("osk").get(path.format(case=consult.uid)).text)

    assert "DECLINED: do not give" in page.one("news-item").text
    assert str(consult.uid) in (page.one("body").attributes["data-cases"] or "")


def test_an_ended_case_hides_no_news_of_the_open_one_and_says_what_it_is(consult: Consult, signed_in: Sign):
    brought_to(consult, "ended by merrin")
    running = open_consult(consult.cast, {**ADULT, "sex": "female", "label": "B"})
    brought_to(running, "ordered")
    first, second = page_of(signed_in, running, "vitals/").every("news-item")

    assert first.text.startswith("ORDERED")
    assert second.text.startswith("58 y male, 80 kg measured, a case that has ended: WITHDRAWN")


def test_of_the_patient_on_the_page_nobody_is_named_and_of_another_who_it_is(consult: Consult, signed_in: Sign):
    """The patient stands right above; two lines hold the order then."""
    other = open_consult(consult.cast, {**ADULT, "sex": "female", "label": "B"})
    brought_to(other, "declined")
    told = [page_of(signed_in, each, "vitals/").one("news-what").text for each in (other, consult)]

    assert told == [f"DECLINED: do not give {DOSE}", f"58 y female B, 80 kg measured: DECLINED: do not give {DOSE}"]


# What is news, and what stands beside it: where it leads on, or that it is known; the other is folded with the reason.
@pytest.mark.parametrize(
    ("how", "first", "folded"),
    [
        ("ordered", "Read it back", "Noted, stay here"),
        ("asked", "Answer it", "Noted, stay here"),
        ("declined", "Noted, stay here", "See the order"),
        ("expired", "Noted, stay here", "See the order"),
    ],
)
def test_one_button_stands_beside_the_words(consult: Consult, signed_in: Sign, how: str, first: str, folded: str):
    brought_to(consult, how)
    item = page_of(signed_in, consult, "vitals/").one("news-item")
    parts = [each for each in item.every() if each.words & {"news-open", "quiet-big", "news-why"}]

    assert [(each.words & {"news-open", "news-why"} and "words") or each.text for each in parts] == [
        "words",
        first,
        "words",
        folded,
    ]


def test_another_unit_is_told_nothing(consult: Consult, signed_in: Sign):
    brought_to(consult, "declined")

    assert not read(signed_in("lund").get("/crew/").text).every("news-item")


def test_beside_a_read_back_it_says_nothing_to_copy(consult: Consult, signed_in: Sign):
    own, other = brought_to(consult, "approved"), brought_to(consult, "approved")
    brought_to(consult, "declined")
    items = page_of(signed_in, consult, f"orders/{own}/readback/").every("news-item")

    assert [item.one("news-order").text for item in items] == [
        "another order",
        "EPINEPHrine push dose",
    ]
    assert not any("30" in item.text for item in items)
    assert str(other) in (items[0].one("a").attributes["href"] or "")


@pytest.mark.parametrize("path", ["", "orders/"])
@pytest.mark.parametrize(
    ("how", "told"),
    [
        ("declined", "Declined by Dr. Merrin at 12:00:00: fluid first"),
        ("withdrawn by merrin", "Withdrawn by Dr. Merrin at 12:00:00: pressure came up"),
        ("withdrawn by osk", "Withdrawn by J. Osk at 12:00:00: pressure came up"),
        ("expired", "Expired at 12:10:00: not read back"),
        ("ended by osk", "Withdrawn by J. Osk at 12:00:00: case ended"),
    ],
)
def test_ended_orders_stay_listed(consult: Consult, signed_in: Sign, path: str, how: str, told: str):
    brought_to(consult, how)
    listed = page_of(signed_in, consult, path).one("section", data_part="ended").text

    assert DOSE in listed
    assert told in listed


@pytest.mark.parametrize(
    ("how", "steps"),
    [
        ("requested", ["requested+", "awaiting decision!", "read back", "given"]),
        ("approved", ["requested+", "ordered+", "awaiting read-back!", "given"]),
        ("read back", ["requested+", "ordered+", "read back+", "to be given!"]),
        ("declined", ["requested+", "ordered", "read back", "given"]),
        ("expired", ["requested+", "ordered+", "read back", "given"]),
        ("ordered", ["ordered+", "awaiting read-back!", "given"]),
    ],
)
def test_what_is_done_is_marked_and_what_is_open_is_worded(
    consult: Consult, signed_in: Sign, how: str, steps: list[str]
):
    order = brought_to(consult, how)
    shown = page_of(signed_in, consult, f"orders/{order}/").one("steps").every("li")

    assert [_marked(step) for step in shown] == steps
    if how not in ("declined", "expired"):
        desk = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).one("steps").every("li")
        assert [_marked(step) for step in desk] == steps


def _marked(step: Element) -> str:
    return step.text + ("+" if "data-done" in step.attributes else "!" if "aria-current" in step.attributes else "")


def test_before_the_case_ends_the_page_says_what_that_withdraws(consult: Consult, signed_in: Sign):
    assert not page_of(signed_in, consult, "handover/").every("paper", data_part="ends")
    brought_to(consult, "approved")

    told = page_of(signed_in, consult, "handover/").one("div", data_part="ends").text
    assert told == f"Handing over or closing withdraws what is still open: {DOSE}. The physician is told."
    desk = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)
    for name in ("handover", "close"):
        assert f"withdraws what is still open: {DOSE}" in desk.one("form", data_name=name).text


def test_the_physician_reads_what_became_of_orders_on_the_case_page(consult: Consult, signed_in: Sign):
    brought_to(consult, "expired")
    page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)

    assert "Expired at 12:10:00: not read back" in page.one("section", data_part="ended").text
    (alarm,) = [each.text for each in page.every("alarm") if "NOT GIVEN" in each.text]
    assert f"High: NOT GIVEN: {DOSE}, order by Dr. Merrin expired 12:10, not read back" in alarm


def test_the_card_shows_it_until_somebody_takes_notice(consult: Consult, signed_in: Sign):
    brought_to(consult, "expired")

    assert f"NOT GIVEN: {DOSE}" in read(signed_in("merrin").get("/board/").text).one("alarm").text


class TestTheLineOfWhatStandsHigh:
    @pytest.mark.parametrize("path", ["vitals/", "give/", "give/epinephrine-push-dose/", "orders/", "note/"])
    def test_stands_on_the_pages_on_which_a_crew_works(self, consult: Consult, signed_in: Sign, path: str):
        assert page_of(signed_in, consult, path).one("high-line").text == ""
        consult.vitals(sbp=62, dbp=38, bp_method="cuff")

        assert page_of(signed_in, consult, path).one("high-line").text.startswith("High: MAP critical, goal 65")

    def test_a_page_that_shows_the_alerts_themselves_has_none(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=62, dbp=38, bp_method="cuff")

        assert page_of(signed_in, consult, "").one("high-line").text == ""

    def test_what_is_not_high_is_left_to_the_page_of_the_case(self, consult: Consult, signed_in: Sign):
        for minute in (0, 1):
            consult.vitals(at=later(minutes=minute), sbp=85, dbp=48, bp_method="cuff")

        assert page_of(signed_in, consult, "vitals/").one("high-line").text == ""

    def test_another_patient_of_the_unit_is_named_and_comes_after_the_one_of_the_page(
        self, consult: Consult, signed_in: Sign
    ):
        other = open_consult(consult.cast, {**ADULT, "sex": "female", "label": "B"})
        other.vitals(sbp=62, dbp=38, bp_method="cuff")
        line = page_of(signed_in, consult, "vitals/").one("high-line").text
        assert line.startswith("High, 58 y female B, 80 kg measured: MAP critical, goal 65")

        consult.vitals(spo2=70)
        line = page_of(signed_in, consult, "vitals/").one("high-line").text
        assert line.startswith("High: SpO2")
        assert line.endswith(", and 1 more")

    def test_all_that_is_measured_is_told_in_its_words(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=222, dbp=90, bp_method="cuff")

        line = page_of(signed_in, consult, "vitals/").one("high-line").text
        assert line.startswith("High: Systolic dangerously high (220 or more)")

    def test_beside_a_read_back_it_says_nothing_to_copy(self, consult: Consult, signed_in: Sign):
        order = brought_to(consult, "approved")
        read_back.read_back(
            consult.cast.osk, order, {"id": uuid4(), **PUSH, "amount": {"value": 300, "unit": "mcg"}}, NOON
        )
        line = page_of(signed_in, consult, f"orders/{order}/readback/").one("high-line").text

        assert line.strip() == "High: Read-back mismatch"
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **PUSH}, NOON)
        assert page_of(signed_in, consult, "vitals/").one("high-line").text.strip() == ""


class TestWhoHasControl:
    """A crew whose physician has gone asks somebody who does not look any more."""

    def told(self, consult: Consult) -> list[str]:
        return [f"{item['lead']} {item['what']}" for item in news(consult.cast.osk, later(minutes=1))]

    def test_that_the_first_physician_takes_it_is_no_news(self, consult: Consult):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)

        assert self.told(consult) == []

    def test_that_it_was_given_up_is_told_with_its_reason(self, consult: Consult, signed_in: Sign):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        cases.release(consult.cast.merrin, consult.uid, {"id": uuid4(), "reason": "called to the ward"}, NOON)

        assert self.told(consult) == ["NO PHYSICIAN: Dr. Merrin gave up control: the other physicians are asked"]
        assert "called to the ward" in page_of(signed_in, consult, "vitals/").one("news-item").text

    @pytest.mark.parametrize("given_up", [True, False])
    def test_that_another_has_it_is_told_once_for_what_was_before(self, given_up: bool, consult: Consult):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        if given_up:
            cases.release(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4(), "take_over": True}, NOON)

        assert self.told(consult) == ["CONTROL PASSED: Dr. Quillan has control now"]

    def test_after_half_an_hour_it_is_news_no_more(self, consult: Consult):
        cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
        cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4(), "take_over": True}, NOON)

        assert news(consult.cast.osk, later(minutes=31)) == []


class TestWhatComesFirst:
    def test_is_the_newest_that_is_to_be_done_then_what_is_to_be_known(self, consult: Consult):
        """A newer refusal waits behind an order, an older withdrawal behind a newer order."""
        cast = consult.cast
        consult.vitals(sbp=80, dbp=40)
        asked, withdrawn = (UUID(consult.ask(30).resource.id) for _ in range(2))
        orders.withdraw(cast.merrin, withdrawn, {"id": uuid4(), "reason": "pressure came up"}, later(seconds=10))
        consult.ask(20, by=cast.merrin, at=later(seconds=20))
        no = {"id": uuid4(), "decision": "decline", "reason": "fluid first"}
        orders.decide(cast.merrin, asked, no, later(seconds=30))

        leads = [item["lead"].split(":")[0] for item in news(cast.osk, later(minutes=1))]
        assert leads == ["ORDERED", "WITHDRAWN", "DECLINED"]

    def test_to_a_unit_that_took_the_patient_over_is_that_it_did_and_nothing_that_ended_before(self, consult: Consult):
        cast = consult.cast
        consult.vitals(sbp=80, dbp=40)
        own, gone = (UUID(consult.ask(dose, by=cast.merrin).resource.id) for dose in (20, 30))
        told = {"id": uuid4(), "text": "To 36.", "at": NOON}
        instruction = UUID(questions.instruct(cast.merrin, consult.uid, told, NOON).resource.id)
        orders.withdraw(cast.merrin, gone, {"id": uuid4(), "reason": "pressure came up"}, NOON)
        questions.withdraw_instruction(cast.merrin, instruction, {"id": uuid4(), "reason": "moved"}, NOON)
        moved = later(seconds=10)
        cases.move(cast.merrin, consult.uid, {"id": uuid4(), "unit": cast.lund.unit, "at": moved}, moved)
        assert [item["lead"] for item in news(cast.lund, moved)] == ["MOVED TO YOU", "ORDERED"]

        at = later(seconds=20)
        orders.withdraw(cast.merrin, own, {"id": uuid4(), "reason": "pressure came up"}, at)
        leads = [item["lead"] for item in news(cast.lund, at)]
        assert leads == ["MOVED TO YOU", "WITHDRAWN: do not give"]


def test_alerts_behind_the_first_are_counted_on_the_case_s_page(consult: Consult, signed_in: Sign):
    consult.vitals(sbp=74, dbp=44)
    consult.ask(30)
    alerts.sweep(later(minutes=4))
    page = page_of(signed_in, consult, "").one(data_part="alarms")
    folded = page.one("behind").every("alarm")

    assert folded
    assert len(page.every("alarm")) == 1 + len(folded)
    assert page.one("summary").text.startswith(f"+{len(folded)} Medium: ")
