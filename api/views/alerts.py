"""Alerts: listed, newest first, and acknowledged by name."""

from __future__ import annotations

from functools import partial

from rest_framework.request import Request
from rest_framework.response import Response

from api.pages import page
from api.serializers.filters import AlertFilter
from api.serializers.notes import Acknowledge
from api.views.base import ApiView, WriteView
from consult import access, queries
from consult.actions import alerts
from consult.resources.alerts import AlertPage, WrittenAlert, alert


class Alerts(ApiView):
    """The alerts of the cases that the caller may see, newest first."""

    shown, filters = AlertPage, AlertFilter

    def get(self, request: Request) -> Response:
        """List alerts of the cases that the caller may see, newest first: all, those of one state, or of one case."""
        filters = AlertFilter.of(request.query_params)
        found = queries.alerts(access.cases_of(self.actor), **filters)
        return page(request, found, ("-raised_at", "-id"), partial(map, alert), AlertPage)


class AcknowledgeAlert(WriteView):
    """Acknowledge an alert; it stays open until its cause is gone."""

    entry, answer = Acknowledge, WrittenAlert
    subject = staticmethod(access.alert_for)
    kind, act = alerts.NOTICE, staticmethod(alerts.acknowledge)
