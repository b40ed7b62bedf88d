"""Vitals of a case."""

from __future__ import annotations

from api.serializers.vitals import VitalsEntry
from api.views.base import CreateView, told_of
from consult import access
from consult.actions import vitals
from consult.resources.entries import VitalsAnswer


class Vitals(CreateView):
    """Record a set of vitals; the answer says what follows from this set alone."""

    entry, answer = VitalsEntry, VitalsAnswer
    counted = None
    subject = told_of(access.case_for)
    kind, act = vitals.VITALS, staticmethod(vitals.record_vitals)
