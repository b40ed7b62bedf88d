"""Serve the board on one machine: web, worker and scheduler on the embedded default, stopped together."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from consult.supervisor import Supervisor


class Command(BaseCommand):
    """`manage.py serve [--host 127.0.0.1] [--port 8000]`."""

    help = __doc__
    requires_system_checks = ["__all__"]

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The address to listen on."""
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until Ctrl-C, SIGTERM or the death of a process, which is exit code 1."""
        if code := Supervisor(options["host"], options["port"]).run():
            raise SystemExit(code)
