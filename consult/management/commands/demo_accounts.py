"""`manage.py demo_accounts [--json]`."""

import json
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from consult import clock
from consult.actions import demonstration
from consult.sign_ins import sign_in_lines


class Command(BaseCommand):
    """Make the demonstration accounts if they are missing, and issue a new token for each; older tokens stay valid."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        """For people a table, for programs one JSON object and nothing else."""
        parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make them and print them."""
        if settings.HTTPS:
            raise CommandError(
                "Demonstration accounts are for one machine only, not for a board that others can reach."
            )
        made = demonstration.make_accounts(clock.now())
        self.stdout.write(json.dumps(made) if options["json"] else "\n".join(sign_in_lines(made)))
