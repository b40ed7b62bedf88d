"""Shift handovers: control of several cases is offered to a colleague, who accepts case by case, by name.

All cases of one call are written together or none is; they are locked in one order, so that two calls never wait for
each other. The first bears the call's id, by which its repetition is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from consult import access, problems, search
from consult.access import Actor
from consult.actions.entry import Data, Kind, Written, write
from consult.case.decide import control
from consult.case.entries import Nothing, OfferEntry
from consult.models import ControlOffer
from consult.models.fields import new_id
from consult.resources.handovers import ShiftHandover, offered_case, shift_handover
from consult.state.parts import Named
from dosing.ground.language import gettext as _

OFFER = Kind("handover_offer", ControlOffer, offered_case, gate=access.require_physician, attends=True)
TAKE = Kind("handover_accept", ControlOffer, offered_case, gate=access.require_physician, attends=True)
One = Callable[[UUID, Data], Written]


def offer(actor: Actor, data: Data, now: datetime) -> Written[ShiftHandover]:
    """Offer control of cases that the actor has to a colleague; raises Invalid and WrongState, and then offers none."""
    access.require_physician(actor)
    to, handover = _colleague(actor, str(data["to"])), data.get("id") or new_id()

    def one(case: UUID, told: Data) -> Written:
        decide = partial(control.offer, to=to, handover=str(handover))
        return write(actor, case, OFFER, told, now, OfferEntry, decide)

    created = _each({**data, "id": handover}, one)
    return Written(shift_handover(UUID(str(handover)), actor.agency), 0, created)


def accept(actor: Actor, handover: UUID, data: Data, now: datetime) -> Written[ShiftHandover]:
    """Take control of cases that a handover offers to the actor; raises WrongState, and then takes none of them."""
    handed_over(actor, handover)
    access.require_physician(actor)
    rows = ControlOffer.objects.filter(handover=handover, case__agency_id=actor.agency)
    offers = {row.case.uid: row.uid for row in rows.select_related("case")}

    def one(case: UUID, told: Data) -> Written:
        decide = partial(control.accept_offer, handover=str(handover))
        if case not in offers:
            raise problems.NotFound(_("This case is not part of this handover."))
        return write(actor, case, TAKE, told, now, Nothing, decide, about=offers[case])

    created = _each(data, one)
    return Written(shift_handover(handover, actor.agency), 0, created)


def handed_over(actor: Actor, handover: UUID) -> ShiftHandover:
    """The handover with this id, to everybody of the agency but crews; raises NotFound."""
    try:
        return shift_handover(handover, actor.agency)
    except LookupError as error:
        raise problems.NotFound(_("There is no such handover here.")) from error


def known_to(actor: Actor) -> QuerySet[ControlOffer]:
    """The handovers that the actor made or is offered, newest first; to a supervisor all; refuses crews."""
    access.require_watcher(actor)
    return search.handovers(actor.agency, actor.membership if actor.is_physician else None)


def _each(data: Data, one: One) -> bool:
    """Write each case, all or none; whether the call is new, for of a repeated one only the first case is asked."""
    cases: Iterable[UUID] = data["cases"]  # type: ignore[assignment]
    places = {case: place for place, case in enumerate(cases)}
    with transaction.atomic():
        for number, case in enumerate(sorted(places)):
            told = data if number == 0 else {name: value for name, value in data.items() if name != "id"}
            try:
                if not one(case, told).created:
                    return False
            except problems.NotFound as error:
                raise problems.Invalid.at(f"/cases/{places[case]}", error.detail, "not_found") from error
    return True


def _colleague(actor: Actor, username: str) -> Named:
    """The physician of the agency with this user name; raises Invalid where there is none, or it is the actor."""
    found = access.physician_named(actor, username, "/to")
    if access.same_person(actor, found.id):
        raise problems.Invalid.at("/to", _("That is you: choose a colleague."), "yourself")
    return found
