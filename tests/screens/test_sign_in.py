"""Signing in while somebody guesses: told in words, by the status, and not at all where the person is known."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from consult import clock
from consult.actions import rule_sets
from consult.models import User
from dosing.load.reader import load_shipped
from tests.conftest import NOON, Cast
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import read

PASSWORD = "a long pass phrase"
HOSTS = ("testserver", "localhost", "127.0.0.1")


@pytest.fixture
def time(monkeypatch: pytest.MonkeyPatch) -> Any:
    """What the clock says; moved on by calling it with seconds."""
    now = [NOON]
    monkeypatch.setattr(clock, "now", lambda: now[0])
    return lambda seconds: now.__setitem__(0, now[0] + timedelta(seconds=seconds))


@pytest.fixture
def merrin(cast: Cast, time: Any) -> User:
    user = account_of(cast, "merrin")
    user.set_password(PASSWORD)
    user.save()
    return user


def sign_in(client: Client, password: str = PASSWORD, login: str = "merrin", **headers: str) -> Any:
    return client.post("/sign-in/", {"login": login, "password": password}, headers=headers)


def guess(times: int, login: str = "merrin") -> list[Any]:
    """Wrong passwords from elsewhere, at this board's different names."""
    return [sign_in(Client(), f"wrong {n}", login, Host=HOSTS[n % len(HOSTS)]) for n in range(times)]


def test_four_wrong_passwords_make_the_next_one_wait_two_seconds_and_say_so(merrin: User, time: Any):
    assert [answer.status_code for answer in guess(5)] == [200] * 4 + [429]
    told = sign_in(Client())
    assert (told.status_code, told["Retry-After"]) == (429, "2")
    assert read(told.text).one("problem").text == "Too many wrong passwords. Try again in 2 s."
    time(2)
    assert sign_in(Client()).url == "/"


def test_the_name_that_the_board_is_asked_by_makes_no_difference(merrin: User):
    assert [answer.status_code for answer in guess(6)][4:] == [429, 429]


def test_whoever_has_signed_in_on_a_device_is_let_in_there_while_others_guess(merrin: User):
    known = Client()
    assert sign_in(known).status_code == 302
    known.post("/sign-out/")
    guess(8)

    assert sign_in(Client()).status_code == 429
    assert sign_in(known).url == "/"


def test_a_device_is_known_for_those_alone_who_have_signed_in_on_it(merrin: User, cast: Cast):
    known = Client()
    sign_in(known)
    known.post("/sign-out/")
    guess(8, "quillan")

    assert sign_in(known, "wrong", "quillan").status_code == 429


@pytest.mark.parametrize("forged", ["", "x", "e30:x:y", "{}"])
def test_a_device_that_we_never_knew_is_not_let_in(forged: str, merrin: User):
    guess(8)
    client = Client()
    client.cookies[settings.DEVICE_COOKIE_NAME] = forged

    assert sign_in(client).status_code == 429


def test_guessing_on_a_known_device_waits_too(merrin: User):
    known = Client()
    sign_in(known)
    known.post("/sign-out/")

    assert [sign_in(known, f"wrong {n}").status_code for n in range(5)] == [200] * 4 + [429]
    assert sign_in(Client()).status_code == 302, "elsewhere the account does not wait for it"


def test_nobody_learns_which_accounts_there_are(merrin: User):
    there, not_there = guess(6), guess(6, "nobody")

    assert [answer.status_code for answer in there] == [answer.status_code for answer in not_there]
    for one, other in zip(there, not_there, strict=True):
        assert read(one.text).one("problem").text == read(other.text).one("problem").text


def test_the_cookie_names_nobody_and_no_script_reads_it(merrin: User):
    cookie = sign_in(Client()).cookies[settings.DEVICE_COOKIE_NAME]

    assert "merrin" not in cookie.value
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert not cookie["domain"]


def test_the_password_that_is_asked_for_again_is_not_guessed_either(merrin: User, time: Any):
    client = Client()
    sign_in(client)
    time(3600)
    answers = [client.post("/account/confirm/", {"password": f"wrong {n}"}) for n in range(6)]

    assert "Try again in 2 s." in answers[-1].text


@pytest.mark.parametrize("path", ["/account/password/", "/account/second-factor/"])
def test_ones_own_account_stands_under_the_rules_in_force_and_leads_back(path: str, cast: Cast, signed_in: Sign):
    rule_sets.adopt(cast.sorrel, load_shipped("conservative"), NOON, reason="", by_way_of="page")
    client = signed_in("merrin")

    page = read(client.get(path).text)

    assert page.one(id="rules-tag").text.startswith("Rules conservative")
    assert page.one("tabs").every("a", href="/board/")
    assert read(client.get("/board/").text).one("menu-list").every("a", href=path)
