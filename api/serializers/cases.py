"""A case as it is opened, changed, handed over and closed."""

from __future__ import annotations

from typing import Any, ClassVar

from api.fields import Choice, Flag, Id, Many, Number, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape, refusal

IMPRESSIONS = (
    "septic",
    "hypovolemic",
    "hemorrhagic",
    "cardiogenic",
    "anaphylactic",
    "neurogenic",
    "obstructive",
    "undifferentiated",
)
HISTORY = (
    "anticoagulant",
    "beta_blocker",
    "steroid_dependent",
    "heart_failure",
    "dialysis",
    "maoi",
    "pacemaker",
    "transplant",
)
INJURIES = ("head", "spinal_cord", "torso", "limb")
OUTCOMES = ("handed_over", "refused", "died", "cancelled", "moved")
OLDEST = {"years": 130, "months": 130 * 12, "days": 130 * 366}


class AgeEntry(Shape):
    """An age of 0–130 years, in years, months or days."""

    value = Number(0, OLDEST["days"])
    unit = Choice(tuple(OLDEST))
    basis = Choice(("known", "stated", "estimated"), required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse an age beyond 130 years in whichever unit."""
        if attrs["value"] > OLDEST[attrs["unit"]]:
            raise refusal("value", "At most 130 years.", "out_of_range")
        return attrs


class WeightEntry(Shape):
    """A body weight of 0.3–400 kg, and how it is known."""

    value = Number(0.3, 400, unit="kg")
    unit = Choice(("kg",))
    basis = Choice(("measured", "stated", "length", "age"), required=False)


class PatientPart(Shape):
    """What is known of the patient, as far as it changes; a name is not asked for."""

    age = AgeEntry(required=False, allow_null=True)
    weight = WeightEntry(required=False, allow_null=True)
    sex = Choice(("female", "male", "other", "unknown"), required=False)
    label = Text(40, required=False, allow_null=True, allow_blank=True)  # type: ignore[assignment]
    allergies = Many(child=Text(100), max_length=50, required=False)
    history = Many(child=Choice(HISTORY), max_length=20, required=False)
    fluid_restricted = Flag(required=False)
    injuries = Many(child=Choice(INJURIES), max_length=10, required=False)
    onset_at = Time(required=False, allow_null=True)
    bleeding_cause = Choice(("trauma", "postpartum", "gut", "other"), required=False, allow_null=True)
    pregnancy_weeks = Number(0, 45, required=False, allow_null=True)
    care_limits = Choice(("full", "no_cpr", "no_intubation", "comfort", "unknown"), required=False)
    refuses_blood = Flag(required=False)
    bleeding_controlled = Flag(required=False)


class PatientEntry(PatientPart):
    """The patient of a new case: `age` null is an adult of unknown age, `weight` null one that nobody knows."""

    age = AgeEntry(allow_null=True)
    weight = WeightEntry(allow_null=True)


class CaseContent(Entry):
    """What of a case may change later."""

    happened: ClassVar[tuple[str, ...]] = ("patient/onset_at",)

    patient = PatientPart(required=False)
    incident = Text(200, required=False, allow_blank=True)
    complaint = Text(500, required=False, allow_blank=True)
    impression = Choice(IMPRESSIONS, required=False)
    destination = Text(200, required=False, allow_blank=True)
    eta = Time(required=False, allow_null=True)


class CaseChange(CaseContent):
    """What a PATCH may change; a part of the patient may stand alone.

    A destination that one side sets stands on the card as `destination_told` until the other, crew or physicians, says
    that it has seen this very one.
    """

    destination_seen = Text(200, required=False, allow_blank=True, help_text="the new destination, as it was seen")


class CaseEntry(CaseContent):
    """A new case; a physician names the `unit` that it is of."""

    happened = ("opened_at", "patient/onset_at")

    opened_at = Time()
    patient = PatientEntry()
    unit = Id(required=False)


class Accept(Entry):
    """A physician takes control; `take_over`: from another physician."""

    at = Time(required=False)
    take_over = Flag(required=False)


class Handover(Entry):
    """To whom the patient was handed over, and when."""

    to = Text(200)
    at = Time(required=False)


class Close(Entry):
    """How the case ended, and when."""

    outcome = Choice(OUTCOMES)
    at = Time(required=False)


class Reopen(Entry):
    """Why a case goes on after it had ended."""

    reason = Text(500)
    at = Time(required=False)


class Release(Entry):
    """Why a physician gives up control; `reason` may be left out."""

    reason = Text(500, required=False)
    at = Time(required=False)


class Move(Entry):
    """To which unit of the agency the patient is moved, by its id."""

    unit = Id()
    at = Time(required=False)


class Coverage(Entry):
    """Until when the crew cannot be heard."""

    until = Time()
    at = Time(required=False)


class GoalEntry(Entry):
    """The pressure goal that a physician sets for this patient, in mmHg."""

    measure = Choice(("map", "sbp"))
    floor = Number(20, 250)
    ceiling = Number(20, 300, required=False, allow_null=True)
    reason = Text(500)
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a ceiling that does not lie above the floor."""
        if attrs.get("ceiling") is not None and attrs["ceiling"] <= attrs["floor"]:
            raise refusal("ceiling", "The ceiling must lie above the floor.", "not_above_floor")
        return attrs
