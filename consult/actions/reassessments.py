"""The reassessment that a treatment opens, and opens again when its rate changes or it ends."""

from __future__ import annotations

from typing import Any

import msgspec

from consult.actions.entry import Draft
from consult.card.facts import by_due
from consult.models import Intervention, Reassessment
from consult.resources import reassessment_dict
from dosing import reassess
from dosing.facts import Dose


def open_for(draft: Draft, row: Intervention, dose: dict[str, Any]) -> None:
    """Open, or set anew, the reassessment that a dose asks for, and show it in the intervention."""
    asked = reassess.opened_by(msgspec.convert(dose, Dose), draft.rules)
    if asked is None:
        return
    times = {name: getattr(asked, name) for name in ("because", "counts_from", "due_at", "overdue_at")}
    opened, _ = Reassessment.objects.update_or_create(
        case=draft.case,
        uid=asked.id,
        defaults={**times, "needs": list(asked.needs), "state": "waiting", "done_at": None, "intervention": row},
    )
    shown = reassessment_dict(opened, dose["id"])
    others = [each for each in draft.kept["reassessments"] if each["id"] != shown["id"]]
    draft.kept["reassessments"] = sorted([*others, shown], key=by_due)
    row.reassessment = shown
    row.save(update_fields=["reassessment"])
    draft.afterwards.append(lambda: _answer_as_settled(row, opened))


def _answer_as_settled(row: Intervention, opened: Reassessment) -> None:
    """What was recorded late may be overdue, or done by a known reading, with this very write: the answer says so."""
    opened.refresh_from_db(fields=["state", "done_at"])
    if row.reassessment and row.reassessment["state"] != opened.state:
        row.reassessment = reassessment_dict(opened, row.reassessment["intervention"])
        row.save(update_fields=["reassessment"])
