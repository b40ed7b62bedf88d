"""Words and deeds beside the drugs: notes, procedures, corrections, reviews, acknowledgements."""

from __future__ import annotations

from api.fields import Choice, Id, Number, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape
from dosing.ground.phases import PHASES

PROCEDURES = (
    "iv_access",
    "io_access",
    "airway",
    "ventilation",
    "oxygen",
    "tourniquet",
    "pelvic_binder",
    "wound_packing",
    "chest_decompression",
    "ecg_12",
    "pacing",
    "cardioversion",
    "defibrillation",
    "cpr",
    "warming",
    "splint",
    "other",
)


class NoteEntry(Entry):
    """A few words, 1–2,000 characters."""

    at = Time(required=False)
    text = Text(2000, lines=True)


class ProcedureEntry(Entry):
    """Something done that is not a drug."""

    procedure = Choice(PROCEDURES)
    at = Time(required=False)
    site = Text(100, required=False)
    gauge = Number(5, 30, required=False)
    outcome = Choice(("done", "failed", "attempted"))


class PhaseEntry(Entry):
    """Which phase a case is in from then on."""

    phase = Choice(PHASES)
    at = Time(required=False)


class Target(Shape):
    """The entry that a correction is about."""

    kind = Choice(("vitals", "intervention", "procedure", "note", "container", "phase"))
    id = Id()


class CorrectionEntry(Entry):
    """Marks another entry as entered in error, and says why."""

    target = Target()
    reason = Text(500)
    at = Time(required=False)


class ReviewEntry(Entry):
    """What a supervisor found afterwards."""

    text = Text(5000, lines=True)
    outcome = Choice(("no_concern", "learning", "follow_up"))
    at = Time(required=False)


class Acknowledge(Entry):
    """That a person has seen an alert, with a word about it."""

    note = Text(500, required=False)
    at = Time(required=False)
