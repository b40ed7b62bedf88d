"""The card, and a case in a list."""

from __future__ import annotations

from rest_framework.serializers import (
    BooleanField,
    CharField,
    ChoiceField,
    DateTimeField,
    DictField,
    FloatField,
    IntegerField,
    JSONField,
    Serializer,
    UUIDField,
)

from api.answers.containers import HeldAnswer
from api.answers.orders import OrderAnswer
from api.answers.parts import (
    AlertAnswer,
    AmountAnswer,
    PersonAnswer,
    ReassessmentAnswer,
    RuleSetName,
    UnitAnswer,
    many,
    optional,
)

STATES = ("open", "handed_over", "closed")


class CaseRow(Serializer):
    """A case in a list."""

    id = UUIDField()
    unit = UnitAnswer()
    state = ChoiceField(choices=STATES)
    opened_at = DateTimeField()
    seq = IntegerField()


class GoalAnswer(Serializer):
    """The pressure goal in force, in mmHg."""

    measure = ChoiceField(choices=("map", "sbp"))
    floor = FloatField()
    ceiling = optional(FloatField)
    because = CharField(allow_blank=True)


class TrendPoint(Serializer):
    """What was measured at one time."""

    t = DateTimeField()
    sbp = optional(FloatField, required=False)
    dbp = optional(FloatField, required=False)
    map = optional(FloatField, required=False)
    hr = optional(FloatField, required=False)
    spo2 = optional(FloatField, required=False)
    etco2 = optional(FloatField, required=False)


class FluidsAnswer(Serializer):
    """What has run in so far."""

    total_ml = FloatField()
    ml_per_kg = optional(FloatField)
    boluses = IntegerField()
    boluses_left = optional(IntegerField)


class GivenAnswer(Serializer):
    """What was given of one treatment so far."""

    treatment = CharField()
    count = IntegerField()
    total = optional(AmountAnswer)
    last_at = DateTimeField()


class ResponseAnswer(Serializer):
    """The pressure before and after one treatment."""

    intervention = UUIDField()
    map_before = optional(FloatField)
    map_after = optional(FloatField, help_text="the median of the readings that show the effect")
    map_highest = optional(FloatField, help_text="the highest of them, where it stands out from the median")
    change = optional(FloatField)
    pulse_pressure_before = optional(FloatField)
    pulse_pressure_after = optional(FloatField)
    shared = BooleanField(help_text="another treatment acted at the same time")
    text = CharField()


class BelowGoalAnswer(Serializer):
    """Depth times minutes below the goal in force, from the readings on the card: a measure, not a prognosis."""

    mmhg_min = FloatField()
    minutes = FloatField()
    measured_min = FloatField()
    gap_min = FloatField(help_text="between readings too far apart to be joined")
    since = DateTimeField()


class CardAnswer(Serializer):
    """The case as every screen shows it; keys not listed here may be added."""

    case = UUIDField()
    seq = IntegerField()
    unit = UnitAnswer()
    state = ChoiceField(choices=STATES)
    opened_at = DateTimeField()
    patient = DictField()
    complaint = CharField(allow_blank=True)
    impression = CharField()
    destination = CharField(allow_blank=True)
    eta = optional(DateTimeField)
    physician = optional(PersonAnswer)
    goal = optional(GoalAnswer)
    vitals = DictField(help_text="by measurement its latest `value` and `taken_at`; and `derived`")
    trend = many(TrendPoint(), help_text="at most 60, oldest first")
    map_slope = optional(FloatField, help_text="mmHg per minute")
    crossing_at = optional(DateTimeField, help_text="when the pressure crosses its goal if it goes on like this")
    below_goal = optional(BelowGoalAnswer)
    fluids = FluidsAnswer()
    given = many(GivenAnswer())
    running = many(DictField())
    responses = many(ResponseAnswer())
    reassessments = many(ReassessmentAnswer(), help_text="those not done, soonest first")
    orders = many(OrderAnswer(), help_text="those not finished")
    access = JSONField()
    in_hand = many(HeldAnswer(), help_text="mixed syringes, hung bags, open cylinders, oldest first")
    alerts = many(AlertAnswer(), help_text="open ones")
    last_contact_at = optional(DateTimeField)
    rule_set = RuleSetName()


class WrittenCase(CardAnswer):
    """The card after a write, with the case's id under the name that other answers use."""

    id = UUIDField()


class WrittenPatient(WrittenCase):
    """The card after an entry that says who the patient is, and what of it to ask back once; nothing is refused."""

    unlikely = many(
        CharField(), help_text="a weight outside the 3rd to 97th centile for the age, where the entry told it"
    )


class HistoryRow(CaseRow):
    """A past case in the search."""

    outcome = optional(CharField)
    ended_at = optional(DateTimeField)
    patient = DictField()
    complaint = CharField(allow_blank=True)
    impression = CharField()
    physician = optional(PersonAnswer)
    outside_limits = BooleanField()
