"""Verify every journal, of cases and of agencies: no gap, no changed line, nothing cut off since it was sealed."""

from itertools import chain
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from consult.journal import seals, verify
from consult.models import Agency, Case


class Command(BaseCommand):
    """`manage.py verify_journal`: exit code 1 with a line for each fault."""

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Read every journal, and compare with what was sealed outside the database."""
        sealed = seals.read()
        cases = tqdm(verify.cases(), total=Case.objects.count(), unit="case", disable=None)
        found = (
            verify.fault_in(journal) or verify.cut_off(journal, sealed)
            for journal in chain(Agency.objects.order_by("name"), cases)
        )
        faults = [verify.in_the_seals(sealed), *found, *verify.taken_away(sealed)]
        if any(faults):
            raise CommandError("\n".join(text_of(fault) for fault in faults if fault))
        self.stdout.write("The journal is intact.")


def text_of(fault: verify.Fault) -> str:
    """A fault in one line: whose journal, which entry, what; or which line of the seals."""
    if "seals_line" in fault:
        return f"seals file, line {fault['seals_line']}: {fault['what']}"
    whose = f"case {fault['case']}" if "case" in fault else f"agency {fault['agency']}"
    return f"{whose}, entry {fault['seq']}: {fault['what']}"
