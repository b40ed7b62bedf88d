"""The rule set in force."""

from __future__ import annotations

from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from api.serializers.filters import AgencyFilter
from api.views.base import ApiView
from consult import access, queries
from consult.access import Actor
from consult.models import RuleSetRecord, User
from consult.problems import NotFound
from consult.resources.rules import RuleSetAnswer, rule_set


class RuleSetView(ApiView):
    """The rule set for the agency's new cases, with a source for every number."""

    shown, filters = RuleSetAnswer, AgencyFilter

    def get(self, request: Request) -> Response:
        """Read the rule set for the agency's new cases, with a source for every number.

        It has a name, version, digest, approval, goals and treatments. `agency` names another agency of the caller.
        """
        agency = AgencyFilter.of(request.query_params).get("agency", self.actor.agency)
        if agency not in agencies_of(self.actor):
            raise NotFound("You are not a member of such an agency.")
        record = RuleSetRecord.objects.select_related("approved_by__user").filter(agencies=agency).first()
        if record is None:
            raise NotFound("The agency has no rule set.")
        return Response(rule_set(record, queries.rules_by_record(record.pk)))


def agencies_of(actor: Actor) -> set[UUID]:
    """The agency that the caller acts in, and the others that the same person is a member of."""
    person = User.objects.filter(pk=actor.user_id).first() if actor.user_id else None
    return {actor.agency} | {each.agency_id for each in (access.memberships_of(person) if person else ())}
