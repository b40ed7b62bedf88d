"""Searches: past cases by who, what and when; handovers by whom."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from consult.models import Alert, Case, ControlOffer, TookPart


def history(
    cases: QuerySet[Case],
    *,
    unit: UUID | None = None,
    physician: UUID | None = None,
    impression: str | None = None,
    opened_from: datetime | None = None,
    opened_to: datetime | None = None,
    alert: str | None = None,
    outside_limits: bool | None = None,
    text: str | None = None,
    ended: bool | None = None,
) -> QuerySet[Case]:
    """Those of the cases that fit, newest first.

    `unit` is one that has or had the patient, `physician` one who had control, decided, ordered or instructed.
    """
    physicians = TookPart.objects.exclude(physician=None).select_related("physician__user").order_by("id")
    others = Prefetch("took_part", physicians, to_attr="physicians")
    found = cases.select_related("unit", "physician__user").prefetch_related(others).order_by("-opened_at", "-id")
    if unit:
        found = found.filter(Q(unit=unit) | Q(pk__in=TookPart.objects.filter(unit=unit).values("case")))
    if physician:
        found = found.filter(pk__in=TookPart.objects.filter(physician=physician).values("case"))
    wanted = {
        "impression": impression,
        "opened_at__gte": opened_from,
        "opened_at__lte": opened_to,
        "outside_limits": outside_limits,
        "complaint__icontains": text,
    }
    found = found.filter(**{name: value for name, value in wanted.items() if value is not None})
    if ended is not None:
        found = found.exclude(state=Case.State.OPEN) if ended else found.filter(state=Case.State.OPEN)
    if alert:
        raised = Alert.objects.filter(case=OuterRef("pk"), kind=alert)
        found = found.filter(Exists(raised))
    return found


def handovers(agency: UUID, party: UUID | None = None) -> QuerySet[ControlOffer]:
    """The shift handovers of an agency, newest first, each as its first case; of a `party` those by or to it.

    An id is unique in its agency alone.
    """
    rows = ControlOffer.objects.filter(case__agency_id=agency)
    found = rows.exclude(Exists(rows.filter(handover=OuterRef("handover"), pk__lt=OuterRef("pk"))))
    return (found.filter(Q(by=party) | Q(to=party)) if party else found).order_by("-received_at", "-id")
