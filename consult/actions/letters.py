"""Patients of one unit are told apart: where it has several open cases, each has a letter of its own.

The letter is the patient's `label`, so that it stands on every card, every button and every confirmation.
"""

from __future__ import annotations

import string
from datetime import datetime

from consult import events
from consult.actions.entry import draft_for, finish
from consult.models import Case


def tell_apart(case: Case, now: datetime) -> None:
    """Give a case that comes onto the board a letter, and one to the unit's others that have none.

    The caller holds the agency, so that no two cases come at once; the case's own row is the caller's to save.
    """
    others = Case.objects.select_for_update(of=("self",)).filter(unit_id=case.unit_id, state=Case.State.OPEN)
    known = list(others.exclude(pk=case.pk).order_by("pk"))
    if not known:
        return
    taken = {label for other in known if (label := other.patient.get("label"))}
    for other in known:
        if not other.patient.get("label"):
            _name(other, _free(taken | {case.patient.get("label")}), now)
            taken.add(other.patient["label"])
    if not case.patient.get("label") or case.patient["label"] in taken:
        case.patient = {**case.patient, "label": _free(taken)}


def _free(taken: set[str | None]) -> str:
    """The first letter that no patient of the unit has; past Z numbers, which nobody will see."""
    return next((letter for letter in string.ascii_uppercase if letter not in taken), str(len(taken) + 1))


def _name(case: Case, letter: str, now: datetime) -> None:
    """Write a patient's letter down as an entry of its case that nobody made."""
    draft = draft_for(case, None, now)
    case.patient = {**case.patient, "label": letter}
    case.version = draft.seq
    draft.event = events.CaseChanged(changes={"patient": {"label": letter}})
    finish(draft)
