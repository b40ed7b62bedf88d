"""`manage.py serve [--host 127.0.0.1] [--port 8000]`."""

import ipaddress
import os
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from consult.actions import demonstration
from consult.models import Agency
from consult.service.supervisor import Supervisor


class Command(BaseCommand):
    """Serve the board on one machine: web, worker and scheduler, with their own database and broker if none is set."""

    help = __doc__
    # Those of the addresses are left to the web process: loading all views would cost this one 30 MB for nothing.
    requires_system_checks = ["compatibility", "models"]

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The address to listen on."""
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until Ctrl-C, SIGTERM or the death of a process, which is exit code 1."""
        os.environ.pop("DEMONSTRATION_KEY", None)  # by a press one signs in to `demo` alone
        if not is_loopback(options["host"]) and demonstration_is_here():
            raise CommandError(
                f"This database holds demonstration accounts: they must not be reached by {options['host']}."
            )
        if code := Supervisor(options["host"], options["port"]).run():
            raise SystemExit(code)


def demonstration_is_here() -> bool:
    """Whether the database, if it has tables yet, holds the demonstration agency."""
    there = Agency._meta.db_table in connection.introspection.table_names()
    return there and Agency.objects.filter(name=demonstration.AGENCY).exists()


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
