"""Labels to print: what a syringe or bag holds, when it was mixed, when to discard it, for whom."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from consult import access, clock, problems, queries, zone
from consult.access import Actor
from consult.actions import looks
from consult.clock import stamp
from consult.models import Case
from consult.render import words
from consult.render.in_hand import same_person
from consult.screens.page import page, signed_in
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import minutes_text
from dosing.mix import labels
from dosing.mix.labels import Label
from dosing.rules.rule_set import RuleSet, Treatment

AHEAD = timedelta(minutes=2)  # a clock that runs a little fast
NEAR = (-2, -1, 0, 1)  # days
DAY = timedelta(days=1)
TIME = re.compile(r"([01]\d|2[0-3]):?([0-5]\d)", re.ASCII)
INITIALS = 4


@require_safe
@signed_in("crew", *access.PHYSICIANS)
def label_page(request: HttpRequest, actor: Actor, case_id: UUID, slug: str) -> HttpResponse:
    """The labels of one preparation of a treatment; the time mixed is what the address says, else now."""
    now = clock.now()
    case, rules, treatment = _looked_at(actor, case_id, slug, now)
    stated = request.GET.get("mixed", "")
    mixed_at = mixed_time(stated, now)
    choices = labels.preparations(treatment, rules, mixed_at or _minute(now))
    if not choices:
        raise problems.NotFound(_("What this is given from already has its own label."))
    chosen = next((each for each in choices if each.name == request.GET.get("of")), choices[0])
    context = _context(request, actor, case, treatment, chosen.labels, now)
    if stated and (wrong := _wrong(stated, mixed_at, now)):
        context |= {"wrong": wrong, "mixed": stated, "expired": False}
    return page(request, actor, "label/label.html", **context, choices=choices, chosen=chosen)


def _wrong(stated: str, mixed_at: datetime | None, now: datetime) -> str:
    """Why no label bears the time stated; nothing where it can be. The nearer of yesterday's and today's is meant."""
    if mixed_at is None:
        return _("No label: give the time as hours and minutes, such as 14:05.")
    ahead = mixed_at + DAY - now
    if ahead > now - mixed_at:
        return ""
    return _(
        "No label: {mixed_at} is {ahead} in the future.",
        mixed_at=zone.clock(mixed_at),
        ahead=minutes_text(ahead / timedelta(minutes=1)),
    )


@require_safe
@signed_in("crew", *access.PHYSICIANS)
def container_label(request: HttpRequest, actor: Actor, container_id: UUID) -> HttpResponse:
    """The label of a syringe or bag that was recorded: its own strength, volume, time and who mixed it."""
    now = clock.now()
    row = access.container_for(actor, container_id)
    if row.form == "cylinder" or not row.treatment or not row.data.get("strength"):
        raise problems.NotFound(_("This already has its own label."))
    case, rules, treatment = _looked_at(actor, row.case.uid, row.treatment, now)
    label = labels.of_container(
        treatment,
        rules,
        vessel=row.form,
        strength=Amount(**row.data["strength"]),
        volume=Amount(**row.data["volume"]),
        mixed_at=row.at,
    )
    context = _context(request, actor, case, treatment, (label,), now, row.data)
    return page(request, actor, "label/label.html", **context)


def _looked_at(actor: Actor, case_id: UUID, slug: str, now: datetime) -> tuple[Case, RuleSet, Treatment]:
    """The case, whose look goes on record, its rules and the treatment; raises NotFound."""
    case = access.case_for(actor, case_id)
    rules = queries.rules_of(case)
    treatment = rules.treatments.get(slug)
    if treatment is None:
        raise problems.NotFound(_("The rule set has no such treatment."))
    looks.note_look(actor, case, "label", now, attends=False)
    return case, rules, treatment


def mixed_time(stated: str, now: datetime) -> datetime | None:
    """The last time that the clock here showed the hours and minutes stated; None where they cannot be read."""
    read = TIME.fullmatch(stated.strip())
    if read is None:
        return None
    here = timezone.localtime(now).replace(hour=int(read[1]), minute=int(read[2]), second=0, microsecond=0)
    # Where the clock is put, a time of day is shown twice that day, or not at all.
    tried = [(here + timedelta(days=days)).replace(fold=fold).astimezone(UTC) for days in NEAR for fold in (0, 1)]
    return max(each for each in tried if each <= now + AHEAD and timezone.localtime(each).time() == here.time())


def _minute(now: datetime) -> datetime:
    return now.replace(second=0, microsecond=0)


def _context(
    request: HttpRequest,
    actor: Actor,
    case: Case,
    treatment: Treatment,
    shown: tuple[Label, ...],
    now: datetime,
    mixed: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    person = words.person(queries.card(case)["patient"])
    back = f"/crew/{case.uid}/" if actor.is_crew else f"/cases/{case.uid}/"
    mixed_at = timezone.localtime(shown[0].mixed_at)
    return {
        "back": back,
        "title": treatment.title,
        "call_sign": case.unit.call_sign,
        "who": words.who_text(person),
        "patient": ", ".join(
            filter(None, [person["who"], person["label"] and _("patient {label}", label=person["label"])])
        ),
        "labels": [label_view(each) for each in shown],
        "color": shown[0].color,
        "mixed": f"{mixed_at:%H:%M}",
        **_hands(request, mixed or {}),
        "expired": shown[0].discard_at <= now,
    }


def _hands(request: HttpRequest, recorded: Mapping[str, Any]) -> dict[str, Any]:
    """The initials of who mixed it and of who checked that, as typed, else as recorded; nobody checks their own."""
    told = {name: initials(recorded.get(name) or "") for name in ("mixed_by", "checked_by")}
    mixed_by, checked_by = (request.GET.get(name, known).strip()[:INITIALS] for name, known in told.items())
    alone = bool(checked_by) and same_person(mixed_by, checked_by)
    return {"mixed_by": mixed_by, "checked_by": "" if alone else checked_by, "alone": alone}


def initials(name: str) -> str:
    """``JO`` of Jory Osk; none of a name with a number in it, which is a tablet's."""
    return "" if any(map(str.isdigit, name)) else "".join(word[0].upper() for word in name.split())


def label_view(label: Label) -> dict[str, Any]:
    """A label as its template prints it: clock times here, with the date of the discard where it is another day."""
    mixed, discard = timezone.localtime(label.mixed_at), timezone.localtime(label.discard_at)
    on = _(" on {day}", day=zone.day(discard)) if discard.date() != mixed.date() else ""
    return {
        "label": label,
        "mixed": zone.clock(mixed),
        "mixed_on": f"{zone.date(mixed)}, {zone.short_name(mixed)}",
        "mixed_stamp": stamp(label.mixed_at),
        "discard": zone.clock(discard) + on,
    }


urlpatterns = [
    path("cases/<uuid:case_id>/label/<slug:slug>/", label_page, name="label"),
    path("containers/<uuid:container_id>/label/", container_label, name="container_label"),
]
