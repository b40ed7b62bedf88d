"""`manage.py add_unit AGENCY CALL_SIGN [--call TEXT] [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.actions import people
from consult.management.setup import Facts, SetupCommand, agency_argument, operator


class Command(SetupCommand):
    """Add a unit to an agency."""

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """The agency, the call sign as it shall stand on every card, and how physicians reach the unit."""
        agency_argument(parser)
        parser.add_argument("call_sign", metavar="CALL_SIGN")
        parser.add_argument("--call", default="", metavar="TEXT", help="number or channel by which it is reached")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Make the unit."""
        agency = directory.agency_named(options["agency"])
        made = people.add_unit(agency, options["call_sign"], now, operator=operator(), call=options["call"])
        told = f"{agency.name} has the unit {made.call_sign} (id {made.pk})."
        return {"id": str(made.pk), "agency": str(agency.pk), "call_sign": made.call_sign, "call": made.call}, told
