"""Texts and times of a certain kind, as the JSON Schema of a structure names them; a text is not checked when read."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from msgspec import Meta

Id = Annotated[str, Meta(extra_json_schema={"format": "uuid"})]
Time = Annotated[datetime, Meta(tz=True)]


def one_of(*words: str) -> Meta:
    """Marks a text that is one of these words."""
    return Meta(extra_json_schema={"enum": [*words]})


# The kinds of alerts, as they are listed. What is measured pauses without a pulse, and so does a missing reading.
# A happening ends when somebody has taken notice, or when what caused it is corrected; all others end with their cause.
MEASURED = (
    "low_pressure",
    "falling",
    "high_pressure",
    "low_saturation",
    "slow_breathing",
    "vital_sign",
    "after_pressor",
    "crackles_on_fluid",
    "no_vitals",
    "no_sedation",
)
OVERDUE = "reassessment_overdue"
PAUSED_WITHOUT_PULSE = (*MEASURED, OVERDUE)
HAPPENINGS = ("dose_outside_limits", "order_not_given", "clock_offset")
ALERTS = (
    *MEASURED,
    "pressor_running_out",
    OVERDUE,
    "order_waiting",
    "readback_waiting",
    "readback_mismatch",
    "question_waiting",
    "no_contact",
    "not_accepted",
    "moved_not_seen",
    "countersign_waiting",
    *HAPPENINGS,
)
