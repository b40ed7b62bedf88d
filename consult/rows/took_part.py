"""Who had part in a case besides the unit that has the patient: for those who search the past."""

from __future__ import annotations

from uuid import UUID

from consult import events
from consult.events import Event
from consult.rows.rows import Happened, Rows

DECIDES = (
    events.CaseAccepted,
    events.GoalSet,
    events.OrderPlaced,
    events.OrderDecided,
    events.OrderCosigned,
    events.OrderEnded,
    events.InstructionGiven,
    events.InstructionMoved,
    events.InterventionCountersigned,
)
IN_ITSELF = (events.OrderEnded, events.InstructionMoved)  # but not those that end with the case


def took_part(rows: Rows, event: Event, happened: Happened) -> None:
    """The unit that a patient leaves; a physician who takes control, decides, orders, instructs or takes that back."""
    by = happened.entry.by
    if isinstance(event, events.CaseMoved):
        rows.took_part.add(("unit_id", UUID(event.left.id)))
    with_the_case = isinstance(event, IN_ITSELF) and happened.after.ended_at is not None
    if by and by.is_physician and isinstance(event, DECIDES) and not with_the_case:
        rows.took_part.add(("physician_id", UUID(by.id)))
