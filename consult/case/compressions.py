"""Compressions in an arrest, from what was pressed: on, paused, on again."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct

from consult.state.case import CaseState
from dosing.ground.kinds import Time

ON, PAUSED = "cpr", "cpr_pause"


class Pauses(Struct, frozen=True, kw_only=True):
    """How often compressions were ``paused`` in one arrest, for how many seconds in all, and since when they are now.

    ``fraction`` is the percentage of time with compressions, from the first ones to the end of the arrest; null while
    it lasts, or if no pause was recorded.
    """

    paused: int
    seconds: int
    since: Time | None
    fraction: int | None


def pauses(state: CaseState, since: datetime, until: datetime | None) -> Pauses:
    """The pauses of an arrest from when to when (None: it lasts), of the newest procedures that the state keeps."""
    marks = sorted(
        (each.at, each.procedure)
        for each in state.procedures
        if each.procedure in (ON, PAUSED) and since <= each.at and (until is None or each.at < until)
    )
    begun = next((at for at, what in marks if what == ON), None)
    count, lost = 0, timedelta()
    open_since: datetime | None = None
    for at, what in marks:
        if what == PAUSED and open_since is None:
            count, open_since = count + 1, at
        elif what == ON and open_since is not None:
            lost, open_since = lost + (at - open_since), None
    if until is not None and open_since is not None:
        lost, open_since = lost + (until - open_since), None
    whole = until - begun if until and begun else None
    fraction = round(100 * (1 - lost / whole)) if count and whole else None
    return Pauses(paused=count, seconds=round(lost.total_seconds()), since=open_since, fraction=fraction)
