"""The case as it stood for the rules at a moment that is past: what is told late is judged by its place in time."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import msgspec

from consult.card.facts import KEPT_PRESSURES, KEPT_READINGS, Kept, clinical, kept_reading
from consult.clock import when
from consult.models import Case, Vitals
from dosing.facts import Facts, Reading


def facts_then(case: Case, kept: Kept, at: datetime) -> Facts:
    """The facts for a question about `at`; the readings before it come from the rows where the kept ones lack them."""
    facts, readings = clinical(case, kept), kept["readings"]
    if len(readings) < KEPT_READINGS or when(readings[-1]["taken_at"]) <= at:
        return facts
    return replace(facts, readings=_readings_before(case, at))


def _readings_before(case: Case, at: datetime) -> tuple[Reading, ...]:
    """The newest sets up to a moment, and beyond them the newest that say something about the pressure."""
    known = Vitals.objects.filter(case=case, in_error=False, taken_at__lte=at).order_by("-taken_at", "-seq")
    rows = {row.pk: row for row in known[:KEPT_READINGS]}
    rows |= {row.pk: row for row in known.exclude(derived__pressure=None)[:KEPT_PRESSURES]}
    oldest_first = sorted(rows.values(), key=lambda row: (row.taken_at, row.seq))
    return tuple(msgspec.convert(kept_reading(row), Reading) for row in oldest_first)
