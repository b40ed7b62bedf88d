"""The label page: whose it is, what it holds, when it was mixed and is discarded, and who may print it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from consult import clock
from consult.actions import containers
from consult.models import AccessRecord
from consult.screens import labels
from tests.conftest import NOON, Cast, Consult, earlier, later
from tests.error_prone import find, seen
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
PUSH = "epinephrine-push-dose"


@pytest.fixture(autouse=True)
def noon(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is noon: the page reads the clock once."""
    monkeypatch.setattr(clock, "now", lambda: NOON)


@pytest.fixture
def label_of(consult: Consult, signed_in: Sign) -> Any:
    def open_it(slug: str = PUSH, who: str = "osk", **query: str) -> Element:
        answer = signed_in(who).get(f"/cases/{consult.uid}/label/{slug}/", query)
        assert answer.status_code == 200
        return read(answer.text)

    return open_it


def test_the_label_says_what_it_is_when_and_whose(label_of: Any):
    label = label_of().one("article")

    assert label.one("label-drug").text == "EPINEPHrine"
    assert label.one("label-strength").text == "10 mcg per mL 100 mcg in 10 mL"
    assert label.one("label-times").text == "Mixed 12:00 Discard 16:00 or at handover"
    assert label.one("label-whose").text.startswith("Kestrel 2")
    assert "5 Jan 2030, UTC" in label.one("label-whose").text


def test_the_color_is_said_in_words_and_the_caution_stands_on_the_label_itself(label_of: Any):
    small = label_of().one("article").one("label-small").text

    assert small.startswith("Vasopressor, violet in ISO 26825.")
    assert "Decision support: local protocol and the licensed clinician decide." in small
    assert "Demonstration rules, not approved." in small


def test_initials_are_lines_to_write_on_unless_they_are_typed(label_of: Any):
    blank, typed = label_of().one("label-hands"), label_of(mixed_by="JO", checked_by="MERRIN").one("label-hands")

    assert [line.text for line in blank.every("label-line")] == ["", ""]
    assert [line.text for line in typed.every("label-line")] == ["JO", "MERR"]


@pytest.mark.parametrize("checked_by", ["JO", "j o"])
def test_the_second_check_is_another_persons(label_of: Any, checked_by: str):
    page = label_of(mixed_by="JO", checked_by=checked_by)

    assert "Checked by must be a different person" in page.one(role="alert").text
    assert [each.text for each in page.one("label-hands").every("label-line")] == ["JO", ""]


@pytest.mark.parametrize(
    ("stated", "mixed", "discard"),
    [
        ("", "12:00", "16:00"),
        ("11:42", "11:42", "15:42"),
        ("12:02", "12:02", "16:02"),
        ("1142", "11:42", "15:42"),
        ("00:01", "00:01", "04:01 or"),
    ],
)
def test_the_time_mixed_is_stated_and_is_never_ahead(label_of: Any, stated: str, mixed: str, discard: str):
    times = label_of(mixed=stated).one("label-times").text

    assert times.startswith(f"Mixed {mixed} Discard {discard}")


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ("12:00", NOON),
        ("12:02", later(minutes=2)),
        ("12:03", later(minutes=3) - timedelta(days=1)),
        ("00:00", earlier(hours=12)),
        ("noon", None),
        ("25:00", None),
        ("", None),
    ],
)
def test_hours_and_minutes_are_the_last_that_the_clock_showed(stated: str, expected: datetime | None):
    assert labels.mixed_time(stated, NOON) == expected


@pytest.mark.parametrize(
    ("stated", "why"),
    [
        ("a while ago", "such as 14:05"),
        ("7", "such as 14:05"),
        ("24:00", "such as 14:05"),
        ("12:03", "12:03 is 3 min in the future"),
        ("13:30", "13:30 is 1 h 30 min in the future"),
        ("2330", "23:30 is 11 h 30 min in the future"),
    ],
)
def test_a_time_that_is_none_or_lies_ahead_is_said_and_there_is_nothing_to_print(label_of: Any, stated: str, why: str):
    page = label_of(mixed=stated)

    assert why in page.one("labels-wrong").text
    assert (page.every("article"), page.every("btn-ink")) == ([], [])
    assert page.one(name="mixed").attributes["value"] == stated


