"""What the commands that set an agency up have in common: one JSON object by --json, each refusal one sentence."""

from __future__ import annotations

import getpass
import json
import os
from argparse import ArgumentParser
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.db import Error, connection

from consult import clock, notifiers, system_checks
from consult.actions import sign_in_links
from consult.clock import stamp
from consult.models import Agency, Membership
from consult.problems import Invalid, Problem

HOURS, HOURS_MOST = 24, 168
Facts = dict[str, Any]


class SetupCommand(BaseCommand):
    """Carries out one change; refusals go to stderr with exit code 1, and nothing is changed then."""

    # Those of the addresses load all views, which no command needs.
    requires_system_checks = ["compatibility", "models"]

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What the command takes, and --json."""
        self.takes(parser)
        parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")

    def takes(self, parser: ArgumentParser) -> None:
        """The arguments of this command."""
        raise NotImplementedError

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Make the change; answers what --json prints, and the same for a person."""
        raise NotImplementedError

    def handle(self, *args: Any, **options: Any) -> None:
        """Make the change and tell it."""
        try:
            _refuse_without_tables()
            facts, told = self.change(options, clock.now())
        except Problem as problem:
            raise CommandError(problem.detail) from None
        except Error as fault:
            raise CommandError(f"The database failed: {str(fault).strip().splitlines()[0]}") from None
        self.stdout.write(json.dumps(facts) if options["json"] else told)


def agency_argument(parser: ArgumentParser) -> None:
    """Which agency."""
    parser.add_argument("agency", metavar="AGENCY", help="its name, in any case, or its id")


def unit_argument(parser: ArgumentParser) -> None:
    """Which unit of the agency."""
    parser.add_argument("unit", metavar="UNIT", help="its call sign, in any case, or its id")


def link_arguments(parser: ArgumentParser) -> None:
    """Where a sign-in link leads, and how long it works."""
    parser.add_argument("--base", default="", metavar="URL", help="address of the board that people open")
    parser.add_argument("--hours", type=int, default=HOURS, help=f"how long the link works (1 to {HOURS_MOST})")


def operator() -> str:
    """The system account that runs the command, as the agency's journal names it."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a container's number without a name
        return f"uid {os.getuid()}"


def local(at: datetime, agency: Agency) -> str:
    """The time as a person of the agency reads it, with its zone."""
    return at.astimezone(ZoneInfo(agency.timezone)).strftime("%Y-%m-%d %H:%M %Z")


def new_link(member: Membership, options: Facts, now: datetime) -> tuple[Facts, str]:
    """A sign-in link of the member as `link` and `expires_at`, and in words; raises ``Invalid``."""
    base, life = link_settings(options)
    link, text = sign_in_links.issue(member, now, operator=operator(), life=life)
    facts = {"link": f"{base}/sign-in/link/{text}/", "expires_at": stamp(link.expires_at)}
    until = local(link.expires_at, member.agency)
    return facts, f"To set a password and sign in, once, until {until}:\n{facts['link']}"


def link_settings(options: Facts) -> tuple[str, timedelta]:
    """The board's address and the life of a link, from the options; raises ``Invalid``."""
    base = (options["base"] or notifiers.board_address()).rstrip("/")
    parts = urlsplit(base)
    if parts.scheme not in ("http", "https") or not parts.netloc:
        raise Invalid("--base needs an address such as https://board.example.org.")
    if not 1 <= options["hours"] <= HOURS_MOST:
        raise Invalid(f"--hours needs a number from 1 to {HOURS_MOST}.")
    return base, timedelta(hours=options["hours"])


def _refuse_without_tables() -> None:
    if Agency._meta.db_table not in connection.introspection.table_names():
        raise CommandError("This database has no tables yet: run manage.py migrate first.")
    if lacking := system_checks.missing_columns():
        raise CommandError(f"This database is of another version: it lacks {', '.join(lacking[:3])}.")
