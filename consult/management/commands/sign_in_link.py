"""`manage.py sign_in_link AGENCY USERNAME [--base URL] [--hours N] [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.management.setup import Facts, SetupCommand, agency_argument, link_arguments, new_link


class Command(SetupCommand):
    """Print a new one-time sign-in link for a member, if the first has expired or the password is forgotten.

    Earlier links no longer work.
    """

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """Who, and where the link leads."""
        agency_argument(parser)
        parser.add_argument("username", metavar="USERNAME")
        link_arguments(parser)

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Make the link."""
        member = directory.members_named(directory.agency_named(options["agency"]), options["username"])[0]
        facts, told = new_link(member, options, now)
        return {"id": str(member.pk), **facts}, told
