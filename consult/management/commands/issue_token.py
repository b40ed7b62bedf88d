"""`manage.py issue_token AGENCY UNIT --name DEVICE [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.actions import people
from consult.clock import stamp
from consult.management.setup import Facts, SetupCommand, agency_argument, local, operator, unit_argument


class Command(SetupCommand):
    """Give a device of a unit its token, printed only once and kept as a digest."""

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """The unit, and a name by which the device is known and its token revoked."""
        agency_argument(parser)
        unit_argument(parser)
        parser.add_argument("--name", required=True, metavar="DEVICE", help="such as 'tablet 1'")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Make the token."""
        agency = directory.agency_named(options["agency"])
        unit = directory.unit_named(agency, options["unit"])
        token, text = people.issue_token(unit, options["name"], now, operator=operator())
        facts = {"id": str(token.pk), "token": text, "unit": str(unit.pk), "expires_at": stamp(token.expires_at)}
        return facts, f"Shown only once; works until {local(token.expires_at, agency)}:\n{text}"
