"""The Celery application of beat alone: ticks need the schedule and the broker, neither models nor tasks."""

from celery import Celery

app = Celery("consult", fixups=[])
app.config_from_object("consult.settings", namespace="CELERY")
