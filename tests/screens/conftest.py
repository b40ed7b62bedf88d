"""People who sign in: each member of the cast gets an account, and the test a client signed in as them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from consult.actions import accounts
from consult.models import Agency, Membership, User
from tests.conftest import Cast, later

Sign = Callable[[str], Client]


def account_of(cast: Cast, name: str) -> User:
    """The account behind a member of the cast."""
    membership = Membership.objects.get(pk=getattr(cast, name).membership)
    if membership.user is None:
        membership.user = User.objects.create(username=name, first_name=membership.name)
        membership.save()
    return membership.user


@pytest.fixture
def signed_in(cast: Cast) -> Sign:
    def sign(name: str) -> Client:
        client = Client()
        client.force_login(account_of(cast, name))
        return client

    return sign


@pytest.fixture
def two_memberships(cast: Cast) -> Any:
    """Dr. Merrin is a supervisor of the other agency besides."""
    there = Agency.objects.get(pk=cast.vane.agency)
    return accounts.make_member(there, "supervisor", user=account_of(cast, "merrin"))


@pytest.fixture
def at_noon(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages are asked for a minute after noon, when what was measured at noon is new."""
    monkeypatch.setattr("consult.clock.now", lambda: later(minutes=1))
