"""`GET /rule-set/`: each agency's own, with who approved it; the demonstration's two agencies run different sets."""

from __future__ import annotations

import pytest
from django.test import Client

from consult import access, clock
from consult.actions import accounts, demonstration, rule_sets
from consult.models import Agency, Membership, User
from dosing.load import reader
from tests.conftest import NOON, Cast

ADDRESS = "/api/v1/rule-set/"
CONSERVATIVE = reader.load_shipped("conservative")


def signed(token: str) -> dict[str, str]:
    return {"Authorization": f"Token {token}"}


@pytest.mark.django_db
def test_the_other_agency_of_the_demonstration_runs_the_conservative_rules() -> None:
    access.forget_tokens()
    made = demonstration.make_accounts(clock.now())

    names = [
        Client().get(ADDRESS, headers=signed(token)).json()["name"]
        for token in (made["physician"]["token"], made["outsider"]["physician"]["token"])
    ]

    assert names == ["demonstration", "conservative"]


@pytest.mark.django_db
def test_who_is_in_two_agencies_asks_for_either(cast: Cast) -> None:
    user = User.objects.create_user("merrin", password="a long pass phrase")
    Membership.objects.filter(pk=cast.merrin.membership).update(user=user)
    there = Agency.objects.get(pk=cast.vane.agency)
    accounts.make_member(there, "physician", user=user)
    rule_sets.adopt(cast.sorrel, CONSERVATIVE, NOON, reason="", by_way_of="page")
    client = Client()
    client.force_login(user)

    here, other = (client.get(f"{ADDRESS}?agency={each}").json() for each in (cast.merrin.agency, there.pk))

    assert (here["digest"], here["approved"]["by"]) == (CONSERVATIVE.digest, "Dr. Sorrel")
    assert here["approved"]["at"] == "2030-01-05T12:00:00Z"
    assert (other["name"], other["approved"]) == ("demonstration", None)


@pytest.mark.django_db
def test_another_agencys_is_not_found(cast: Cast) -> None:
    member = Membership.objects.get(pk=cast.merrin.membership)
    token = accounts.issue_token(member, clock.now())

    answer = Client().get(f"{ADDRESS}?agency={cast.vane.agency}", headers=signed(token))

    assert answer.status_code == 404
