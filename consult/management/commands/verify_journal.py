"""Verify every case's journal: no gap, each digest covering the one before, nothing cut off since it was sealed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.core.signing import BadSignature
from tqdm import tqdm

from consult.journal import seals, verify
from consult.models import Case, JournalEntry


class Command(BaseCommand):
    """`manage.py verify_journal`: exit code 1 with a line for each fault."""

    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        """Read every case, and compare with what was sealed outside the database."""
        cases = tqdm(verify.cases(), total=Case.objects.count(), unit="case", disable=None)
        faults = [
            f"case {fault['case']}, entry {fault['seq']}: {fault['what']}"
            for fault in map(verify.fault_in, cases)
            if fault
        ]
        faults += list(seal_faults())
        if faults:
            raise CommandError("\n".join(faults))
        self.stdout.write("The journal is intact.")


def seal_faults() -> list[str]:
    """Each sealed head that the database no longer holds."""
    try:
        heads = seals.sealed_heads()
    except BadSignature:
        return ["the seals file was tampered with, or belongs to another secret key"]
    return [
        f"case {uid}, entry {seq}: not as it was sealed"
        for uid, (seq, head) in heads.items()
        if not _holds(uid, seq, head)
    ]


def _holds(uid: str, seq: int, head: str) -> bool:
    return JournalEntry.objects.filter(case__uid=uid, seq=seq, digest=head).exists()
