"""Where HTTPS is set, every cookie is bound to this very host: RFC 6265bis, section 4.1.3.2, the __Host- prefix."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.processes.board_process import NOT_INHERITED, PROJECT, with_tables

SIGN_IN = """
import django
django.setup()
from django.test.utils import setup_test_environment
setup_test_environment()
from django.test import Client
from consult.models import User
User.objects.create_user("merrin", password="a long pass phrase")
client = Client(headers={"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.1"})
client.get("/sign-in/")
client.post("/sign-in/", {"login": "merrin", "password": "a long pass phrase"})
for cookie in client.cookies.values():
    print(cookie.key, bool(cookie["secure"]), cookie["path"], repr(cookie["domain"]))
"""


@pytest.mark.parametrize("https", [True, False], ids=["HTTPS", "one machine"])
def test_every_cookie_is_bound_to_the_host_under_https(https, tmp_path, tmp_path_factory):
    with_tables(tmp_path, tmp_path_factory)
    plain = {name: value for name, value in os.environ.items() if name not in NOT_INHERITED}
    named = {"DJANGO_SETTINGS_MODULE": "consult.settings", "DATABASE_URL": f"sqlite:///{tmp_path}/board.sqlite3"}
    named |= {"HTTPS": "true"} if https else {}
    done = subprocess.run(
        [sys.executable, "-c", SIGN_IN], cwd=PROJECT, env=plain | named, capture_output=True, text=True, check=True
    )
    cookies = [line.split() for line in done.stdout.splitlines()]
    assert len(cookies) == 3, done.stdout
    assert {tuple(rest) for _, *rest in cookies} == {(str(https), "/", "''")}
    assert {name.startswith("__Host-") for name, *_ in cookies} == {https}
    assert {name.removeprefix("__Host-").partition("-")[0] for name, *_ in cookies} == {
        "csrftoken",
        "session",
        "device",
    }