def test_a_label_discarded_on_another_day_names_the_day(label_of: Any, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(clock, "now", lambda: later(hours=12))

    assert label_of(mixed="23:30").one("label-times").text.startswith("Mixed 23:30 Discard 03:30 on 6 Jan")


@pytest.mark.parametrize(("stated", "expired"), [("08:00", True), ("08:01", False)])
def test_what_is_past_its_discard_time_says_so(label_of: Any, stated: str, expired: bool):
    page = label_of(mixed=stated)

    assert ("discard it, do not use it" in page.one("main").text) is expired


def test_a_bag_to_draw_from_gets_its_own_label_and_the_syringe_another(label_of: Any):
    bag, syringe = label_of("phenylephrine-push-dose").every("article")

    assert (bag.attributes["data-vessel"], syringe.attributes["data-vessel"]) == ("bag", "syringe")
    assert bag.one("label-warning").text == "draw only, never hang"
    assert not syringe.every("label-warning")
    assert "Exactly 99 mcg per mL" in syringe.one("label-small").text


def test_of_several_strengths_one_is_chosen(label_of: Any):
    first, other = label_of("norepinephrine-infusion"), label_of("norepinephrine-infusion", of="64-mcg-per-mL")

    assert first.one("label-strength").text == "16 mcg per mL 4 mg in 250 mL"
    assert other.one("label-strength").text.startswith("64 mcg per mL")
    assert len(first.every("labels-pick")) == 3


@pytest.mark.parametrize(
    ("slug", "color"), [(PUSH, "violet"), ("naloxone", "blue"), ("tranexamic-acid", None)], ids=lambda each: str(each)
)
def test_the_class_colors_the_label_by_a_class_of_the_sheet(label_of: Any, slug: str, color: str | None):
    label = label_of(slug).one("article")

    assert label.attributes.get("data-color") == color
    assert "style" not in label.attributes


@pytest.mark.parametrize("slug", [PUSH, "phenylephrine-push-dose", "vasopressin-infusion", "naloxone", "dextrose"])
def test_no_error_prone_notation_is_on_the_page(consult: Consult, signed_in: Sign, slug: str):
    answer = signed_in("osk").get(f"/cases/{consult.uid}/label/{slug}/")

    assert [found for each in seen(answer.text) for found in find(each)] == []


@pytest.mark.parametrize(
    ("who", "status"), [("osk", 200), ("merrin", 200), ("sorrel", 200), ("averill", 403), ("lund", 404), ("vane", 404)]
)
def test_who_may_print(consult: Consult, signed_in: Sign, who: str, status: int):
    assert signed_in(who).get(f"/cases/{consult.uid}/label/{PUSH}/").status_code == status


@pytest.mark.parametrize("slug", ["nothing-like-it", "crystalloid-bolus", "blood-product"])
def test_what_has_no_label_is_not_found(consult: Consult, signed_in: Sign, slug: str):
    assert signed_in("osk").get(f"/cases/{consult.uid}/label/{slug}/").status_code == 404


def test_the_look_goes_on_record_but_no_request_counts_as_seen(consult: Consult, signed_in: Sign):
    consult.ask(30)
    signed_in("merrin").get(f"/cases/{consult.uid}/label/{PUSH}/")

    assert AccessRecord.objects.filter(what="label").count() == 1
    assert [order["seen_at"] for order in consult.card["orders"]] == [None]


def test_what_was_recorded_is_printed_as_it_was_recorded(consult: Consult, cast: Cast, signed_in: Sign):
    data = {"id": uuid4(), "form": "syringe", "treatment": PUSH, "at": earlier(minutes=10)}
    data |= {"strength": {"value": 10, "unit": "mcg/mL"}, "volume": {"value": 10, "unit": "mL"}}
    data |= {"mixed_by": "Jory Osk", "checked_by": "M. Lund"}
    containers.record_container(cast.osk, consult.uid, data, NOON)

    answer = signed_in("osk").get(f"/containers/{data['id']}/label/", {"mixed": "03:00"})
    label = read(answer.text).one("article")

    assert label.one("label-strength").text == "10 mcg per mL 100 mcg in 10 mL"
    assert label.one("label-times").text.startswith("Mixed 11:50 Discard 15:50")
    assert [line.text for line in label.one("label-hands").every("label-line")] == ["JO", "ML"]
    assert signed_in("lund").get(f"/containers/{data['id']}/label/").status_code == 404
    assert signed_in("osk").get(f"/containers/{uuid4()}/label/").status_code == 404


@pytest.mark.parametrize(
    ("who", "page", "there"),
    [
        ("osk", "/crew/{case}/give/epinephrine-push-dose/", True),
        ("osk", "/crew/{case}/give/norepinephrine-infusion/", True),
        ("osk", "/crew/{case}/give/crystalloid-bolus/", False),
        ("merrin", "/cases/{case}/", True),
    ],
)
def test_the_label_is_one_press_away(consult: Consult, signed_in: Sign, who: str, page: str, there: bool):
    shown = signed_in(who).get(page.format(case=consult.uid)).text

    assert (f"/cases/{consult.uid}/label/" in shown) is there
    assert f"/cases/{consult.uid}/label/crystalloid-bolus/" not in shown


@pytest.mark.parametrize(("name", "short"), [("Jory Osk", "JO"), ("M. Lund", "ML"), ("Kestrel 2 tablet", ""), ("", "")])
def test_initials_come_of_the_name_that_was_recorded_and_of_no_tablets(name: str, short: str):
    assert labels.initials(name) == short
