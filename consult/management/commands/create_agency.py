"""`manage.py create_agency NAME --timezone ZONE [--call-back TEXT] [--notify TEXT] [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from consult import queries
from consult.actions import people
from consult.management.setup import Facts, SetupCommand, operator


class Command(SetupCommand):
    """Set up an agency: it starts with the demonstration rule set, until its medical director adopts another."""

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """Name, time zone, what its crews call and who is told."""
        parser.add_argument("name", metavar="NAME")
        parser.add_argument("--timezone", required=True, metavar="ZONE", help="such as America/Denver")
        parser.add_argument("--call-back", default="", metavar="TEXT", help="what its crews call, such as a number")
        parser.add_argument("--notify", default="", metavar="TEXT", help="who is told when nobody answers")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Make the agency."""
        made = people.create_agency(
            options["name"],
            options["timezone"],
            now,
            operator=operator(),
            call_back=options["call_back"],
            notify=options["notify"],
        )
        label = queries.label_of(made.rule_set) if made.rule_set else {}
        kept = {"timezone": made.timezone, "call_back": made.call_back, "notify": made.notify}
        told = f"{made.name} is set up (id {made.pk}), under the rule set {label['name']} {label['version']}."
        return {"id": str(made.pk), "name": made.name, **kept, "rule_set": label}, told
