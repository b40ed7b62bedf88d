"""Verify every journal, of cases and of agencies: no gap, no changed line, nothing cut off since it was sealed."""

from itertools import chain
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError
from django.core.signing import BadSignature
from tqdm import tqdm

from consult.journal import seals, verify
from consult.models import Agency, Case, JournalEntry


class Command(BaseCommand):
    """`manage.py verify_journal`: exit code 1 with a line for each fault."""

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Read every journal, and compare with what was sealed outside the database."""
        cases = tqdm(verify.cases(), total=Case.objects.count(), unit="case", disable=None)
        journals = chain(Agency.objects.order_by("name"), cases)
        faults = [text_of(fault) for fault in map(verify.fault_in, journals) if fault]
        faults += list(seal_faults())
        if faults:
            raise CommandError("\n".join(faults))
        self.stdout.write("The journal is intact.")


def text_of(fault: verify.Fault) -> str:
    """A fault in one line: whose journal, which entry, what."""
    whose = f"case {fault['case']}" if "case" in fault else f"agency {fault['agency']}"
    return f"{whose}, entry {fault['seq']}: {fault['what']}"


def seal_faults() -> list[str]:
    """Each sealed head that the database no longer holds."""
    try:
        heads = seals.sealed_heads()
    except BadSignature:
        return ["the seals file was tampered with, or belongs to another secret key"]
    return [
        f"{_whose(uid)} {uid}, entry {seq}: not as it was sealed"
        for uid, (seq, head) in heads.items()
        if not _holds(uid, seq, head)
    ]


def _whose(uid: str) -> str:
    return "agency" if Agency.objects.filter(pk=UUID(uid)).exists() else "case"


def _holds(uid: str, seq: int, head: str) -> bool:
    found = JournalEntry.objects.filter(seq=seq, digest=head)
    return found.filter(case__uid=uid).exists() or found.filter(agency=UUID(uid), case=None).exists()
