"""Orders and their read-back."""

from __future__ import annotations

from rest_framework.serializers import (
    BooleanField,
    CharField,
    ChoiceField,
    DateTimeField,
    DictField,
    IntegerField,
    Serializer,
    UUIDField,
)

from api.answers.parts import AmountAnswer, CheckAnswer, many, optional

ORDER_STATES = (
    "requested",
    "approved",
    "read_back",
    "given",
    "declined",
    "withdrawn",
    "not_given",
    "expired",
    "voided",
)


class OrderAnswer(Serializer):
    """An order, or a request for one, as it stands."""

    id = UUIDField()
    case = UUIDField()
    state = ChoiceField(choices=ORDER_STATES)
    treatment = CharField()
    title = CharField()
    name = optional(CharField, required=False, help_text="of a drug that the rule set lacks")
    amount = optional(AmountAnswer)
    route = optional(CharField, allow_blank=True)
    shown = CharField(allow_blank=True)
    reason = optional(CharField, allow_blank=True)
    action = CharField()
    repeat = optional(DictField)
    check = optional(CheckAnswer)
    requested_by = optional(CharField)
    requested_at = optional(DateTimeField)
    asked_for = optional(CharField, help_text="what was asked, where the decision changed it")
    decided_by = optional(CharField)
    decided_at = optional(DateTimeField)
    read_back_at = optional(DateTimeField)
    given = IntegerField()
    question = optional(CharField)
    waiting_since = optional(DateTimeField)
    expires_at = optional(DateTimeField)
    seen_at = optional(DateTimeField)


class OrderAsItStands(OrderAnswer):
    """An order with what became of it in words."""

    told = CharField(help_text="its last step, by whom, when and why, as a sentence")


class WrittenOrder(OrderAnswer):
    """An order after a step."""

    seq = IntegerField()


class ReadBackAnswer(Serializer):
    """The order, where what was repeated matches; else which fields differ, never the right value."""

    id = UUIDField()
    case = UUIDField()
    state = ChoiceField(choices=ORDER_STATES)
    matches = BooleanField()
    differences = many(CharField())
    seq = IntegerField()
