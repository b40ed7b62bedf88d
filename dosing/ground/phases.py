"""The phases of a case: on the way, in cardiac arrest, with a pulse again, or with resuscitation ended."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated

from msgspec import Struct

from dosing.ground.kinds import Id, Time, one_of

TRANSPORT, ARREST, PULSE_BACK, ENDED = PHASES = ("transport", "arrest", "pulse_back", "ended")
Phase = Annotated[str, one_of(*PHASES)]


class PhaseChange(Struct, frozen=True):
    """From when on a case is in a phase."""

    id: Id
    phase: Phase
    at: Time


def phase_at(changes: Sequence[PhaseChange], at: datetime) -> str:
    """The phase at a moment, of changes in the order of their times; before the first it is ``transport``."""
    return next((each.phase for each in reversed(changes) if each.at <= at), TRANSPORT)
