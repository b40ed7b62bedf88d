"""The phases of a case: on the way, in cardiac arrest, with a pulse again, or with resuscitation ended."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Annotated

from msgspec import Struct

from dosing.ground.kinds import Id, Time, one_of

TRANSPORT, ARREST, PULSE_BACK, ENDED = PHASES = ("transport", "arrest", "pulse_back", "ended")
Phase = Annotated[str, one_of(*PHASES)]
PULSELESS = (ARREST, ENDED)


class PhaseChange(Struct, frozen=True):
    """From when on a case is in a phase."""

    id: Id
    phase: Phase
    at: Time


def phase_at(changes: Sequence[PhaseChange], at: datetime) -> str:
    """The phase at a moment, of changes in the order of their times; before the first it is ``transport``."""
    return next((each.phase for each in reversed(changes) if each.at <= at), TRANSPORT)


def has_pulse(changes: Sequence[PhaseChange]) -> bool:
    """Whether the case is neither in cardiac arrest nor has its resuscitation ended."""
    return not changes or changes[-1].phase not in PULSELESS


def present_since(changes: Sequence[PhaseChange]) -> datetime | None:
    """Since when the pulse is there, or gone, as it is now; None: from the beginning on.

    What was measured before tells of another state.
    """
    gone = [False, *(each.phase in PULSELESS for each in changes)]
    turned = (each.at for each, (was, now) in zip(changes, pairwise(gone), strict=True) if was != now)
    return max(turned, default=None)


def pulse_again(changes: Sequence[PhaseChange]) -> PhaseChange | None:
    """The change with which the pulse came back; None while there is none, and where it never went."""
    if not has_pulse(changes):
        return None
    pairs = reversed([*pairwise(changes)])
    return next(
        (after for before, after in pairs if before.phase in PULSELESS and after.phase not in PULSELESS),
        None,
    )
