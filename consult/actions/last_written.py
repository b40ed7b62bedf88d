"""What this process wrote last to a case: while that is the newest line of its journal, nothing of it is read again.

The digest of a line covers all lines before it, and state and card follow from them: whoever else has written in
between, another process too, shows by another digest under the lock. Kept in memory alone, of the newest few cases.
"""

from __future__ import annotations

from typing import NamedTuple
from uuid import UUID

from consult.card_diff import Kept
from consult.models import Case
from consult.state.case import CaseState

MOST = 100  # cases; one of an hour takes 64 KB
_cases: dict[UUID, LastWritten] = {}


class LastWritten(NamedTuple):
    """The digest of the line, the state after it, and its card by its keys."""

    head: str = ""
    state: CaseState | None = None
    card: Kept | None = None

    def of(self, case: Case) -> LastWritten:
        """This where it still is the newest of a case that is locked, else nothing."""
        return self if self.head == case.head else NOTHING


NOTHING = LastWritten()


def find(case: UUID) -> LastWritten:
    """What was written last to this case here."""
    return _cases.get(case, NOTHING)


def keep(case: Case, state: CaseState | None, card: Kept | None) -> None:
    """A write to this case is committed."""
    _cases.pop(case.uid, None)
    _cases[case.uid] = LastWritten(case.head, state, card)
    if len(_cases) > MOST:
        _cases.pop(next(iter(_cases)), None)
