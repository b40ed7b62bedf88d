"""Figures for a monitor: counts, times and ages; no label ever holds an id, a name or a path."""

from collections.abc import Iterable, Iterator

from django.db import Error
from django.db.models import Count
from prometheus_client import REGISTRY, Histogram, Metric
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from consult import clock, heartbeat
from consult.models import Alert, Case

ANSWERS = Histogram(
    "consult_answer_seconds",
    "Time to answer a request, by part of the board, method and status.",
    ["part", "method", "status"],
    buckets=(0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10),
)


class Board(Collector):
    """What the database knows, asked for when the monitor asks; with the database gone only that is told."""

    def describe(self) -> Iterable[Metric]:
        """Nothing ahead of time, so that registering asks no database."""
        return []

    def collect(self) -> Iterator[Metric]:
        """The figures of this moment."""
        try:
            yield from list(self._figures())
            works = 1
        except Error:
            works = 0
        yield GaugeMetricFamily("consult_database_up", "1 while the database answers.", value=works)

    def _figures(self) -> Iterator[Metric]:
        yield GaugeMetricFamily(
            "consult_open_cases", "Cases under way.", value=Case.objects.filter(state=Case.State.OPEN).count()
        )
        alerts = GaugeMetricFamily("consult_open_alerts", "Alerts whose cause stands.", labels=["priority"])
        open_alerts = Alert.objects.filter(cleared_at=None).values_list("priority")
        for priority, number in open_alerts.annotate(number=Count("pk")).order_by("priority"):
            alerts.add_metric([priority], number)
        yield alerts
        ages = GaugeMetricFamily("consult_task_age_seconds", "Since a regular task last ended well.", labels=["task"])
        for task in ("sweep", "seal"):
            if at := heartbeat.last(task):
                ages.add_metric([task], (clock.now() - at).total_seconds())
        yield ages


REGISTRY.register(Board())
