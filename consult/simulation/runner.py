"""The simulated units of a demonstration, a thread each, until they are told to stop."""

from __future__ import annotations

import json
import logging
import os
import stat
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from threading import Event, Thread
from zlib import crc32

from consult.simulation.colleague import Account, Colleague, live, waits_for
from consult.simulation.leftovers import close_leftovers
from consult.simulation.link import Link
from consult.simulation.scenario import Scenario, shipped, varied
from consult.simulation.unit import Unit

log = logging.getLogger(__name__)

TICK_S = 0.5
AFTER_A_FAULT_S = 5.0


class NoTokens(Exception):
    """The file with the units' tokens is missing, unreadable or open to others."""


@dataclass(frozen=True, slots=True)
class Device:
    """The device of one unit."""

    call_sign: str
    unit_id: str
    token: str


def read_devices(path: str) -> list[Device]:
    """The devices in a token file, a JSON list of ``call_sign``, ``unit_id``, ``token``; raises NoTokens."""
    file = Path(path)
    try:
        if os.name == "posix" and stat.S_IMODE(file.stat().st_mode) & 0o077:
            raise NoTokens(f"{path} can be read by others; it must have mode 0600")
        return [Device(**row) for row in json.loads(file.read_text(encoding="utf-8"))]
    except (OSError, ValueError, TypeError) as error:
        raise NoTokens(f"{path}: {error}") from error


def cast(devices: Sequence[Device], count: int) -> list[tuple[Device, Scenario]]:
    """Who plays what: the shipped transports to the units that they are written for, made-up adults to all others."""
    by_call_sign = {scenario.call_sign: scenario for scenario in shipped()}
    order = [scenario.call_sign for scenario in shipped()]
    ranked = sorted(devices, key=lambda device: order.index(device.call_sign) if device.call_sign in order else 99)
    if count > len(ranked):
        log.warning("%d units asked for, tokens for %d: as many will run", count, len(ranked))
    return [(device, by_call_sign.get(device.call_sign) or _made_up(device)) for device in ranked[:count]]


def _made_up(device: Device) -> Scenario:
    return varied(Random(seed_of(device.call_sign)))  # noqa: S311, a patient, not a secret


def seed_of(call_sign: str) -> int:
    """A seed that is the same in every run."""
    return crc32(call_sign.encode())


def run(
    base: str,
    devices: Sequence[Device],
    *,
    count: int,
    speed: float,
    stop: Event,
    account: Account | None = None,
    person: Callable[[], bool] = bool,
) -> None:
    """Run ``count`` units, and a second physician by an `account`, against the server until ``stop`` is set.

    `person` says whether somebody works by that account.
    """
    start = datetime.now(UTC)
    threads = []
    for device, scenario in cast(devices, count):
        link = Link(base, device.token)
        unit = Unit(device.call_sign, scenario, link, start=start, speed=speed, seed=seed_of(device.call_sign))
        threads.append(Thread(target=_live, args=(unit, link, stop), name=device.call_sign, daemon=True))
    if account:
        other = Colleague(Link(base, account.token), account.to, waits_for(shipped()), person)
        threads.append(Thread(target=live, args=(other, stop), name="second physician", daemon=True))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def _live(unit: Unit, link: Link, stop: Event) -> None:
    """One unit's life; a fault of its own is logged and never ends the demonstration."""
    close_leftovers(link, unit.crew.case, datetime.now(UTC))
    unit.open_history()
    unit.outbox.flush(datetime.now(UTC))
    while not stop.is_set():
        pause = TICK_S
        try:
            unit.tick(datetime.now(UTC))
        except Exception:
            log.exception("%s stumbled and goes on", unit.name)
            pause = AFTER_A_FAULT_S
        stop.wait(pause)
    link.close()
