"""What is in hand: recorded when it is mixed, hung or opened, and taken out of hand again."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import containers
from consult.case.entries import ContainerEntry, DiscardEntry
from consult.models import Container
from consult.resources import entries

CONTAINER = Kind("container", Container, entries.container, happened="at", told_late=True)
DISCARD = Kind("discard", Container, entries.container, happened="at", told_late=True)


def record_container(actor: Actor, case: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Record a mixed syringe, a hung bag or an oxygen cylinder: what, how strong, how much, by whom."""
    return write(actor, case, CONTAINER, data, now, ContainerEntry, containers.record_container, arrival=arrival)


def discard(actor: Actor, container: UUID, data: Data, now: datetime, arrival: Arrival | None = None) -> Written:
    """Take a syringe, bag or cylinder out of hand; done once, again is a wrong state."""
    case = access.container_for(actor, container, to_write=True).case.uid
    return write(
        actor,
        case,
        DISCARD,
        data,
        now,
        DiscardEntry,
        lambda known, asked: containers.discard(known, asked, str(container)),
        about=container,
        arrival=arrival,
    )
