"""Read-back: the crew repeats drug, route and amount, or says what is in the hand; only a match goes on."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import msgspec
from msgspec.structs import asdict

from consult import access
from consult.access import Actor
from consult.actions.carry_out import Arrival
from consult.actions.entry import Data, Kind, Written, stored_entry
from consult.actions.orders import write_step
from consult.case.decide import read_back as decide
from consult.models import Order
from consult.resources.orders import ReadBackOrder, WrittenOrder, written_order
from consult.state.parts import Said

READ_BACK = Kind("readback", Order, written_order, gate=access.require_crew, aside=("order",))


class Outcome(msgspec.Struct, frozen=True):
    """Whether a read-back matches, and which fields differ."""

    matches: bool
    differences: tuple[str, ...]


def read_back(
    actor: Actor, order: UUID, data: Data, now: datetime, arrival: Arrival | None = None
) -> Written[ReadBackOrder]:
    """Repeat an order; the answer says whether it matches and which fields differ, never the right value."""
    written = write_step(actor, order, READ_BACK, data, now, Said, decide.read_back, arrival)
    outcome = _outcome(actor, data, written)
    answer = ReadBackOrder(**asdict(written.resource), **asdict(outcome))
    return Written(answer, written.seq, written.created)


def _outcome(actor: Actor, data: Data, written: Written[WrittenOrder]) -> Outcome:
    """What came of this read-back, also where it is repeated after another."""
    uid = data.get("id")
    if not written.created and isinstance(uid, UUID) and (stored := stored_entry(actor, uid)):
        return msgspec.json.decode(stored.data, type=Outcome)
    return msgspec.convert(written.resource.read_back, Outcome, from_attributes=True)
