"""`manage.py end_membership AGENCY USERNAME [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.actions import people
from consult.management.setup import Facts, SetupCommand, agency_argument, operator


class Command(SetupCommand):
    """End all memberships of a person in an agency: sessions, tokens and links end, open boards close within 5 s.

    What the person is in another agency stays.
    """

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """The agency and the person."""
        agency_argument(parser)
        parser.add_argument("username", metavar="USERNAME")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """End it."""
        agency = directory.agency_named(options["agency"])
        ended = people.end_memberships(agency, options["username"], now, operator=operator())
        ids = [str(member.pk) for member in ended]
        roles = ", ".join(member.role for member in ended)
        return {"id": ids[0], "ended": ids}, f"{ended[0].name} is no longer a member of {agency.name} ({roles})."
