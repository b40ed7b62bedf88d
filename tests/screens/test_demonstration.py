"""Signing in by a press: in the demonstration, on this machine, by a link of this run, and nowhere else."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from consult import clock
from consult.actions import demonstration
from consult.models import Membership, User
from consult.sign_ins import welcome_lines

pytestmark = pytest.mark.django_db
HERE = {"headers": {"host": "127.0.0.1:8000"}, "REMOTE_ADDR": "127.0.0.1"}
PHYSICIAN = "physician"


@pytest.fixture
def accounts(settings: Any) -> dict[str, Any]:
    """A running demonstration: its accounts, and a key of this run."""
    settings.DEMONSTRATION_KEY = "the key of this run"
    return demonstration.make_accounts(clock.now())


def is_signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


@pytest.mark.parametrize(
    ("role", "page", "who"),
    [
        ("physician", "/board/", "Dr. Ida Merrin"),
        ("crew", "/crew/", "Jory Osk"),
        ("supervisor", "/history/", "Noor Averill"),
        ("director", "/rules/", "Dr. Linnea Sorrel"),
    ],
)
def test_one_press_leads_each_role_to_its_page_as_often_as_one_likes(
    accounts: dict[str, Any], role: str, page: str, who: str
) -> None:
    link = demonstration.link_path(role)
    for _ in range(2):
        client = Client(**HERE)
        shown = client.get(link)
        assert shown.status_code == 200
        assert f"Sign in as {who}" in shown.text
        assert "local protocol and the licensed clinician decide" in shown.text
        assert not is_signed_in(client)
        pressed = client.post(link)
        assert (pressed.status_code, pressed.url) == (302, page)
        assert client.get(page).status_code == 200


def test_a_tab_is_warned_that_it_becomes_somebody_else(accounts: dict[str, Any]) -> None:
    client = Client(**HERE)
    client.post(demonstration.link_path("crew"))
    assert "signed in as Jory Osk" in client.get(demonstration.link_path(PHYSICIAN)).text


def test_who_signs_in_or_has_the_board_open_is_no_longer_played(accounts: dict[str, Any]) -> None:
    """By the sign-in of this run, or by one of before that still holds; the account's own program is no person."""
    client, before = Client(**HERE), clock.now()
    program = {"authorization": f"Token {accounts['physician2']['token']}"}
    assert Client(headers=program).get("/api/v1/cases/").status_code == 200
    assert not demonstration.works_as("quillan", before)

    assert client.login(username="quillan", password=accounts["physician2"]["password"])
    after = clock.now()
    assert [demonstration.works_as(who, before) for who in ("quillan", "merrin")] == [True, False]
    assert not demonstration.works_as("quillan", after)

    client.get("/board/")
    assert demonstration.works_as("quillan", after)


ELSEWHERE = {
    "another machine": {"REMOTE_ADDR": "192.0.2.7"},
    "another machine by IPv6": {"REMOTE_ADDR": "2001:db8::7"},
    "no peer": {"REMOTE_ADDR": ""},
    "a proxy on this machine": {"headers": {"host": "127.0.0.1:8000", "x-forwarded-for": "192.0.2.7"}},
    "a proxy by the standard's header (RFC 7239)": {"headers": {"host": "127.0.0.1", "forwarded": "for=192.0.2.7"}},
    "a name that leads here": {"headers": {"host": "rebound.example.org"}},
}


@pytest.mark.parametrize("where", ELSEWHERE)
def test_from_elsewhere_it_is_no_page(accounts: dict[str, Any], where: str, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    client = Client(**{**HERE, **ELSEWHERE[where]})
    link = demonstration.link_path(PHYSICIAN)
    assert (client.get(link).status_code, client.post(link).status_code) == (404, 404)
    assert not is_signed_in(client)


@pytest.mark.parametrize("peer", ["127.0.0.1", "::1"])
@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost:8000", "[::1]:8000"])
def test_this_machine_has_several_names(accounts: dict[str, Any], peer: str, host: str) -> None:
    client = Client(headers={"host": host}, REMOTE_ADDR=peer)
    assert client.get(demonstration.link_path(PHYSICIAN)).status_code == 200


def test_a_board_without_a_demonstration_running_knows_no_link(accounts: dict[str, Any], settings: Any) -> None:
    """`serve` on the same database: not the link of the run before, nor one signed with the absent key."""
    before = demonstration.link_path(PHYSICIAN)
    settings.DEMONSTRATION_KEY = ""
    for link in (before, demonstration.link_path(PHYSICIAN)):
        assert Client(**HERE).post(link).status_code == 404


def test_https_means_that_others_reach_the_board(accounts: dict[str, Any], settings: Any) -> None:
    settings.HTTPS = True
    assert Client(**HERE).post(demonstration.link_path(PHYSICIAN)).status_code == 404


@pytest.mark.parametrize(
    "forged",
    [
        lambda: demonstration.link_path(PHYSICIAN).replace("physician", "director"),
        lambda: demonstration.link_path(PHYSICIAN)[:-2] + "/",
        lambda: demonstration.link_path("administrator"),
        lambda: demonstration.link_path(PHYSICIAN).replace("physician", "é"),
    ],
    ids=["another role's", "cut short", "no role", "not ASCII"],
)
def test_a_link_that_was_made_up_is_no_page(accounts: dict[str, Any], forged: Any) -> None:
    assert Client(**HERE).post(forged()).status_code == 404


def test_it_signs_nobody_in_who_has_ended_or_is_of_another_agency(accounts: dict[str, Any]) -> None:
    Membership.objects.filter(user__username="merrin").update(ended_at=clock.now())
    assert Client(**HERE).post(demonstration.link_path(PHYSICIAN)).status_code == 404
    User.objects.filter(username="averill").update(is_active=False)
    assert Client(**HERE).post(demonstration.link_path("supervisor")).status_code == 404


def test_another_sites_form_does_not_press_it(accounts: dict[str, Any]) -> None:
    client = Client(enforce_csrf_checks=True, **HERE)
    assert client.post(demonstration.link_path(PHYSICIAN)).status_code == 403


def test_what_is_printed_names_each_role_its_link_and_what_to_do_there_and_fits_a_terminal(
    accounts: dict[str, Any],
) -> None:
    lines = welcome_lines("http://127.0.0.1:8000", accounts)
    text = "\n".join(lines)
    for role, (_, _, tasks) in demonstration.LINKS.items():
        assert f"http://127.0.0.1:8000{demonstration.link_path(role)}" in text
        assert tasks in text
    assert "Crew of Kestrel 2" in text
    assert accounts["physician"]["password"] in text
    assert accounts["physician"]["token"] not in text
    assert max(map(len, lines)) <= 90
