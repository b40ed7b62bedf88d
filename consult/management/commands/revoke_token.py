"""`manage.py revoke_token AGENCY UNIT --name DEVICE [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import directory
from consult.actions import people
from consult.management.setup import Facts, SetupCommand, agency_argument, operator, unit_argument


class Command(SetupCommand):
    """Remove a device of a unit: its token stops working within a second, its sockets close within 5 s."""

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """The unit and the device's name."""
        agency_argument(parser)
        unit_argument(parser)
        parser.add_argument("--name", required=True, metavar="DEVICE")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """End the device."""
        unit = directory.unit_named(directory.agency_named(options["agency"]), options["unit"])
        device = people.revoke_token(unit, options["name"], now, operator=operator())
        facts = {"id": str(device.pk), "unit": str(unit.pk), "name": device.name}
        return facts, f"The token of {device.name}, {unit.call_sign}, no longer works."
