"""``manage.py simulate``: simulated units that post to a running server through its API."""

from __future__ import annotations

import logging
import os
import signal
from argparse import ArgumentParser
from collections.abc import Callable
from threading import Event
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import close_old_connections

from consult import clock
from consult.actions import demonstration
from consult.simulation import colleague, runner


class Command(BaseCommand):
    """Runs until Ctrl-C. Each unit needs a device token: ``CONSULT_TOKENS_FILE`` names a 0600 JSON file with them."""

    help = "Run simulated units against a server. Invented patients; nothing that they do is medical advice."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where the server is, how many units, how fast."""
        parser.add_argument("--base", default="http://127.0.0.1:8000", help="address of the server")
        parser.add_argument("--units", type=int, default=6, help="how many units, at most as many as there are tokens")
        parser.add_argument("--speed", type=float, default=1.0, help="simulated seconds in one second")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read the tokens and run the units until a signal comes."""
        if options["units"] < 1 or not 0.1 <= options["speed"] <= 120:
            raise CommandError("--units must be 1 or more, --speed between 0.1 and 120")
        try:
            devices = runner.read_devices(os.environ.get("CONSULT_TOKENS_FILE", ""))
            account = colleague.read_account(os.environ.get("CONSULT_COLLEAGUE_FILE", ""))
        except runner.NoTokens as error:
            raise CommandError(f"CONSULT_TOKENS_FILE: {error}") from error
        self._tell(int(options["verbosity"]))
        stop = Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stop.set())
        told = {"count": options["units"], "speed": options["speed"], "stop": stop}
        runner.run(options["base"], devices, **told, account=account, person=_person(account))

    def _tell(self, verbosity: int) -> None:
        """Show what the units do; the client library's line for every request stays away."""
        logging.getLogger("consult.simulation").setLevel(logging.INFO if verbosity else logging.WARNING)
        logging.getLogger("httpx").setLevel(logging.WARNING)
        if not logging.getLogger().handlers:
            logging.basicConfig(format="%(message)s")


def _person(account: colleague.Account | None) -> Callable[[], bool]:
    """Says whether a person works by the account from now on, by the database of the demonstration itself."""
    begun, username = clock.now(), account.username if account else ""

    def works() -> bool:
        close_old_connections()
        return demonstration.works_as(username, begun)

    return works
