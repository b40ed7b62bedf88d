"""What nobody types but anybody can send: each is answered, none ends in a fault of the server."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from tests.conftest import Consult
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import read

PASSWORD = "a long pass phrase"
WALLS = ("Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy", "X-Frame-Options", "Cache-Control")


@pytest.mark.parametrize(
    ("seq", "shown"), [("9" * 4301, "last"), ("-1", "last"), ("x", "last"), ("0", "first"), ("999999999", "last")]
)
def test_a_replay_opens_at_whatever_entry_is_asked_for(seq: str, shown: str, consult: Consult, signed_in: Sign):
    answer = signed_in("averill").get(f"/history/{consult.uid}/?seq={seq}")

    assert answer.status_code == 200
    replay = read(answer.text).one(id="replay")
    assert replay.attributes["data-seq"] == str(1 if shown == "first" else consult.row.seq)


@pytest.mark.parametrize("query", ["until=9999-12-31", "since=0001-01-01", "until=0001-01-01"])
def test_a_day_beyond_all_cases_is_told_as_any_other_mistake(query: str, consult: Consult, signed_in: Sign):
    answer = signed_in("averill").get(f"/history/?{query}")

    assert answer.status_code == 200
    assert "Correct the filter" in read(answer.text).one("empty").text


@pytest.mark.parametrize("key", ["\0", "a\0" * 16, "\0" + "a" * 31, "é" * 32, "a" * 5000, "' OR 1=1"], ids=range(6))
@pytest.mark.parametrize("path", ["/board/", "/sign-in/", "/api/v1/cases/"])
def test_a_session_that_no_board_gave_out_is_nobodys(key: str, path: str, db: None):
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = key

    assert client.get(path).status_code in (200, 302, 401)


def test_the_right_password_of_a_closed_account_is_told_so(cast: Any):
    user = account_of(cast, "merrin")
    user.set_password(PASSWORD)
    user.is_active = False
    user.save()
    client = Client()

    answer = client.post("/sign-in/", {"login": "merrin", "password": PASSWORD})

    assert answer.status_code == 403
    assert "This account was closed." in answer.text
    assert client.get("/board/").status_code == 302


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        pytest.param("/nowhere/", {}, 404, id="no such page"),
        pytest.param("/board/", {"Host": "elsewhere.example"}, 400, id="a host that is not ours"),
        pytest.param("/api/v1/cases/", {"Host": "elsewhere.example"}, 400, id="a host that is not ours, API"),
        pytest.param("/api/v2/", {}, 404, id="no such version"),
        pytest.param("/api/v1/cases/", {}, 401, id="nobody signed in"),
        pytest.param("/metrics/x", {}, 404, id="below an address that is there"),
        pytest.param("/static/%00", {}, 404, id="a file with a zero byte"),
    ],
)
def test_every_refusal_carries_the_browsers_walls(path: str, headers: dict[str, str], status: int, db: None):
    answer = Client(raise_request_exception=False).get(path, headers=headers)

    assert answer.status_code == status
    assert [name for name in WALLS if name not in answer] == []


@pytest.mark.parametrize("path", ["/board/", "/api/v1/cases/"])
@pytest.mark.parametrize("host", ["testserver", "elsewhere.example"])
def test_so_do_refusals_of_plain_http(path: str, host: str, settings: Any, db: None):
    settings.HTTPS = settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

    answer = Client(raise_request_exception=False).get(path, headers={"Host": host})

    assert answer.status_code in (301, 400, 403)
    assert [name for name in WALLS if name not in answer] == []
