"""Parts that several answers share."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.serializers import (
    CharField,
    ChoiceField,
    DateTimeField,
    FloatField,
    IntegerField,
    JSONField,
    ListField,
    Serializer,
    UUIDField,
)


def many(child: Any, **rest: Any) -> ListField:
    """A list of one kind of thing."""
    return ListField(child=child, **rest)


def optional(kind: type[serializers.Field], **rest: Any) -> Any:
    """A field that is always there and may be null."""
    return kind(allow_null=True, **rest)


class FieldProblem(Serializer):
    """One fault in a request."""

    pointer = CharField(allow_blank=True, help_text="a JSON pointer into the request (RFC 6901)")
    detail = CharField()
    code = CharField()


class ProblemDocument(Serializer):
    """Why a request was refused (RFC 9457)."""

    type = CharField(help_text="a slug such as `id-reused`")
    title = CharField()
    status = IntegerField()
    detail = CharField()
    errors = many(FieldProblem(), required=False, help_text="with 422: each fault")  # type: ignore[assignment]


class AmountAnswer(Serializer):
    """A number and its unit."""

    value = FloatField()
    unit = CharField()


class PersonAnswer(Serializer):
    """A person, by membership."""

    id = UUIDField()
    name = CharField()


class UnitAnswer(Serializer):
    """A vehicle with its crew."""

    id = UUIDField()
    call_sign = CharField()


class RuleSetName(Serializer):
    """By which rules something was judged."""

    name = CharField()
    version = CharField()
    digest = CharField(required=False)


class WeightAnswer(AmountAnswer):
    """A body weight, and how it is known."""

    basis = CharField(required=False)


class FindingAnswer(Serializer):
    """What a check found, and where its limit comes from."""

    code = CharField()
    level = ChoiceField(choices=("caution", "needs_order", "over_hard_limit"))
    text = CharField()
    limit = JSONField()
    source = optional(CharField, allow_blank=True)


class GiveAnswer(Serializer):
    """What is to be drawn up, run or injected."""

    dose = optional(AmountAnswer)
    volume = optional(AmountAnswer)
    rate = optional(AmountAnswer)
    syringe = optional(AmountAnswer)
    shown = CharField(allow_blank=True)
    if_swapped = many(CharField())


class WeightRangeAnswer(Serializer):
    """The true weights, in kg, for which the verdict of a dose measured out on a guess holds; null is no bound."""

    least = optional(FloatField)
    most = optional(FloatField)
    text = CharField(help_text="such as `within for 9.4–14.8 kg`")
    lighter = optional(CharField, help_text="the verdict just below the least")
    heavier = optional(CharField, help_text="the verdict just above the most")
    beyond = CharField(help_text="both in words, such as `if lighter, needs an order`", allow_blank=True)


class CheckedWith(Serializer):
    """The pressure that a check was made with."""

    text = CharField(help_text="such as `MAP 54, goal 65`")
    taken_at = DateTimeField()


class CheckAnswer(Serializer):
    """A proposal held against the rules: the verdict is the worst of the findings."""

    verdict = ChoiceField(choices=("within", "caution", "needs_order", "over_hard_limit"))
    findings = many(FindingAnswer())
    give = GiveAnswer()
    weight_used = optional(WeightAnswer)
    weight_range = optional(WeightRangeAnswer, help_text="for a guessed weight that the verdict hangs on, else null")
    next_at = optional(DateTimeField)
    at = optional(DateTimeField, help_text="the moment for which it holds", required=False)
    pressure = optional(CheckedWith, help_text="null before the first one", required=False)
    rule_set = RuleSetName()


class ReassessmentAnswer(Serializer):
    """The reading that a treatment asks for."""

    id = UUIDField()
    intervention = UUIDField()
    because = CharField()
    counts_from = DateTimeField()
    needs = many(CharField())
    due_at = DateTimeField()
    overdue_at = DateTimeField()
    done_at = optional(DateTimeField)
    state = ChoiceField(choices=("waiting", "done", "overdue", "unknown"))


class TakenNotice(Serializer):
    """Who acknowledged, and when."""

    by = CharField()
    at = DateTimeField()


class AlertAnswer(Serializer):
    """One thing that needs a person."""

    id = UUIDField()
    case = UUIDField()
    kind = CharField()
    priority = ChoiceField(choices=("high", "medium", "low"))
    text = CharField()
    raised_at = DateTimeField()
    acknowledged = optional(TakenNotice)
    escalated_at = optional(DateTimeField)
    cleared_at = optional(DateTimeField)
    cleared_because = optional(CharField)


class Pressure(Serializer):
    """How a pressure stands against the patient's goal."""

    state = optional(CharField)
    judged_by = optional(CharField)
    goal = optional(FloatField)
    text = optional(CharField)


class DerivedAnswer(Serializer):
    """What one set of vitals says."""

    map = optional(FloatField)
    map_computed = optional(FloatField)
    map_shown = optional(CharField)
    map_from = optional(CharField)
    pulse_pressure = optional(FloatField)
    shock_index = optional(FloatField)
    pressure = optional(Pressure)
    signs = many(CharField(), allow_null=True)
