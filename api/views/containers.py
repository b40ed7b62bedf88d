"""What is in hand: recorded, and discarded."""

from __future__ import annotations

from api.serializers.containers import ContainerEntry, DiscardEntry
from api.views.base import CreateView, told_of
from consult import access
from consult.actions import containers
from consult.resources.entries import ContainerAnswer


class Containers(CreateView):
    """Record a mixed syringe, a hung bag or an oxygen cylinder; doses of it draw from it."""

    entry, answer = ContainerEntry, ContainerAnswer
    subject = told_of(access.case_for)
    kind, act = containers.CONTAINER, staticmethod(containers.record_container)


class Discard(CreateView):
    """Record that a syringe, bag or cylinder was discarded; a bag hung by an intervention has the intervention's id."""

    entry, answer = DiscardEntry, ContainerAnswer
    subject = told_of(access.container_for)
    kind, act = containers.DISCARD, staticmethod(containers.discard)
