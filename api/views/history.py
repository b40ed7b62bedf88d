"""Past cases, for those who look back."""

from __future__ import annotations

from functools import partial

from rest_framework.request import Request
from rest_framework.response import Response

from api.pages import page
from api.serializers.filters import HistoryFilter
from api.views.base import ApiView
from consult import access, search
from consult.resources.cases import HistoryPage, past_case


class History(ApiView):
    """Search the agency's cases, newest first."""

    shown, filters = HistoryPage, HistoryFilter
    gate = staticmethod(access.require_supervisor)

    def get(self, request: Request) -> Response:
        """Search the agency's cases, newest first, 200 a page."""
        self.admit()
        filters = HistoryFilter.of(request.query_params)
        found = search.history(access.cases_of(self.actor), **filters)
        return page(request, found, ("-opened_at", "-id"), partial(map, past_case), HistoryPage)
