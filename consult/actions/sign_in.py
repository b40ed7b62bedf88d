"""Guessing a password takes time, and signing in with the right one does not: each wrong try makes the next one wait.

A try is counted before the password is looked at, so that a hundred at once are no more than the first few. The wait
grows and ends: nobody is locked out. Account and network are counted apart. A device on which the person has signed in
before is counted for itself: what strangers try elsewhere does not make it wait.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address, ip_network

from django.db import transaction
from django.db.models import F

from consult.models import WrongPasswords
from consult.problems import TooMany
from dosing.ground.language import gettext as _

KEPT = timedelta(days=1)
IPV6_NETWORK = 64  # what one household or office is given


@dataclass(frozen=True, slots=True)
class Patience:
    """So many wrong tries are free, then each waits twice as long as the one before, up to a longest wait."""

    free: int
    longest: timedelta
    forgotten_after: timedelta

    def wait(self, count: int) -> timedelta:
        """The wait after so many wrong tries in a row."""
        steps = min(count - self.free, 30)
        return min(timedelta(seconds=2**steps), self.longest) if steps > 0 else timedelta(0)


# Common practice, no source: a person mistypes a few times; a guesser gets about 130 tries an hour at one account.
OF_ACCOUNT = Patience(free=3, longest=timedelta(seconds=30), forgotten_after=timedelta(hours=1))
# A building shares one address: its people are not made to wait long for what one of them does.
OF_NETWORK = Patience(free=30, longest=timedelta(seconds=2), forgotten_after=timedelta(minutes=10))


class TooSoon(TooMany):
    """Wrong passwords were tried before this one; it may be tried again after `seconds`."""

    def __init__(self, wait: timedelta) -> None:
        self.seconds = max(1, math.ceil(wait.total_seconds()))
        super().__init__(_("Too many wrong passwords. Try again in {seconds} s.", seconds=self.seconds))


@dataclass(frozen=True, slots=True)
class Try:
    """One try: what it is counted for, each with its patience."""

    counted: tuple[tuple[str, Patience], ...]


def tried(account: str, address: str, now: datetime, *, device: str = "") -> Try:
    """Count a try for an account (its user name) before the password is looked at; raises TooSoon.

    `device` is the id of a device that knows this account, proved by its cookie; then only that one counts.
    """
    name = account.strip().casefold()
    counted: tuple[tuple[str, Patience], ...]
    if device:
        counted = ((_digest("device", device, name), OF_ACCOUNT),)
    else:
        counted = ((_digest("account", name), OF_ACCOUNT), (_digest("network", network_of(address)), OF_NETWORK))
    keys = [key for key, _ in counted]
    _must_not_wait(WrongPasswords.objects.filter(key__in=keys), now)  # no write: most tries of a guesser end here
    with transaction.atomic():
        WrongPasswords.objects.filter(last_at__lt=now - KEPT).delete()
        for key in sorted(keys):
            WrongPasswords.objects.get_or_create(key=key, defaults={"not_before": now, "last_at": now})
        rows = list(WrongPasswords.objects.select_for_update().filter(key__in=keys).order_by("key"))
        _must_not_wait(rows, now)
        for row in rows:
            _count(row, dict(counted)[row.key], now)
    return Try(counted)


def succeeded(made: Try) -> None:
    """The password was the right one: this try was none to wait for, and the account begins anew."""
    for key, patience in made.counted:
        row = WrongPasswords.objects.filter(key=key)
        if patience is OF_NETWORK:
            # Only this one: else whoever has an account of their own could guess at all others from one place.
            row.filter(count__gt=0).update(count=F("count") - 1)
        else:
            row.delete()


def network_of(address: str) -> str:
    """The network that an address is of: for IPv6 its /64, else itself."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if isinstance(known, IPv6Address):
        return str(known.ipv4_mapped or ip_network((known, IPV6_NETWORK), strict=False))
    return address


def _must_not_wait(rows: Iterable[WrongPasswords], now: datetime) -> None:
    if waits := [row.not_before - now for row in rows if row.not_before > now]:
        raise TooSoon(max(waits))


def _count(row: WrongPasswords, patience: Patience, now: datetime) -> None:
    row.count = 1 if now - row.last_at > patience.forgotten_after else row.count + 1
    row.not_before, row.last_at = now + patience.wait(row.count), now
    row.save()


def _digest(*words: str) -> str:
    return hashlib.sha256("\0".join(words).encode(errors="replace")).hexdigest()
