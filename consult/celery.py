"""The Celery application: beat ticks, a worker sweeps and seals."""

import os
from typing import Any

from celery import Celery
from celery.signals import worker_init
from kombu.transport.redis import QoS

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")

app = Celery("consult")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["consult"])

# A worker that holds a task while Redis dies would end over giving it back. Who does not, holds it until the broker's
# visibility timeout hands it out again.
QoS.restore_at_shutdown = False


@worker_init.connect
def _learn(**_: Any) -> None:
    """Before the first of the worker's threads or processes begins."""
    from consult import learned, tasks  # noqa: F401  with all that they read into

    learned.learn()
