"""Numbers changed one by one in a form: gathered in a draft, compared with the set in force, adopted together."""

from __future__ import annotations

from typing import Any

import tomli_w
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from consult import access, clock, queries, rule_set_files
from consult.access import Actor
from consult.actions import rule_drafts
from consult.events import ChangedNumber
from consult.models import Agency
from consult.models.rules import is_demonstration
from consult.problems import Invalid, NotFound, Problem, WrongState
from consult.screens import rules_entry
from consult.screens.page import page, signed_in
from consult.screens.rules import in_force
from consult.screens.rules_adopt import LONGEST_REASON, reason_given, taken_as_they_are
from consult.screens.rules_comparison import compared
from consult.screens.rules_sections import unverified
from dosing.ground.language import gettext as _
from dosing.load import reader
from dosing.load.faults import Fault, RuleSetFaults
from dosing.rules.amended import Amendment, amended, is_stale
from dosing.rules.rule_set import RuleSet

DRAFT = "draft"


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in("director")
def change_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The draft: what has been gathered, what it would change, and the form for one entry; posted, one step of it."""
    access.require_director(actor)
    if request.method != "POST":
        return _shown(request, actor)
    step = {"drop": _dropped, "adopt": _adopted}.get(request.POST.get("step", ""), _gathered)
    try:
        return step(request, actor)
    except (Invalid, WrongState) as problem:
        return _shown(request, actor, problem)


def _gathered(request: HttpRequest, actor: Actor) -> HttpResponse:
    """A change of one entry, put into the draft."""
    rules = queries.rules_by_record(in_force(actor).pk)
    change = rules_entry.asked(request.POST, rules)
    rule_drafts.gather(actor, change)
    return redirect("/rules/change/#gathered")


def _dropped(request: HttpRequest, actor: Actor) -> HttpResponse:
    """One change taken out of the draft, or all."""
    rule_drafts.drop(actor, request.POST.get("entry", ""))
    return redirect("/rules/change/")


def _adopted(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The draft put in force under the name and version that the director gives, as it was looked at."""
    before = queries.rules_by_record(in_force(actor).pk)
    changes = rule_drafts.gathered(actor)
    looked_at = (request.POST.get("replaces"), request.POST.get("draft"))
    if looked_at != (before.digest, reader.digest(amended(before.content, changes))):
        raise Invalid(_("The rules in force or the draft have changed since this page was loaded: look again."))
    if not changes or any(is_stale(before.content, each) for each in changes):
        raise Invalid(_("The draft is empty, or an entry in it has changed since: fix that first."))
    name, version = (request.POST.get(key, "").strip() for key in ("name", "version"))
    if not name or not version:
        raise Invalid(_("Give the new rule set a name and a version."))
    reason = reason_given(request)
    own = {"title": _("Rules of {agency}", agency=_agency(actor))} if is_demonstration(before.name) else {}
    try:
        rules = read_draft(before, changes, name=name, version=version, **own)
    except RuleSetFaults as refused:
        raise Invalid("; ".join(f"{fault.entry} {fault.text}" for fault in refused.faults)) from None
    taken_as_they_are(request, rules)
    words = rules_entry.Words(before)
    numbers = [ChangedNumber(each.entry, words.of(each.entry), each.reason) for each in changes]
    rule_drafts.adopt(actor, rules, clock.now(), reason=reason, numbers=numbers)
    return redirect("rules")


def _agency(actor: Actor) -> str:
    return Agency.objects.get(pk=actor.agency).name


def read_draft(before: RuleSet, changes: list[Amendment], **named: str) -> RuleSet:
    """The whole rule set that a draft makes; raises RuleSetFaults."""
    content = amended(before.content, changes, **named)
    return rule_set_files.read(tomli_w.dumps(content), DRAFT)


def _shown(request: HttpRequest, actor: Actor, problem: Problem | None = None) -> HttpResponse:
    record = in_force(actor)
    before, changes = queries.rules_by_record(record.pk), rule_drafts.gathered(actor)
    words = rules_entry.Words(before)
    context: dict[str, Any] = {
        "in_force": record,
        "name": "" if is_demonstration(record.name) else record.name,
        "problem": problem.detail if problem else "",
        "sent": request.POST if problem else {},
        "parts": words.parts(),
        "part": words.part(request.GET.get("part", "")),
        "longest": LONGEST_REASON,
        "open_cases": queries.open_cases(actor.agency).count(),
    }
    if changes:
        context |= _draft(before, changes, words)
    if entry := (request.POST.get("entry", "") if problem else "") or request.GET.get("entry", ""):
        context |= _form(before, changes, words, entry, request.POST if problem else {})
    answer = page(request, actor, "rules/change.html", **context)
    answer.status_code = problem.status if problem else 200
    return answer


def _draft(before: RuleSet, changes: list[Amendment], words: rules_entry.Words) -> dict[str, Any]:
    """What has been gathered, and what it would change, or what is wrong with it."""
    draft = reader.digest(amended(before.content, changes))
    told: dict[str, Any] = {"gathered": [words.change(each) for each in changes], "draft": draft}
    try:
        made = read_draft(before, changes)
        return told | compared(before, made) | {"unverified": unverified(made)}
    except RuleSetFaults as refused:
        return told | {"faults": [_named(fault, words) for fault in refused.faults]}


def _named(fault: Fault, words: rules_entry.Words) -> dict[str, str]:
    return {"entry": words.of(fault.entry), "text": fault.text}


def _form(before: RuleSet, changes: list[Amendment], words: rules_entry.Words, entry: str, sent: Any) -> dict[str, Any]:
    known = next((each for each in changes if each.entry == entry), None)
    form = rules_entry.form(before, entry, known, sent)
    if form is None:
        raise NotFound(_("The rule set in force has no number at this place."))
    return {"form": {**form, "told": words.of(entry), "entry": entry}}


urlpatterns = [path("rules/change/", change_page, name="rules-change")]
