"""Whoever guesses has to wait, longer each time and never without end; whoever knows the password need not."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from consult.actions.sign_in import OF_ACCOUNT, OF_NETWORK, TooSoon, network_of, succeeded, tried
from consult.models import WrongPasswords
from tests.conftest import NOON, later

HOME, CAFE = "192.0.2.10", "198.51.100.7"  # RFC 5737: addresses for documentation


def admitted(account: str, address: str, **when: float) -> bool:
    """Whether this try was let through to the password."""
    try:
        tried(account, address, later(**when))
    except TooSoon:
        return False
    return True


def guess(times: int, account: str = "merrin", address: str = CAFE) -> None:
    """So many wrong passwords from noon on, each as soon as it may be tried."""
    at = 0.0
    for _ in range(times):
        while not admitted(account, address, seconds=at):
            at += 1


@pytest.mark.parametrize(
    ("patience", "seconds"),
    [
        (OF_ACCOUNT, {1: 0, 3: 0, 4: 2, 5: 4, 6: 8, 7: 16, 8: 30, 9: 30, 10_000: 30}),
        (OF_NETWORK, {1: 0, 30: 0, 31: 2, 32: 2, 10_000: 2}),
    ],
    ids=["account", "network"],
)
def test_the_wait_grows_to_a_longest_one(patience: Any, seconds: dict[int, int]) -> None:
    assert {count: patience.wait(count).total_seconds() for count in seconds} == seconds


def test_it_is_told_in_words_when_the_next_try_may_be_made(db: None) -> None:
    for seconds in (0, 0, 0, 0, 2):
        assert admitted("merrin", CAFE, seconds=seconds)
    with pytest.raises(TooSoon, match=r"^Too many wrong passwords\. Try again in 4 s\.$") as told:
        tried("merrin", HOME, later(seconds=2))
    assert told.value.seconds == 4


def test_a_try_that_comes_too_soon_makes_nobody_wait_longer(db: None) -> None:
    guess(4)
    before = set(WrongPasswords.objects.values_list("key", "count", "not_before"))
    for _ in range(20):
        assert not admitted("merrin", CAFE, seconds=1)
    assert set(WrongPasswords.objects.values_list("key", "count", "not_before")) == before
    assert admitted("merrin", HOME, seconds=2)


def test_a_thousand_passwords_from_a_thousand_networks_within_an_hour_are_mostly_not_tried(db: None) -> None:
    step = 3600 / 1000
    tries = [admitted("merrin", f"203.0.{n // 250}.{n % 250}", seconds=n * step) for n in range(1000)]
    assert 60 < sum(tries) < 150


@pytest.mark.parametrize(
    "names", [["merrin", "Merrin", " MERRIN ", "merrin", "mErrin"], ["nobody"] * 5], ids=["spellings", "no such person"]
)
def test_an_account_is_one_however_it_is_spelt_and_whether_it_is_there(names: list[str], db: None) -> None:
    assert [admitted(name, f"203.0.113.{n}") for n, name in enumerate(names)] == [True] * 4 + [False]


def test_wrong_tries_are_forgotten_after_an_hour(db: None) -> None:
    guess(6)
    assert [admitted("merrin", HOME, hours=2) for _ in range(4)] == [True] * 4


def test_the_right_password_begins_anew(db: None) -> None:
    guess(3)
    succeeded(tried("merrin", HOME, NOON))
    assert [admitted("merrin", HOME) for _ in range(4)] == [True] * 4


def test_one_who_guesses_in_a_building_makes_the_others_wait_two_seconds_at_most(db: None) -> None:
    for number in range(40):
        admitted(f"person{number}", HOME)
    with pytest.raises(TooSoon) as told:
        tried("merrin", HOME, NOON)
    assert told.value.seconds <= 2
    assert admitted("merrin", CAFE)
    assert admitted("merrin", HOME, seconds=2)


def test_an_account_of_ones_own_does_not_help_to_guess_at_others_from_one_place(db: None) -> None:
    for number in range(30):
        assert admitted(f"person{number}", HOME)
        succeeded(tried("own", HOME, NOON))
    assert not admitted("person30", HOME)


def test_a_device_that_knows_the_person_does_not_wait_for_strangers_and_is_counted_for_itself(db: None) -> None:
    guess(8, address=HOME)
    assert not admitted("merrin", HOME)
    for _ in range(4):
        tried("merrin", HOME, NOON, device="tablet")
    with pytest.raises(TooSoon):
        tried("merrin", HOME, NOON, device="tablet")
    tried("merrin", HOME, NOON, device="desk")


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.10", "192.0.2.10"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::1", "2001:db8:1:2::/64"),
        ("::ffff:192.0.2.10", "192.0.2.10"),
        ("nonsense", "nonsense"),
    ],
)
def test_an_ipv6_network_is_what_one_place_is_given(address: str, network: str) -> None:
    assert network_of(address) == network


def test_many_at_once_are_no_more_than_the_first_few(transactional_db: None) -> None:
    at_once = 12
    ready = Barrier(at_once)

    def run(number: int) -> bool:
        ready.wait()
        try:
            return admitted("merrin", f"203.0.113.{number}")
        finally:
            connection.close()

    with ThreadPoolExecutor(at_once) as pool:
        assert sum(pool.map(run, range(at_once))) == OF_ACCOUNT.free + 1


def test_what_is_older_than_a_day_is_not_kept(db: None) -> None:
    admitted("merrin", HOME)
    tried("quillan", CAFE, NOON + timedelta(days=2))
    assert WrongPasswords.objects.count() == 2


def test_a_try_that_has_to_wait_writes_nothing(db: None, django_assert_num_queries: Callable[[int], Any]) -> None:
    guess(4)
    with django_assert_num_queries(1):
        assert not admitted("merrin", CAFE, seconds=1)
