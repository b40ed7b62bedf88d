"""The rule set in force."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.entries import RuleSetAnswer
from api.serializers.filters import AgencyFilter
from api.views.base import ApiView
from consult import queries


class RuleSetView(ApiView):
    """The rule set by which the agency's new cases are judged, with a source for every number."""

    shown, filters = RuleSetAnswer, AgencyFilter

    def get(self, request: Request) -> Response:
        """Name, version, digest, who approved it, goals and treatments."""
        filters = AgencyFilter.of(request.query_params)
        return Response(queries.rule_set(self.actor, filters.get("agency")))
