"""Adoptions are listed and compared, an earlier set is adopted again, and those who decide are told of a change."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from consult import queries
from consult.actions import accounts, rule_sets
from consult.models import Agency, Membership
from dosing.load import reader
from tests.conftest import NOON, Cast, Consult, later
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
CONSERVATIVE, DEMONSTRATION = (reader.load_shipped(name) for name in ("conservative", "demonstration"))


def adopt(cast: Cast, rules: Any = CONSERVATIVE, now: Any = NOON, **more: Any) -> None:
    rule_sets.adopt(cast.sorrel, rules, now, **{"reason": "smaller boluses", "by_way_of": "page", **more})


def look(client: Client, path: str) -> Element:
    answer = client.get(path)
    assert answer.status_code == 200, path
    return read(answer.text)


def news(client: Client, path: str = "/board/") -> Element | None:
    """The notice that rules have changed, None where it does not show."""
    section = look(client, path).one(id="rules-news")
    return None if "hidden" in section.attributes else section


class TestAdoptions:
    def test_each_is_listed_with_who_when_why_and_what_it_was(self, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)
        adopt(cast, DEMONSTRATION, later(minutes=5), reason="", by_way_of="command")

        newest, older, first = (
            row.text for row in look(signed_in("merrin"), "/rules/").one(id="adoptions").every("tr")[1:]
        )

        assert newest.startswith(f"2030-01-05 12:05 demonstration 1 {DEMONSTRATION.digest[:12]} in force Dr. Sorrel")
        assert "by command no reason given" in newest
        assert older.startswith(
            f"2030-01-05 12:00 conservative 1 {CONSERVATIVE.digest[:12]} Dr. Sorrel smaller boluses"
        )
        assert first.startswith(f"before demonstration 1 {DEMONSTRATION.digest[:12]}")

    def test_each_is_seen_beside_the_one_in_force_and_beside_the_one_it_replaced(
        self, cast: Cast, signed_in: Sign
    ) -> None:
        adopt(cast)
        client = signed_in("merrin")
        links = [each.attributes["href"] or "" for each in look(client, "/rules/").one(id="adoptions").every("a")]

        what_it_changed, beside = (look(client, link) for link in links)

        assert "EPINEPHrine push dose: doses before an order all 5 pushes" in what_it_changed.one("effects").text
        assert "EPINEPHrine push dose: doses before an order all 3 pushes" in beside.one("effects").text
        assert "Dr. Sorrel adopted conservative 1: smaller boluses" in what_it_changed.one("steps").text
        assert not beside.every("steps")

    @pytest.mark.parametrize("who", ["merrin", "averill"])
    def test_nobody_but_the_director_goes_back(self, who: str, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)

        assert not look(signed_in(who), f"/rules/compare/?before={DEMONSTRATION.digest}").every(
            "form", action="/rules/adopt/"
        )

    def test_an_earlier_one_is_looked_at_and_adopted_again(self, consult: Consult, signed_in: Sign) -> None:
        adopt(consult.cast)
        client = signed_in("sorrel")
        back = look(client, f"/rules/compare/?after={DEMONSTRATION.digest}").one("form", action="/rules/adopt/")
        again = back.one("input", name="again").attributes["value"]

        shown = read(client.post("/rules/adopt/", {"again": again}).text).one(id="new")
        sent = {each.attributes["name"] or "": each.attributes.get("value") or "" for each in shown.every("input")}
        answer = client.post("/rules/adopt/", {**sent, "content": DEMONSTRATION.text, "reason": "back", "confirm": "1"})

        assert answer.status_code == 302
        assert consult.card["rule_set"] == {**DEMONSTRATION.label, "approved": False}  # a demonstration stays one
        line, _ = queries.agency_journal(consult.cast.sorrel.agency)
        assert (line["data"]["reason"], line["data"]["replaced"]) == ("back", CONSERVATIVE.label)

    @pytest.mark.parametrize(
        "digest", ["0" * 64, CONSERVATIVE.digest], ids=["nobody's", "one that ships, never in force"]
    )
    def test_what_was_never_in_force_here_is_not_to_be_seen(self, digest: str, cast: Cast, signed_in: Sign) -> None:
        client = signed_in("sorrel")

        assert client.get(f"/rules/compare/?after={digest}").status_code == 404
        assert client.post("/rules/adopt/", {"again": digest}).status_code == 422

    def test_nor_is_that_of_another_agency(self, cast: Cast, signed_in: Sign) -> None:
        there = accounts.make_member(
            Agency.objects.get(pk=cast.vane.agency), "director", user=account_of(cast, "sorrel")
        )
        from consult import access

        rule_sets.adopt(access.actor_of_membership(there), CONSERVATIVE, NOON, reason="", by_way_of="page")
        client = signed_in("merrin")

        assert client.get(f"/rules/compare/?after={CONSERVATIVE.digest}").status_code == 404

    def test_a_crew_reads_the_rules_and_compares_nothing(self, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)
        client = signed_in("osk")

        assert not look(client, "/rules/").one(id="adoptions").every("a")
        assert client.get("/rules/compare/").status_code == 403


class TestTheNotice:
    @pytest.mark.parametrize("who", ["merrin", "quillan", "averill"])
    def test_each_who_decides_or_looks_on_is_told_until_they_have_read_it(
        self, who: str, cast: Cast, signed_in: Sign
    ) -> None:
        client = signed_in(who)
        assert news(client) is None
        adopt(cast)

        notice = news(client)

        assert notice is not None
        assert "conservative 1 is in force in place of demonstration 1, adopted by Dr. Sorrel" in notice.text
        assert "smaller boluses" in notice.text
        changed = look(client, notice.one("a").attributes["href"] or "")
        assert "5 pushes" in changed.one("effects").text
        assert news(client) is not None
        sent = {"digest": CONSERVATIVE.digest, "back": "/board/"}
        assert client.post("/rules/read/", sent)["Location"] == "/board/"
        assert news(client) is None
        assert news(signed_in("quillan" if who == "merrin" else "merrin")) is not None

    def test_it_stands_on_the_page_of_a_case_and_of_the_rules_too(self, consult: Consult, signed_in: Sign) -> None:
        adopt(consult.cast)

        for path in (f"/cases/{consult.uid}/", "/rules/", "/rules/banner/"):
            assert news(signed_in("merrin"), path) is not None

    def test_the_director_who_adopted_it_and_crews_are_not_told(self, consult: Consult, signed_in: Sign) -> None:
        adopt(consult.cast)

        assert news(signed_in("sorrel")) is None
        assert not look(signed_in("osk"), f"/crew/{consult.uid}/").every(id="rules-news")

    def test_two_changes_are_told_as_one_and_back_again_as_none(self, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)
        own = reader.loads(DEMONSTRATION.text.replace('name = "demonstration"', 'name = "own"', 1))
        adopt(cast, own, later(minutes=1))
        client = signed_in("merrin")
        notice = news(client)
        assert notice is not None
        assert "own 1 is in force in place of demonstration 1" in notice.text
        assert len(look(client, f"/rules/compare/?before={DEMONSTRATION.digest}").one("steps").children) == 2

        adopt(cast, DEMONSTRATION, later(minutes=2))

        assert news(client) is None

    def test_who_joins_after_a_change_is_told_nothing(self, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)
        made = accounts.make_member(Agency.objects.get(pk=cast.sorrel.agency), "physician", name="Dr. New")

        assert made.rules_seen_id == Agency.objects.get(pk=cast.sorrel.agency).rule_set_id

    def test_what_is_in_force_no_longer_is_not_read(self, cast: Cast, signed_in: Sign) -> None:
        adopt(cast)
        client = signed_in("merrin")
        client.post("/rules/read/", {"digest": DEMONSTRATION.digest})

        assert news(client) is not None
        seen = Membership.objects.get(pk=cast.merrin.membership).rules_seen
        assert seen is not None
        assert seen.digest == DEMONSTRATION.digest

    @pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", ""])
    def test_the_way_back_leads_nowhere_else(self, back: str, cast: Cast, signed_in: Sign) -> None:
        answer = signed_in("merrin").post("/rules/read/", {"digest": DEMONSTRATION.digest, "back": back})

        assert answer["Location"] == "/"
