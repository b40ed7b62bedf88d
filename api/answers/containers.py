"""What is in hand, as it was recorded and as the card reckons it."""

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

from api.answers.parts import AmountAnswer, optional
from api.serializers.containers import FORMS


class WrittenContainer(Serializer):
    """A syringe, bag or cylinder after a write."""

    id = UUIDField()
    case = UUIDField()
    received_at = DateTimeField()
    at = DateTimeField()
    form = ChoiceField(choices=FORMS)
    treatment = optional(CharField)
    name = CharField(required=False)
    strength = AmountAnswer(required=False)
    volume = AmountAnswer(required=False)
    cylinder = DictField(required=False)
    mixed_by = CharField()
    checked_by = CharField(required=False)
    discarded_at = optional(DateTimeField)
    discarded_because = optional(CharField)
    in_error = BooleanField()
    seq = IntegerField()


class HeldAnswer(Serializer):
    """What of a syringe, bag or cylinder is left, and how long that lasts at the present rate of use."""

    id = UUIDField()
    form = ChoiceField(choices=FORMS)
    treatment = optional(CharField)
    what = CharField()
    strength = optional(AmountAnswer)
    strength_text = CharField(allow_blank=True)
    volume = AmountAnswer(help_text="what was in it; of a cylinder the litres down to its reserve")
    left = AmountAnswer(help_text="at `left_at`; from then on it runs at `rate`")
    left_at = DateTimeField()
    doses_left = optional(DictField, help_text="`least` and `most` doses of `of`, the last dose or the standing limits")
    rate = optional(AmountAnswer)
    lasts_to = optional(DateTimeField)
    mixed_at = DateTimeField()
    mixed_by = CharField(allow_blank=True)
    checked_by = CharField(allow_blank=True)
    discard_at = optional(DateTimeField)
    note = CharField(allow_blank=True, help_text="what is wrong: more drawn than was in it, a strength of no recipe")
    shown = CharField()
