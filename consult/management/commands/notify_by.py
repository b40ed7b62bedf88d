"""`manage.py notify_by AGENCY [--email ADDRESS | --webhook URL | --end ADDRESS] [--json]`."""

from argparse import ArgumentParser
from datetime import datetime

from django.conf import settings

from consult import directory, queries
from consult.actions import notifications
from consult.clock import stamp
from consult.management.setup import Facts, SetupCommand, agency_argument, local, operator
from consult.models import Agency


class Command(SetupCommand):
    """Set where an agency is notified that an alert escalates: e-mail or signed posts. Without an option, list it."""

    help = __doc__

    def takes(self, parser: ArgumentParser) -> None:
        """One address to add or to end."""
        agency_argument(parser)
        what = parser.add_mutually_exclusive_group()
        what.add_argument("--email", metavar="ADDRESS", help="notify this e-mail address")
        what.add_argument(
            "--webhook", metavar="URL", help="post to this address; prints the secret that signs the posts, once"
        )
        what.add_argument("--end", metavar="ADDRESS", help="no longer notify this address")

    def change(self, options: Facts, now: datetime) -> tuple[Facts, str]:
        """Add or end an address, or list them."""
        agency = directory.agency_named(options["agency"])
        if options["end"]:
            ended = notifications.end(agency, options["end"], now, operator=operator())
            return {
                "id": str(ended.pk),
                "address": ended.address,
            }, f"{agency.name} is no longer notified at {ended.address}."
        how = next((each for each in ("email", "webhook") if options[each]), None)
        return _added(agency, how, options[how], now) if how else _listed(agency)


def _added(agency: Agency, how: str, address: str, now: datetime) -> tuple[Facts, str]:
    made, secret = notifications.add(agency, how, address, now, operator=operator())
    facts = {"id": str(made.pk), "address": made.address, **({"secret": secret} if secret else {})}
    told = f"{agency.name} is notified at {made.address} when an alert escalates."
    if secret:
        return facts, f"{told} Its posts are signed with this secret, shown only once:\n{secret}"
    lacks = "" if settings.EMAIL_HOST else " EMAIL_URL is not set: until it is, no mail goes out."
    return facts, told + lacks


def _listed(agency: Agency) -> tuple[Facts, str]:
    told = [(each, each.failing_since) for each in queries.destinations(agency.pk)]
    facts = [
        {"address": each.address, "failing_since": since and stamp(since), "failure": each.failure}
        for each, since in told
    ]
    lines = [
        f"{each.address}: " + (f"failing since {local(since, agency)}, {each.failure}" if since else "no failure")
        for each, since in told
    ]
    return {"destinations": facts}, "\n".join(
        lines
    ) or f"{agency.name} is not notified anywhere: add --email or --webhook."
