"""A proposal held against the rules, and how what is proposed is made to run."""

from __future__ import annotations

from rest_framework.serializers import BooleanField, CharField, FloatField, IntegerField, Serializer

from api.answers.parts import AmountAnswer, CheckAnswer, many, optional


class CannulaAnswer(Serializer):
    """Whether the flow goes through a gauge."""

    gauge = IntegerField()
    by_gravity = BooleanField()
    by_pressure = BooleanField(help_text="with a pressure infuser")


class DropsAnswer(Serializer):
    """The flow in drops of one kind of set; half a drop rounds up."""

    per_ml = FloatField(help_text="drops that make 1 mL")
    per_min = IntegerField()
    exact = FloatField()
    usable = BooleanField(help_text="no faster than can be counted, and whole drops are near enough")


class StrokesAnswer(Serializer):
    """Pushing and pulling with one size of syringe, for a child."""

    syringe = AmountAnswer()
    count = IntegerField()
    every_s = FloatField()
    last = AmountAnswer(help_text="what the last stroke gives")
    managed = optional(BooleanField, help_text="whether people managed such a flow in a test; null where none did one")


class PumpAnswer(Serializer):
    """What a pump sets, in its steps, and the dose of that."""

    set = AmountAnswer()
    gives = optional(AmountAnswer)


class StrengthRateAnswer(Serializer):
    """The pump rate of one standard strength."""

    strength = AmountAnswer()
    rate = AmountAnswer()


class FlowAnswer(Serializer):
    """How a bolus or an infusion is made to run: information, no judgement."""

    needed = optional(AmountAnswer, help_text="in mL/min; null while the strength of an infusion is not known")
    over_min = optional(FloatField)
    cannulas = many(CannulaAnswer(), help_text="the widest first; none through bone or for blood")
    drops = many(DropsAnswer())
    strokes = many(StrokesAnswer())
    rates = many(AmountAnswer(), help_text="the rate of an infusion in every unit")
    pump = optional(PumpAnswer)
    by_strength = many(StrengthRateAnswer())
    lines = many(CharField(), help_text="the same in words")
    sources = many(CharField())


class CheckedProposal(CheckAnswer):
    """The check of a proposal, with its flow where it is fluid, blood or an infusion."""

    flow = optional(FlowAnswer)
