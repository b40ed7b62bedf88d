"""Lists, 200 a page: by cursor, or for a journal by its own numbers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from rest_framework.exceptions import NotFound
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from consult.resources.journal import JournalLine, JournalPage
from consult.resources.page import Page

MOST = 200


class NewestFirst(CursorPagination):
    """Rows by a time, newest first; the key settles equal times."""

    page_size = MOST

    def __init__(self, ordering: tuple[str, ...]) -> None:
        self.ordering = ordering
        super().__init__()

    def decode_cursor(self, request: Request) -> Cursor | None:
        """Where the page begins; 404 for a cursor that this list never gave out."""
        cursor = super().decode_cursor(request)
        if cursor is None:
            return None
        try:
            known = datetime.fromisoformat(str(cursor.position)).tzinfo if cursor.position else cursor.offset
        except ValueError:
            known = None
        if not known:
            raise NotFound(str(self.invalid_cursor_message))
        return cursor


def page(request: Request, rows: QuerySet, ordering: tuple[str, ...], show: Any, kind: type[Page]) -> Response:
    """One page of rows as `show` answers all of them; a cursor that was not given out by us is 404."""
    pages = NewestFirst(ordering)
    found = pages.paginate_queryset(rows, request)
    results = tuple(show(found or []))
    return Response(kind(next=pages.get_next_link(), previous=pages.get_previous_link(), results=results))


def numbered(request: Request, results: Sequence[JournalLine], after: int) -> Response:
    """One page of entries that carry their own `seq`; the neighbors are asked for by `after`."""
    here = request.build_absolute_uri()
    following = replace_query_param(here, "after", results[-1].seq) if len(results) == MOST else None
    before = replace_query_param(here, "after", max(0, after - MOST)) if after > 0 else None
    return Response(JournalPage(next=following, previous=before, results=tuple(results)))
