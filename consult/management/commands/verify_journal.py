"""`manage.py verify_journal`."""

import csv
from itertools import chain
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from tqdm import tqdm

from consult.actions import cards
from consult.journal import seals, verify
from consult.models import Agency, Case


class Command(BaseCommand):
    """Verify every journal, of cases and of agencies: no gap, no changed line, nothing cut off since it was sealed.

    Exit code 1 with a line for each fault.
    """

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        """`--states` also folds every journal and holds state, card and rows against it; `--csv` writes all lines."""
        parser.add_argument(
            "--states", action="store_true", help="also replay every journal, and compare state, card and rows"
        )
        parser.add_argument(
            "--csv", type=Path, help="also write all lines to a file, to be checked without us (docs/journal.md)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Read every journal, and compare with what was sealed outside the database."""
        if options["csv"]:
            with options["csv"].open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows(verify.texts_of(chain(Agency.objects.order_by("name"), verify.cases())))
        sealed = seals.read()
        cases = tqdm(verify.cases(), total=Case.objects.count(), unit="case", disable=None)
        found = (
            verify.fault_in(journal) or verify.cut_off(journal, sealed)
            for journal in chain(Agency.objects.order_by("name"), cases)
        )
        faults = [verify.in_the_seals(sealed), *found, *verify.taken_away(sealed)]
        told = [text_of(fault) for fault in faults if fault]
        if options["states"] and not told:
            told = [
                text for pk in Case.objects.order_by("pk").values_list("pk", flat=True) for text in in_the_state(pk)
            ]
        if told:
            raise CommandError("\n".join(told))
        self.stdout.write("The journal is intact.")


def in_the_state(pk: int) -> list[str]:
    """What is stored of a case other than its journal says; locked, else what is written meanwhile were a fault."""
    with transaction.atomic():
        case = Case.objects.select_for_update(of=("self",)).get(pk=pk)
        return [f"case {case.uid}: {fault}" for fault in cards.faults(case)]


def text_of(fault: verify.Fault) -> str:
    """A fault in one line: whose journal, which entry, what; or which line of the seals."""
    if "seals_line" in fault:
        return f"seals file, line {fault['seals_line']}: {fault['what']}"
    whose = f"case {fault['case']}" if "case" in fault else f"agency {fault['agency']}"
    return f"{whose}, entry {fault['seq']}: {fault['what']}"
