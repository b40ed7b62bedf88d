"""Consults without a drug: what crews ask, what physicians tell them to do."""

from django.db import models

from consult.models.fields import Entry


class Question(Entry):
    """What a crew asked that is no order; `data` is its content now, `steps` each step with who and when."""

    class State(models.TextChoices):
        OPEN = "open"
        ANSWERED = "answered"
        WITHDRAWN = "withdrawn"

    at_as_sent = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices)
    data = models.JSONField()
    steps = models.JSONField(default=list)

    class Meta:
        indexes = [models.Index(fields=["case", "uid"], name="question_uid")]


class Instruction(Entry):
    """What a physician told a crew to do; `data` is its content now, `steps` each step with who and when."""

    class State(models.TextChoices):
        GIVEN = "given"
        UNDERSTOOD = "understood"
        DONE = "done"
        UNABLE = "unable"
        WITHDRAWN = "withdrawn"

    at_as_sent = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices)
    data = models.JSONField()
    steps = models.JSONField(default=list)

    class Meta:
        indexes = [models.Index(fields=["case", "uid"], name="instruction_uid")]
