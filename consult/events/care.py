"""What was measured, given and done, and the readings that it asks for.

`content` is the entry as it was sent; beside it stands what was made of it, so that no fold judges anything anew.
"""

from __future__ import annotations

from datetime import datetime

from msgspec import Raw, Struct

from consult.events.base import Event, Id
from consult.state.check import Check
from consult.state.done import Done, Shock
from consult.state.parts import Countersigned, Derived, Given, InHand, Order, WayIn
from dosing.ground.facts import Countersign, Rate, Reassessment, Values
from dosing.ground.given_before import DrawnBefore, GivenBefore


class VitalsRecorded(Event, frozen=True, kw_only=True):
    """A set of vitals, as sent, with what was derived from it then; `taken_at` is corrected by the sender's clock."""

    kind = "vitals.recorded"
    id: Id
    values: Values
    derived: Derived
    unlikely: tuple[str, ...]
    taken_at: datetime


class AddedUp(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What of a long case is only added up from here on, as `dosing.facts.Earlier` has it.

    `doses` are kept one by one no more, those `back` are again; `given` and `drawn` hold what is another sum now, None
    where there is none.
    """

    until: datetime | None
    doses: tuple[Id, ...] = ()
    back: tuple[Given, ...] = ()
    given: dict[str, GivenBefore | None] = {}
    drawn: dict[str, DrawnBefore | None] = {}


class InterventionRecorded(Event, frozen=True, kw_only=True):
    """A treatment that was given or started, with the check made of it.

    `dose` is how it stands on the card, `hung` the bag that it hung, `reassessment` the reading that it asks for,
    `became` the order that it carries out, as that stands now; `flagged` says that it raises an alarm, `added_up` what
    is kept one by one no more, `countersign` what of a voice order waits for its physician.
    """

    kind = "intervention.recorded"
    id: Id
    content: Raw
    shown: str
    check: Check
    dose: Given
    hung: InHand | None = None
    reassessment: Reassessment | None = None
    became: Order | None = None
    flagged: bool = False
    countersign: Countersign | None = None
    added_up: AddedUp | None = None


class InterventionCountersigned(Event, frozen=True, kw_only=True):
    """The physician who is named for a voice order has countersigned it, or says that there was no such order.

    `flagged` says whether the dose has an alarm from then on.
    """

    kind = "intervention.countersigned"
    intervention: Id
    shown: str
    countersigned: Countersigned
    flagged: bool


class InterventionChanged(Event, frozen=True, kw_only=True):
    """A running treatment has a new rate, with its check, is held, runs again or has ended; the rest as when recorded.

    `dose` leaves its rates out where the state has them: they take on the new `rate`.
    """

    kind = "intervention.changed"
    intervention: Id
    content: Raw
    shown: str
    check: Check | None
    dose: Given
    rate: Rate | None = None
    reassessment: Reassessment | None = None
    became: Order | None = None
    flagged: bool = False
    added_up: AddedUp | None = None


class InterventionJudgedAnew(Event, frozen=True, kw_only=True):
    """An entry told late, or taken back, changed what was known at the time of this dose; its first check stays.

    `verdict` is what the card shows from now on, `flagged` whether it has an alarm.
    """

    kind = "intervention.judged_anew"
    intervention: Id
    because: Id
    shown: str
    check: Check
    verdict: str
    flagged: bool


class ProcedureRecorded(Event, frozen=True, kw_only=True):
    """Something done that is not a drug; a way into the circulation is told as one, a shock is counted."""

    kind = "procedure.recorded"
    id: Id
    content: Raw
    access: WayIn | None = None
    done: Done | None = None
    shock: Shock | None = None


class ContainerRecorded(Event, frozen=True, kw_only=True):
    """A syringe was mixed, a bag hung, an oxygen cylinder opened."""

    kind = "container.recorded"
    id: Id
    content: Raw
    shown: str
    container: InHand
    added_up: AddedUp | None = None


class ContainerDiscarded(Event, frozen=True, kw_only=True):
    """A syringe, bag or cylinder is in hand no more."""

    kind = "container.discarded"
    container: Id
    shown: str
    reason: str
    discarded_at: datetime
    added_up: AddedUp | None = None


class ReassessmentMoved(Event, frozen=True, kw_only=True):
    """A reassessment is done, overdue, or unknown because the unit has lost contact.

    `counted` says what it was asked for after, where it was one of those that the state only counts.
    """

    kind = "reassessment.moved"
    reassessment: Id
    intervention: Id
    state: str
    done_at: datetime | None = None
    counted: str | None = None


class ReassessmentRenewed(Event, frozen=True, kw_only=True):
    """A pressor runs on: from the newest pressure, taken at `answered_at`, it is that long to the next one.

    Also where the pressure it counted from was taken back; `answered_at` is None where none is left.
    """

    kind = "reassessment.renewed"
    reassessment: Reassessment
    answered_at: datetime | None
