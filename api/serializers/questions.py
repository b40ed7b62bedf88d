"""Consults without a drug: asked by a crew, told by a physician, understood, done or not possible."""

from __future__ import annotations

from typing import Any

from api.fields import Choice, Flag, Id, Many, Number, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape, refusal
from consult.state.questions import DECISIONS, TOPICS

REFUSAL = {"capacity", "risks_told", "who_refuses"}
ENDING = {"minutes", "rhythm", "criteria"}
FORMS = {  # by topic: what its form needs, and may have besides
    "refusal": (REFUSAL, {"witness"}),
    "end_resuscitation": (ENDING, {"etco2"}),
}


class FormEntry(Shape):
    """For a refusal `capacity`, `risks_told`, `who_refuses` and a `witness`; for ending a resuscitation the others."""

    capacity = Choice(("yes", "no", "unsure"), required=False)
    risks_told = Flag(required=False)
    witness = Text(120, required=False, allow_blank=True)
    who_refuses = Text(120, required=False)
    minutes = Number(0, 600, required=False, help_text="of resuscitation so far")
    rhythm = Text(60, required=False)
    etco2 = Number(0, 150, required=False, help_text="mmHg")
    criteria = Many(
        child=Text(60), max_length=30, required=False, help_text="those of the rule set that are met, by their names"
    )


class QuestionEntry(Entry):
    """What a crew asks without a drug; a refusal of care and the end of a resuscitation come with their form."""

    topic = Choice(TOPICS)
    text = Text(2000, lines=True)
    form = FormEntry(required=False)
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need the form of a guided topic, whole, and refuse what it would leave unheard."""
        topic, form = attrs["topic"], attrs.get("form")
        if topic not in FORMS:
            if form is not None:
                raise refusal("form", f"A question about “{topic}” has no form.", "unknown_field")
            return attrs
        if form is None:
            names = ", ".join(sorted(FORMS[topic][0]))
            raise refusal("form", f"This topic comes with its form: {names}.", "required")
        needed, more = FORMS[topic]
        for name in sorted(needed - form.keys()):
            raise refusal(f"form/{name}", "This field is required.", "required")
        for name in sorted(form.keys() - needed - more):
            raise refusal(f"form/{name}", f"The form of “{topic}” has no such field.", "unknown_field")
        return attrs


class InstructionEntry(Entry):
    """What a physician tells a crew to do, with or without a `question`; the answer to a form has a `decision`."""

    text = Text(2000, lines=True)
    question = Id(required=False)
    decision = Choice(DECISIONS, required=False)
    at = Time(required=False)


class StepTaken(Entry):
    """A step that needs no words."""

    at = Time(required=False)
