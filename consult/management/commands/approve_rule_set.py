"""`manage.py approve_rule_set FILE --by USER [--agency NAME] [--reason TEXT]`."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from consult import access, clock, rule_set_files
from consult.actions import rule_sets
from consult.problems import Problem
from consult.screens.rules_sections import unverified
from dosing.load.faults import RuleSetFaults
from dosing.rules.rule_set import RuleSet


class Command(BaseCommand):
    """Approve a rule set for an agency as its medical director: it is in force from then on.

    Exit code 1 with every fault.
    """

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, and the director who approves it."""
        parser.add_argument("file", type=Path, help="a rule set in TOML")
        parser.add_argument(
            "--by", required=True, metavar="USER", help="user name of the medical director who approves"
        )
        parser.add_argument("--agency", default="", metavar="NAME", help="needed where USER directs several agencies")
        parser.add_argument("--reason", default="", metavar="TEXT", help="kept in the agency's journal")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read the file, find the director, adopt."""
        try:
            director = access.director_named(options["by"], options["agency"])
            rules, reason = read(options["file"]), options["reason"]
            record = rule_sets.adopt(director, rules, clock.now(), reason=reason, by_way_of="command")
        except Problem as problem:
            raise CommandError(problem.detail) from None
        how = "approved" if record.approved else "a demonstration, put back in force"
        self.stdout.write(
            f"{record.name} {record.version} is in force, {how} by {director.name}.\nDigest {record.digest}"
        )
        if count := unverified(rules):
            self.stdout.write(f"{count} number{'s are' if count > 1 else ' is'} unverified: adopted as they are.")


def read(file: Path) -> RuleSet:
    """The rule set in the file; raises CommandError with one line for each fault."""
    try:
        return rule_set_files.read(file.read_text(encoding="utf-8"), file.name)
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise CommandError(f"{file} is not UTF-8 text.") from None
    except RuleSetFaults as faults:
        count = len(faults.faults)
        raise CommandError(f"Not adopted: {count} fault{'s' if count > 1 else ''}.\n{faults}") from None
