"""Whether this process serves, whether the board as a whole is ready, and its figures for a monitor."""

from collections.abc import Callable

import redis
from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from consult import clock, heartbeat, queries
from consult.service import revival


def healthz(request: HttpRequest) -> HttpResponse:
    """200 while this process serves; the proxy and compose ask this one."""
    return HttpResponse("ok\n", content_type="text/plain")


def readyz(request: HttpRequest) -> JsonResponse:
    """200 with every part "ok", or 503 naming what fails.

    For people, not for the proxy: a dead Redis must not drain servers that still take writes.
    """
    parts = {name: _outcome(probe) for name, probe in PROBES.items()}
    return JsonResponse(parts, status=200 if set(parts.values()) == {"ok"} else 503)


def metrics(request: HttpRequest) -> HttpResponse:
    """Prometheus figures of this process; counts and times alone, nothing about a patient."""
    return HttpResponse(generate_latest(), content_type=CONTENT_TYPE_LATEST)


def _outcome(probe: Callable[[], str]) -> str:
    try:
        return probe()
    except Exception as fault:  # whatever a driver raises, the part does not work
        return f"fails: {type(fault).__name__}"


def _database() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return "ok"


def _redis() -> str:
    if not settings.REDIS_URL:
        return "fails: no REDIS_URL"
    with redis.Redis.from_url(settings.REDIS_URL, socket_timeout=2, socket_connect_timeout=2) as client:
        client.ping()
    return "ok"


def _sweep() -> str:
    at = heartbeat.last("sweep")
    if at is None:
        return "fails: has not run yet"
    age = clock.now() - at
    return "ok" if age < heartbeat.MAY_REST else f"fails: last ran {age.total_seconds():.0f} s ago"


def _notifications() -> str:
    since = queries.untold_since(None, clock.now())
    return f"fails: since {clock.stamp(since)}" if since else "ok"


def _processes() -> str:
    told = revival.read(settings.PROCESSES_FILE)
    return "; ".join(f"fails: the {name} process {how}" for name, how in told.items()) or "ok"


PROBES = {
    "database": _database,
    "redis": _redis,
    "sweep": _sweep,
    "notifications": _notifications,
    "processes": _processes,
}
