"""On one machine without HTTPS no cookie claims to be secure; with it they are (`test_proxy.py`)."""

from __future__ import annotations

import pytest
from django.test import Client

from consult.actions import accounts

pytestmark = pytest.mark.django_db


def test_without_https_a_cookie_is_for_this_host_and_all_its_paths_under_a_plain_name() -> None:
    accounts.make_person("merrin", "Ida", "Merrin", "a long pass phrase")
    client = Client()
    client.get("/sign-in/")
    client.post("/sign-in/", {"login": "merrin", "password": "a long pass phrase"})

    cookies = client.cookies.values()
    assert {(bool(each["secure"]), each["path"], each["domain"]) for each in cookies} == {(False, "/", "")}
    assert {each.key.partition("-")[0] for each in cookies} == {"csrftoken", "session", "device"}
