"""Patients of one unit are told apart: where it has several open cases, each has a letter of its own.

The letter is the patient's `label`, so that it stands on every card, every button and every confirmation.
"""

from __future__ import annotations

import string
from datetime import datetime

from consult.actions.carry_out import let_time_work, load
from consult.case.decide import cases
from consult.models import Case


def letter_for(case: Case, now: datetime) -> str | None:
    """The letter of a case that comes onto the board; one is also given to the unit's others that have none.

    None where the unit has no other. The caller holds the agency, so that no two cases come at once.
    """
    others = Case.objects.select_for_update(of=("self",)).filter(unit_id=case.unit_id, state=Case.State.OPEN)
    known = list(others.exclude(pk=case.pk).order_by("pk"))
    own: str | None = case.patient.get("label")
    if not known:
        return own
    taken = {label for other in known if (label := other.patient.get("label"))}
    for other in known:
        if not other.patient.get("label"):
            letter = _free(taken | {own})
            let_time_work(other, now, cases.name_patient(load(other).state, letter))
            taken.add(letter)
    return own if own and own not in taken else _free(taken)


def _free(taken: set[str | None]) -> str:
    """The first letter that no patient of the unit has; past Z numbers, which nobody will see."""
    return next((letter for letter in string.ascii_uppercase if letter not in taken), str(len(taken) + 1))
