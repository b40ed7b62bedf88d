"""`manage.py add_member AGENCY USERNAME --role ROLE [--unit UNIT] [--name NAME] [--base URL] [--hours N] [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.actions import people
from consult.management.setup import (
    Facts,
    SetupCommand,
    agency_argument,
    link_arguments,
    link_settings,
    new_link,
    operator,
)

HAS_ONE = "This account has a password already: sign in with it."


class Command(SetupCommand):
    """Add a person to an agency, and print a one-time link by which they set a password and sign in.

    Somebody who has a password already, from another agency or role, keeps it and gets no link.
    """

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """Who, as what, and where the link leads."""
        agency_argument(parser)
        parser.add_argument("username", metavar="USERNAME", help="for signing in; made if there is none yet")
        parser.add_argument("--role", required=True, help="crew, physician, supervisor or director")
        parser.add_argument("--unit", default="", help="a crew member's unit: its call sign or its id")
        parser.add_argument("--name", default="", help="as screens and journal show it, such as 'Dr. Ida Merrin'")
        link_arguments(parser)

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Add the person."""
        link_settings(options)  # refuses what would be refused after the change
        agency = directory.agency_named(options["agency"])
        unit = directory.unit_named(agency, options["unit"]) if options["unit"] else None
        member = people.add_member(
            agency, options["username"], options["role"], now, operator=operator(), unit=unit, name=options["name"]
        )
        facts, how = {"id": str(member.pk), "link": None, "expires_at": None}, HAS_ONE
        if member.user and not member.user.has_usable_password():
            link, how = new_link(member, options, now)
            facts |= link
        shown = f"{member.name} is {member.role}{f' of {unit.call_sign}' if unit else ''} in {agency.name}."
        return facts, f"{shown}\n{how}"
