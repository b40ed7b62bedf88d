"""The Celery application: beat ticks, a worker sweeps and seals."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")

app = Celery("consult")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["consult"])
