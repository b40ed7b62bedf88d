"""`manage.py demo [--port 8000] [--units 6] [--speed 1]`."""

import json
import os
import secrets
import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from consult import clock, owner_only
from consult.actions import demonstration
from consult.management import past_consults
from consult.service.child import Child
from consult.service.supervisor import Supervisor
from consult.sign_ins import welcome_lines

LOOPBACK = "127.0.0.1"


class Command(BaseCommand):
    """Show the board with simulated units: a demonstration agency, served on loopback, posting through the real API."""

    help = __doc__
    # Those of the addresses are left to the web process: loading all views would cost this one 30 MB for nothing.
    requires_system_checks = ["compatibility", "models"]

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The port, how many units drive, and how fast their time runs."""
        parser.add_argument("--port", type=int, default=8000, help="where the board is served (8000)")
        parser.add_argument("--units", type=int, default=6, help="how many simulated units (6)")
        parser.add_argument("--speed", type=float, default=1.0, help="simulated seconds in one second (1)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until Ctrl-C; the demonstration accounts are open to this machine alone."""

        if settings.HTTPS:
            raise CommandError("The demonstration is for one machine only, not for a board that others can reach.")
        welcome: list[str] = []
        # The web process inherits it, and with it the links of this run.
        os.environ["DEMONSTRATION_KEY"] = settings.DEMONSTRATION_KEY = secrets.token_urlsafe(32)

        def prepare(folder: Path) -> Iterable[Child]:
            now = clock.now()
            made = demonstration.make_accounts(now)
            welcome.extend(welcome_lines(board.base, made))
            past_consults.play_all(now)
            devices, second = demonstration.make_devices(options["units"], now), made["physician2"]
            return [simulation(folder, devices, second, **options)]

        board = Supervisor(LOOPBACK, options["port"], prepare, welcome)
        if code := board.run():
            raise SystemExit(code)


def simulation(
    folder: Path, devices: list[dict[str, str]], second: Any, *, port: int, units: int, speed: float, **_: Any
) -> Child:
    """The simulated units and the second physician; their tokens go by files, never by the command line."""
    colleague = {
        "username": second["username"],
        "token": second["token"],
        "to": demonstration.PEOPLE["physician"][0],
    }
    files = {
        "CONSULT_TOKENS_FILE": _kept(folder / "tokens.json", devices),
        "CONSULT_COLLEAGUE_FILE": _kept(folder / "colleague.json", colleague),
    }
    words = ["simulate", "--base", f"http://{LOOPBACK}:{port}", "--units", str(units), "--speed", str(speed)]
    return Child("simulate", [sys.executable, "manage.py", *words], environment=files)


def _kept(file: Path, content: Any) -> str:
    """The name of a new file with this content that only its owner may read."""
    owner_only.make(file, json.dumps(content))
    return str(file)
