"""Shift handovers: which cases are offered to whom, and which of them are accepted."""

from __future__ import annotations

from typing import Any

from api.fields import Id, Many, Text, Time
from api.serializers.entry import Entry
from api.shape import refusal

MOST_CASES = 60


class CasesEntry(Entry):
    """Some cases, each once."""

    cases = Many(child=Id(), min_length=1, max_length=MOST_CASES)
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a case that is named twice."""
        if len(set(attrs["cases"])) < len(attrs["cases"]):
            raise refusal("cases", "A case is named twice.", "twice")
        return attrs


class HandoverOffer(CasesEntry):
    """Cases that the caller has control of, offered to a colleague by user name, with a note if any."""

    to = Text(150)
    note = Text(1000, required=False, lines=True)


class HandoverAccept(CasesEntry):
    """The cases of a handover that are accepted."""
