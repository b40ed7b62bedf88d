"""The rules' dataclasses and our own, made known to msgspec while only one thread runs.

msgspec learns a class when it first meets it, and keeps it before it has learnt it whole: two threads that meet one for
the first time at once, as the first posts after a start do, end the whole process.
"""

from __future__ import annotations

import msgspec

from dosing.facts import Dose, Facts, Order, Patient, Proposal, Reading, Reassessment, Weight
from dosing.in_hand import Said

SHAPES = (Dose, Facts, Order, Patient, Proposal, Reading, Reassessment, Said, Weight)


def learn() -> None:
    """Let msgspec learn all of them, with what they hold."""
    for shape in SHAPES:
        msgspec.json.Decoder(shape)
