"""Shift handovers read again: who made or is offered one finds it, a supervisor all, case by case as it stands."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from consult import access
from tests.api.conftest import named, new_id, refused


@pytest.fixture
def on(cast, open_case):
    """Dr. Merrin has three cases and offers two of them to Dr. Quillan, then the third to Dr. Sorrel."""
    for program, username in ((cast.physician, "merrin"), (cast.physician2, "quillan"), (cast.director, "sorrel")):
        named(program, username)
    mine = [open_case() for _ in range(3)]
    for case in mine:
        assert cast.physician.post(f"cases/{case}/accept/").status_code == 200
    first, second = (offered(cast.physician, to, cases) for to, cases in (("quillan", mine[:2]), ("sorrel", mine[2:])))
    return SimpleNamespace(**vars(cast), mine=mine, first=first, second=second)


def offered(by, to, cases):
    answer = by.post("handovers/", {"id": new_id(), "to": to, "cases": cases, "note": "pump at 8 mL/h"})
    assert answer.status_code == 201, answer.content
    return answer.json()


def listed(caller):
    page = caller.get("handovers/").json()
    assert (page["next"], page["previous"]) == (None, None)
    return [each["id"] for each in page["results"]]


@pytest.mark.parametrize(
    ("caller", "finds"),
    [
        ("physician", ["second", "first"]),
        ("physician2", ["first"]),
        ("director", ["second"]),
        ("supervisor", ["second", "first"]),
        ("outsider_physician", []),
    ],
)
def test_each_finds_the_offers_of_and_to_them_newest_first(on, caller, finds):
    assert listed(getattr(on, caller)) == [getattr(on, name)["id"] for name in finds]


def test_it_is_answered_as_when_it_was_made(on):
    assert on.physician2.get(f"handovers/{on.first['id']}/").json() == on.first
    assert on.physician2.get("handovers/").json()["results"] == [on.first]


def test_it_says_case_by_case_what_became_of_it(on):
    taken, left = sorted(on.mine[:2])
    assert on.physician2.post(f"handovers/{on.first['id']}/accept/", {"cases": [taken]}).status_code == 200
    assert on.physician.post(f"cases/{left}/release/").status_code == 200

    stands = {each["case"]: each["state"] for each in on.physician.get(f"handovers/{on.first['id']}/").json()["cases"]}
    assert stands == {taken: "accepted", left: "ended"}


def test_the_list_costs_as_many_queries_however_much_was_handed_over(on):
    def asked():
        access.forget_tokens()  # else it depends on the time whether one is looked up
        with CaptureQueriesContext(connection) as found:
            on.supervisor.get("handovers/")
        return len(found)

    before = asked()
    for _ in range(3):
        offered(on.physician, "quillan", on.mine)
    assert asked() == before


@pytest.mark.parametrize("address", ["handovers/?cursor=x", "handovers/019a0000-0000-7000-8000-000000000000/"])
def test_what_was_never_given_out_is_404(on, address):
    refused(on.physician.get(address), 404)
