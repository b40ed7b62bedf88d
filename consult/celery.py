"""The Celery application: beat ticks, a worker sweeps and seals."""

import os
from typing import Any

from celery import Celery
from celery.signals import worker_init
from kombu.transport.redis import Channel, QoS

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")

app = Celery("consult")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["consult"])


class OfClosedChannels(QoS):
    """What a worker holds of a channel that closed because Redis died: until the visibility timeout hands it out again.

    It would end over giving it back, and, having done it, over saying so on that channel (kombu 5.7: 'NoneType' object
    has no attribute 'client'), since such a task acknowledges itself only once there is a new connection.
    """

    restore_at_shutdown = False

    def ack(self, delivery_tag: str) -> None:
        """Acknowledge a task, unless the channel that it came by is closed."""
        if self.channel.connection is not None:
            super().ack(delivery_tag)


Channel.QoS = OfClosedChannels


@worker_init.connect
def _learn(**_: Any) -> None:
    """Before the first of the worker's threads or processes begins."""
    from consult import learned, tasks  # noqa: F401  with all that they read into

    learned.learn()
