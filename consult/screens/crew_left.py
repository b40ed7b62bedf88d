"""The handover of a patient who went on in another unit: what the former crew could tell then, for its report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from consult import access, queries
from consult.access import Actor
from consult.clock import stamp, when
from consult.models import Case, JournalEntry, TookPart
from consult.render import questions
from consult.render.handover import handover
from consult.render.journal import line
from consult.render.lines import Line
from consult.screens import crew_told
from dosing.ground.language import gettext as _

KEPT = timedelta(hours=24)  # a report is written by the end of a shift; common practice, no source
Told = dict[str, Any]


class Left(NamedTuple):
    """A case that another unit has now, since when, and whether its handover can still be read."""

    case: Case
    until: datetime
    may_read: bool


def left(actor: Actor, case_id: UUID, now: datetime) -> Left | None:
    """The case as one that the crew's unit had before; None where it never had it, or has it now."""
    case = access.had_before(actor, case_id)
    until = access.had_until(actor, case) if case else None
    return Left(case, until, now - until < KEPT) if case and until else None


def lately(actor: Actor, now: datetime) -> list[Left]:
    """The cases that left the crew's unit within the day, the newest first: of each the handover can be read."""
    opened = now - 2 * KEPT  # none goes on for longer than a day
    ours = TookPart.objects.filter(unit=actor.unit, case__opened_at__gt=opened).select_related("case__unit")
    found = [(part.case, access.had_until(actor, part.case)) for part in ours]
    kept = [Left(case, until, may_read=True) for case, until in found if until and now - until < KEPT]
    return sorted(kept, key=lambda each: each.until, reverse=True)


def handover_then(actor: Actor, case: Case) -> list[Told]:
    """The parts of the handover as the case stood when it left the unit, and what its crew has told of before since.

    Nothing of what the other crew or a physician did from then on.
    """
    moved = queries.left_by(case, actor.unit)
    card = queries.card_at(case, moved.seq - 1) if moved else None
    if moved is None or card is None:
        return []
    asked, told = (_as_of(rows, moved.received_at) for rows in crew_told.consulted(case))
    late = [_late(row) for row in queries.entered_after(moved, actor.unit)]
    notes = queries.notes_of_crews([case.uid])[str(case.uid)]
    parts = handover(
        card,
        moved.received_at,
        questions.lines(asked, told),
        [each for each in notes if each["received_at"] <= moved.received_at],
    )
    return [*parts, {"name": _("Entered later"), "lines": late}] if late else parts


def _as_of(consulted: Iterable[Told], moment: datetime) -> list[Told]:
    """Questions or instructions with the steps that they had taken by then; what was put later is left out."""
    known = [{**each, "steps": [step for step in each["steps"] if when(step["at"]) <= moment]} for each in consulted]
    return [each for each in known if each["steps"]]


def _late(row: JournalEntry) -> Line:
    told: Mapping[str, Any] = line(queries.entry_dict(row), {})
    what = " ".join(filter(None, [told["lead"], ", ".join(filter(None, [told["text"], *told["beside"]]))]))
    return [f"{what} ", {"clock": stamp(told["moment"])}]
