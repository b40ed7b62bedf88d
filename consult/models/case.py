"""A case and the entries about it, as they were sent."""

from __future__ import annotations

from django.db import models

from consult.models.fields import Correctable, Entry, new_id


class Case(models.Model):
    """One patient in one unit's care; `uid` is the id that everybody outside uses.

    `folded` and `card` are kept JSON text: the state that the journal comes to, and what everybody sees. The columns
    beside them are for searching. `seq` and `head` are the journal's last number and digest, `version` the seq of the
    last change to patchable fields, `former_units` those that had the patient before `unit`, each with `until` when,
    `wake_at` the next time at which time alone changes something (its index holds just the cases that wait).
    """

    class State(models.TextChoices):
        OPEN = "open"
        HANDED_OVER = "handed_over"
        CLOSED = "closed"

    uid = models.UUIDField(default=new_id, editable=False)
    agency = models.ForeignKey("consult.Agency", models.PROTECT, related_name="cases", db_index=False)
    unit = models.ForeignKey("consult.Unit", models.PROTECT, related_name="cases")
    by = models.ForeignKey("consult.Membership", models.PROTECT, related_name="+", db_index=False)
    rule_set = models.ForeignKey("consult.RuleSetRecord", models.PROTECT, related_name="+", db_index=False)
    physician = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="accepted_cases")
    former_units = models.JSONField(default=list)
    state = models.CharField(max_length=12, choices=State.choices, default=State.OPEN)
    opened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=20, default="", blank=True)
    incident = models.CharField(max_length=200, default="", blank=True)
    patient = models.JSONField()
    complaint = models.CharField(max_length=500, default="", blank=True)
    impression = models.CharField(max_length=20, default="undifferentiated")
    destination = models.CharField(max_length=200, default="", blank=True)
    eta = models.DateTimeField(null=True)
    goal = models.JSONField(null=True)
    outside_limits = models.BooleanField(default=False)
    last_contact_at = models.DateTimeField()
    attended_at = models.DateTimeField(null=True)
    wake_at = models.DateTimeField(null=True)
    seq = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=0)
    head = models.CharField(max_length=64, default="")
    folded = models.TextField(default="{}")
    card = models.TextField(default="{}")
    drawn: int | None = None  # a key for the row that the entry under way makes: no column

    class Meta:
        constraints = [models.UniqueConstraint(fields=["agency", "uid"], name="one_case_per_id")]
        indexes = [
            models.Index(fields=["agency", "-opened_at", "-id"], name="case_history"),
            models.Index(fields=["agency", "unit"], name="case_open", condition=models.Q(state="open")),
            models.Index(fields=["wake_at"], name="case_wake", condition=models.Q(wake_at__isnull=False)),
        ]


class TookPart(models.Model):
    """Who else had part in a case: a `unit` from which it was moved, a `physician` who had control or decided in it."""

    case = models.ForeignKey(Case, models.PROTECT, related_name="took_part", db_index=False)
    unit = models.ForeignKey("consult.Unit", models.PROTECT, null=True, related_name="+", db_index=False)
    physician = models.ForeignKey("consult.Membership", models.PROTECT, null=True, related_name="+", db_index=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "case"], name="took_part_unit"),
            models.UniqueConstraint(fields=["physician", "case"], name="took_part_physician"),
        ]
        indexes = [models.Index(fields=["case"], name="took_part_case")]


class Vitals(Correctable):
    """One set of vitals: `data` as sent, `derived` as answered then, `unlikely` what was asked about."""

    taken_at = models.DateTimeField()
    data = models.JSONField()
    derived = models.JSONField()
    unlikely = models.JSONField(default=list)

    class Meta:
        indexes = [models.Index(fields=["case", "-taken_at", "-seq"], name="vitals_newest")]


class Intervention(Correctable):
    """A treatment given or running: `data` as sent, `verdict` as judged then; neither changes.

    `status`, `rate` with `rate_check` (the newest one's) and `infused` are what its changes have made of it,
    `judged_anew` the check after an entry told late, or taken back, changed what was known then,
    `countersigned` what the physician said who is named for its voice order.
    """

    given_at = models.DateTimeField()
    treatment = models.CharField(max_length=60)
    status = models.CharField(max_length=10, default="given")
    order = models.ForeignKey("consult.Order", models.PROTECT, null=True, related_name="interventions")
    data = models.JSONField()
    verdict = models.JSONField()
    rate = models.JSONField(null=True)
    rate_check = models.JSONField(null=True)
    infused = models.JSONField(null=True)
    judged_anew = models.JSONField(null=True)
    countersigned = models.JSONField(null=True)
    reassessment = models.JSONField(null=True)

    class Meta:
        indexes = [models.Index(fields=["case", "given_at"], name="intervention_order")]


class Procedure(Correctable):
    """Something done that is not a drug: an access, an airway, a tourniquet."""

    at = models.DateTimeField()
    data = models.JSONField()

    class Meta:
        indexes = [models.Index(fields=["case", "at"], name="procedure_order")]


class PhaseChange(Correctable):
    """Which phase the case is in from then on."""

    at = models.DateTimeField()
    data = models.JSONField()

    class Meta:
        indexes = [
            models.Index(fields=["case", "at"], name="phase_order"),
            models.Index(fields=["case", "uid"], name="phase_uid"),
        ]


class Note(Correctable):
    """A few words by crew or physician."""

    at = models.DateTimeField()
    at_as_sent = models.DateTimeField()
    text = models.TextField()

    class Meta:
        indexes = [
            models.Index(fields=["case", "at"], name="note_order"),
            models.Index(fields=["case", "uid"], name="note_uid"),
        ]


class Correction(Entry):
    """Marks another entry as entered in error."""

    target_kind = models.CharField(max_length=20)
    target = models.UUIDField()
    reason = models.CharField(max_length=500)


class Review(Entry):
    """What a supervisor found afterward."""

    text = models.TextField()
    outcome = models.CharField(max_length=20)

    class Meta:
        indexes = [models.Index(fields=["case"], name="review_case")]
