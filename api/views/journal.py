"""The journal of a case, the card at any moment of it, and whether the journal is intact."""

from __future__ import annotations

from uuid import UUID

import msgspec
from rest_framework.request import Request
from rest_framework.response import Response

from api.pages import MOST, numbered
from api.serializers.filters import JournalFilter, VerifyFilter
from api.views.base import ApiView
from consult import access, queries
from consult.case.card import Card
from consult.journal import verify
from consult.problems import NotFound
from consult.resources.journal import JournalPage, Verified, line


class Journal(ApiView):
    """What happened in a case: its journal lines by number, without gaps."""

    shown, filters = JournalPage, JournalFilter

    def get(self, request: Request, id: UUID) -> Response:
        """List what happened in a case: its journal lines after a number, without gaps, 200 a page."""
        case = self.looked_at(access.case_for(self.actor, id), "journal")
        after = JournalFilter.of(request.query_params).get("after", 0)
        return numbered(request, [line(row) for row in queries.lines(case, after, MOST)], after)


class CardAt(ApiView):
    """The card at one journal entry."""

    shown = Card

    def get(self, request: Request, id: UUID, seq: int) -> Response:
        """Read the card exactly as it stood after one journal entry.

        It is put together from what the journal kept; nothing is computed anew.
        """
        case = self.looked_at(access.case_for(self.actor, id), "card as it stood")
        card = queries.card_at(case, seq)
        if card is None:
            raise NotFound("The journal has no such number.")
        return Response(card)


class Verify(ApiView):
    """Whether the journal is as it was written."""

    shown, filters = Verified, VerifyFilter
    gate = staticmethod(access.require_supervisor)

    def get(self, request: Request) -> Response:
        """Say whether the journal is as it was written: by the last background run and what came since.

        With `case` that case is read now.
        """
        filters = VerifyFilter.of(request.query_params)
        case = access.case_for(self.actor, filters["case"]) if "case" in filters else None
        self.admit()
        return Response(msgspec.convert(verify.verified(self.actor, case, self.received_at), Verified))
