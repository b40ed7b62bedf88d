"""Two rule sets of one agency beside each other: what patients get by each, and which entries differ."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from consult import problems, queries
from consult.access import Actor
from consult.actions import rule_sets
from consult.models import RuleSetRecord
from consult.screens.page import WATCHERS, page, signed_in
from consult.screens.rules import in_force
from consult.screens.rules_aims import aims
from consult.screens.rules_effects import effects
from dosing.ground.language import gettext as _
from dosing.rules.changes import changes
from dosing.rules.rule_set import RuleSet


def compared(before: RuleSet, after: RuleSet) -> dict[str, Any]:
    """What patients would get by the one and by the other, goals first, and the entries that differ."""
    return {"effects": [*aims(before, after), *effects(before, after)], "changes": changes(before, after)}


@require_safe
@signed_in(*WATCHERS)
def compare_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The set of the digest `before` beside that of `after`; either left out is the one in force."""
    before, after = (_kept(actor, request.GET.get(name, "")) for name in ("before", "after"))
    lines = queries.agency_journal(actor.agency, "rule_set.adopted")
    steps = _between(lines, before.digest, after.digest)
    now = in_force(actor)
    return page(
        request,
        actor,
        "rules/compare.html",
        moments=[line["at"] for line in steps],
        before=before,
        after=after,
        steps=steps,
        may_adopt=actor.role == "director",
        older=before if after.digest == now.digest else after,
        in_force=now,
        **compared(queries.rules_by_record(before.pk), queries.rules_by_record(after.pk)),
    )


def _kept(actor: Actor, digest: str) -> RuleSetRecord:
    record = queries.kept_set(actor.agency, digest) if digest else in_force(actor)
    if record is None:
        raise problems.NotFound(_("No rule set of this content was in force here."))
    return record


def _between(lines: list[dict[str, Any]], before: str, after: str) -> list[dict[str, Any]]:
    """The adoptions that led from one content to the other, the newest first; none where the way led back."""
    ends = [number for number, line in enumerate(lines) if line["data"]["rule_set"]["digest"] == after]
    if not ends:
        return []
    steps: list[dict[str, Any]] = []
    for line in lines[ends[0] :]:
        if line["data"]["rule_set"]["digest"] == before:
            return steps
        steps.append(line)
        if (line["data"]["replaced"] or {}).get("digest") == before:
            return steps
    return []


@require_POST
@signed_in(*WATCHERS)
def read_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """This person has read what changed: the notice of it leaves their pages. Back to where they were."""
    rule_sets.read_changes(actor, request.POST.get("digest", ""))
    back = request.POST.get("back", "")
    return redirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "/")


urlpatterns = [
    path("rules/compare/", compare_page, name="rules-compare"),
    path("rules/read/", read_page, name="rules-read"),
]
