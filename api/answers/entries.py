"""What a write of crew, physician or supervisor answers, and single entries read back."""

from __future__ import annotations

from rest_framework.serializers import (
    BooleanField,
    CharField,
    DateTimeField,
    DictField,
    IntegerField,
    JSONField,
    Serializer,
    UUIDField,
)

from api.answers.checks import StrengthRateAnswer
from api.answers.parts import (
    AlertAnswer,
    AmountAnswer,
    CheckAnswer,
    DerivedAnswer,
    ProblemDocument,
    ReassessmentAnswer,
    RuleSetName,
    many,
    optional,
)


class EntryAnswer(Serializer):
    """An entry as it was sent, with what the server adds."""

    id = UUIDField()
    case = UUIDField()
    received_at = DateTimeField()
    seq = IntegerField(help_text="the case's journal number after this write")


class VitalsAnswer(EntryAnswer):
    """The set as sent, what it says, and what in it is unlikely."""

    taken_at = DateTimeField()
    derived = DerivedAnswer()
    unlikely = many(CharField())


class InterventionAnswer(Serializer):
    """What was given, how it stands, and how it was judged."""

    id = UUIDField()
    case = UUIDField()
    received_at = DateTimeField()
    treatment = CharField()
    given_at = DateTimeField()
    status = CharField()
    check = CheckAnswer()
    reassessment = optional(ReassessmentAnswer)


class WrittenIntervention(InterventionAnswer):
    """An intervention after a write."""

    seq = IntegerField()


class WrittenAlert(AlertAnswer):
    """An alert after it was acknowledged."""

    seq = IntegerField()


class BatchResult(Serializer):
    """How one entry of a batch fared, as if it had been sent alone."""

    id = UUIDField(allow_null=True)
    status = IntegerField()
    seq = IntegerField(required=False)
    problem = ProblemDocument(required=False)


class BatchAnswer(Serializer):
    """One result for each entry, in their order."""

    results = many(BatchResult())


class JournalEntryAnswer(Serializer):
    """One line of a case's journal."""

    seq = IntegerField()
    kind = CharField()
    at = DateTimeField()
    received_at = DateTimeField()
    late = BooleanField()
    by = optional(DictField)
    data = JSONField()  # type: ignore[assignment]
    digest = CharField()


class VerifyAnswer(Serializer):
    """Whether the journal is as it was written."""

    intact = BooleanField()
    first_fault = JSONField()
    checked_to = JSONField()


class WearsOffAnswer(Serializer):
    """Between which times the last push wears off."""

    last_at = DateTimeField()
    earliest = DateTimeField()
    latest = DateTimeField()
    text = CharField()
    source = CharField()  # type: ignore[assignment]


class FromPushesAnswer(Serializer):
    """The rate of an infusion that the last pushes of its drug come to: information, not advice."""

    treatment = CharField(help_text="what was pushed")
    pushes = IntegerField()
    first_at = DateTimeField()
    last_at = DateTimeField()
    rates = many(AmountAnswer(), help_text="in every unit")
    pump = many(StrengthRateAnswer())
    text = CharField()
    source = CharField()  # type: ignore[assignment]


class TreatmentGuidance(Serializer):
    """What may be given of one treatment to this patient, now."""

    treatment = CharField()
    title = CharField()
    least = optional(AmountAnswer)
    most = optional(AmountAnswer)
    volumes = optional(DictField)
    recipe = many(CharField())
    left = JSONField()
    next_at = optional(DateTimeField)
    missing = many(CharField())
    cautions = many(CharField())
    caution_sources = many(CharField(), help_text="one for each caution, in their order")
    source = CharField()  # type: ignore[assignment]
    relevant = BooleanField()
    usual = many(DictField(), help_text="amounts to choose from: amount, per_kg, volumes by strength, source")
    limit_sources = many(CharField())
    wears_off = optional(WearsOffAnswer, help_text="of a push")
    from_pushes = optional(FromPushesAnswer, help_text="of an infusion")


class GuidanceAnswer(Serializer):
    """All treatments of the rule set, those that fit first."""

    treatments = many(TreatmentGuidance())
    rule_set = RuleSetName()


class RuleSetAnswer(RuleSetName):
    """A rule set in force: goals, treatments with limits and recipes, and a source for every number."""

    approved = optional(DictField)
    goals = JSONField()
    treatments = JSONField()
