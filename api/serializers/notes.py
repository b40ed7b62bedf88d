"""Words and deeds beside the drugs: notes, procedures, corrections, reviews, acknowledgements."""

from __future__ import annotations

from typing import Any

from api.fields import Choice, Flag, Id, Number, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape, refusal
from dosing.ground.phases import PHASES
from dosing.rules.words import PACED_OR_SHOCKED as WITH_SETTINGS

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
    "cpr_pause",
    "warming",
    "splint",
    "other",
)


class NoteEntry(Entry):
    """A few words, 1–2,000 characters."""

    at = Time(required=False)
    text = Text(2000, lines=True)


class SettingsEntry(Shape):
    """What a pacemaker or defibrillator was set to."""

    rate = Number(30, 200, required=False, help_text="of pacing, a minute")
    output_ma = Number(0, 200, required=False, help_text="of pacing, mA")
    joules = Number(1, 360, required=False, help_text="of a shock")
    synchronized = Flag(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """At least one must be there."""
        if not attrs:
            raise refusal("", "At least one setting is needed.", "nothing_set")
        return attrs


class ProcedureEntry(Entry):
    """Something done that is not a drug."""

    procedure = Choice(PROCEDURES)
    at = Time(required=False)
    site = Text(100, required=False)
    gauge = Number(5, 30, required=False)
    outcome = Choice(("done", "failed", "attempted"))
    settings = SettingsEntry(required=False, help_text=f"of {', '.join(WITH_SETTINGS)} alone")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Settings are those of a device."""
        if "settings" in attrs and attrs["procedure"] not in WITH_SETTINGS:
            raise refusal("settings", "This procedure has no settings.", "not_for_procedure")
        return attrs


class PhaseEntry(Entry):
    """The phase of a case from then on."""

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
    """What a supervisor found afterward."""

    text = Text(5000, lines=True)
    outcome = Choice(("no_concern", "learning", "follow_up"))
    at = Time(required=False)


class Acknowledge(Entry):
    """That a person has seen an alert, with a note if any."""

    note = Text(500, required=False)
    at = Time(required=False)
