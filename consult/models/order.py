"""Orders: asked, decided, read back, given."""

from django.db import models

from consult.models.fields import Entry


class Order(Entry):
    """A crew's request or a physician's order; `data` is its content now, `steps` each step with who and when."""

    class State(models.TextChoices):
        REQUESTED = "requested"
        APPROVED = "approved"
        READ_BACK = "read_back"
        GIVEN = "given"
        DECLINED = "declined"
        WITHDRAWN = "withdrawn"
        NOT_GIVEN = "not_given"
        EXPIRED = "expired"
        VOIDED = "voided"

    FINISHED = (State.GIVEN, State.DECLINED, State.WITHDRAWN, State.NOT_GIVEN, State.EXPIRED, State.VOIDED)

    at = models.DateTimeField()
    at_as_sent = models.DateTimeField()
    treatment = models.CharField(max_length=60)
    state = models.CharField(max_length=10, choices=State.choices)
    data = models.JSONField()
    steps = models.JSONField(default=list)

    class Meta:
        indexes = [
            models.Index(fields=["case", "at"], name="order_order"),
            models.Index(fields=["case", "uid"], name="order_uid"),
        ]
