"""What was given: recorded, changed, read; and what may be given: checked, advised."""

from __future__ import annotations

from uuid import UUID

import msgspec
from rest_framework.request import Request
from rest_framework.response import Response

from api.serializers.interventions import CountersignEntry, InterventionChangeEntry, InterventionEntry, ProposalEntry
from api.views.base import ApiView, CreateView, WriteView, told_of
from consult import access
from consult.actions import checks, interventions
from consult.resources.checks import CheckedProposal
from consult.resources.entries import InterventionAnswer, WrittenIntervention, intervention
from consult.resources.rules import Guidance as Told


class Interventions(CreateView):
    """Record what was given or is running; accepted whenever it can be understood, and flagged if outside limits."""

    entry, answer = InterventionEntry, WrittenIntervention
    subject = told_of(access.case_for)
    kind, act = interventions.GIVEN, staticmethod(interventions.record_intervention)


class Countersign(WriteView):
    """Countersign a dose given by the caller's voice order, or deny the order: then `dose_outside_limits` is raised."""

    entry, answer = CountersignEntry, WrittenIntervention
    subject = told_of(access.intervention_for)
    kind, act = interventions.COUNTERSIGN, staticmethod(interventions.countersign)


class Changes(CreateView):
    """Record a change of what runs: its end, a pause, or a new rate."""

    entry, answer = InterventionChangeEntry, WrittenIntervention
    subject = told_of(access.intervention_for)
    kind, act = interventions.CHANGE, staticmethod(interventions.change_intervention)


class InterventionView(ApiView):
    """One intervention as it stands now."""

    shown = InterventionAnswer

    def get(self, request: Request, id: UUID) -> Response:
        """Read one intervention: what was given, how it was checked, and the reassessment that it opened."""
        found = access.intervention_for(self.actor, id)
        self.looked_at(found.case, "intervention")
        return Response(intervention(found))


class Checks(ApiView):
    """A proposal and the rules."""

    entry, answer = ProposalEntry, CheckedProposal
    subject, gate = staticmethod(access.case_for), staticmethod(access.require_writer)

    def post(self, request: Request, id: UUID) -> Response:
        """Check a proposal against the rules for this patient, now; nothing is written.

        The answer has the verdict, its findings, and what would be given.
        """
        data = self.content(ProposalEntry)
        return Response(checks.check_proposal(self.actor, id, data, self.received_at))


class Guidance(ApiView):
    """What may be given to this patient, now."""

    shown = Told

    def get(self, request: Request, id: UUID) -> Response:
        """Read what may be given to this patient, now: all treatments of the rule set, those that fit first."""
        return Response(msgspec.convert(checks.guidance(self.actor, id, self.received_at), Told))
