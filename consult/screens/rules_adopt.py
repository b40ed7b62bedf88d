"""Adoption of a rule set in two steps: look at what it would change, then confirm as the medical director."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from consult import access, clock, queries, rule_set_files
from consult.access import Actor
from consult.actions import rule_sets
from consult.actor import LOOKING_BACK
from consult.models import Agency
from consult.models.rules import is_demonstration
from consult.problems import Invalid, WrongState
from consult.screens.page import page, signed_in
from consult.screens.rules_comparison import compared
from consult.screens.rules_sections import unverified
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.load import reader
from dosing.load.faults import Fault, RuleSetFaults
from dosing.rules.rule_set import RuleSet

SHIPPED = ("demonstration", "conservative")
MOST_BYTES = 1_000_000
LONGEST_REASON = 500


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in(*LOOKING_BACK)
def adopt_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """Choose a rule set; posted, see what it would change; posted with `confirm`, put it in force."""
    if request.method != "POST":
        return _shown(request, actor)
    if "confirm" in request.POST:
        return _confirmed(request, actor)
    try:
        name, text = _chosen(request, actor)
    except Invalid as problem:
        return _shown(request, actor, problem=problem.detail, status=422)
    return _looked_at(request, actor, name, text)


def _chosen(request: HttpRequest, actor: Actor) -> tuple[str, str]:
    """Name and text of the file that a director sent, of the shipped set that was picked, or of one adopted before."""
    if again := request.POST.get("again"):
        record = queries.kept_set(actor.agency, again)
        if record is None:
            raise Invalid(_("No rule set of this content was in force here."))
        return f"{record.name} {record.version}", record.content
    file, shipped = request.FILES.get("file"), request.POST.get("shipped", "")
    if file is None:
        if shipped not in SHIPPED:
            raise Invalid(_("Choose a file, or one of the rule sets that ship with the board."))
        return f"{shipped}.toml", (reader.SHIPPED / f"{shipped}.toml").read_text(encoding="utf-8")
    access.require_director(actor)
    if file.size is None or file.size > MOST_BYTES:
        raise Invalid(_("The file is larger than any rule set."))
    try:
        return file.name or "file", file.read().decode()
    except UnicodeDecodeError:
        raise Invalid(_("The file is not UTF-8 text.")) from None


def _looked_at(request: HttpRequest, actor: Actor, name: str, text: str, problem: str = "") -> HttpResponse:
    try:
        rules = rule_set_files.read(text, name)
    except RuleSetFaults as refused:
        return _shown(request, actor, faults=refused.faults, name=name, status=422)
    return _shown(request, actor, rules=rules, name=name, problem=problem, status=422 if problem else 200)


def _confirmed(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The second step: the content that was looked at, by its digest, with a reason."""
    access.require_director(actor)
    text = request.POST.get("content", "").replace("\r\n", "\n")  # a browser sends every line end of a form as two
    name = request.POST.get("name", "") or _("rule set")
    try:
        reason = reason_given(request)
    except Invalid as problem:
        return _looked_at(request, actor, name, text, problem.detail)
    try:
        rules = rule_set_files.read(text, name)
    except RuleSetFaults as refused:
        return _shown(request, actor, faults=refused.faults, name=name, status=422)
    if rules.digest != request.POST.get("digest"):
        return _looked_at(request, actor, name, text, _("This is not the content that was shown: look at it again."))
    in_force = Agency.objects.select_related("rule_set").get(pk=actor.agency).rule_set
    if (in_force.digest if in_force else "") != request.POST.get("replaces"):
        return _looked_at(request, actor, name, text, _("Another rule set has come into force since: look again."))
    try:
        taken_as_they_are(request, rules)
        rule_sets.adopt(actor, rules, clock.now(), reason=reason, by_way_of="page")
    except (Invalid, WrongState) as problem:
        return _looked_at(request, actor, name, text, problem.detail)
    return redirect("rules")


def reason_given(request: HttpRequest) -> str:
    """Why a set is adopted, as the form says it; raises Invalid without."""
    reason = request.POST.get("reason", "").strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise Invalid(
            _(
                "Say why, in at most {longest_reason} characters: it is kept in the agency's journal.",
                longest_reason=LONGEST_REASON,
            )
        )
    return reason


def taken_as_they_are(request: HttpRequest, rules: RuleSet) -> None:
    """Raise Invalid unless the form confirms as many unverified numbers as the set has."""
    count = unverified(rules)
    if count and request.POST.get("unverified") != str(count):
        raise Invalid(
            ngettext(
                "{count} number is unverified: confirm that you adopt it as it is.",
                "{count} numbers are unverified: confirm that you adopt them as they are.",
                count,
            )
        )


def _shown(
    request: HttpRequest,
    actor: Actor,
    *,
    rules: RuleSet | None = None,
    faults: list[Fault] | None = None,
    name: str = "",
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    agency = Agency.objects.select_related("rule_set__approved_by").get(pk=actor.agency)
    in_force = agency.rule_set
    context: dict[str, Any] = {"in_force": in_force, "faults": faults, "name": name, "problem": problem}
    context |= {"shipped": SHIPPED, "may_adopt": actor.role == "director", "longest": LONGEST_REASON}
    if rules:
        context |= {"new": rules, "open_cases": queries.open_cases(actor.agency).count()}
        context["unverified"] = unverified(rules)
        context["demonstration"] = is_demonstration(rules.name)
        context["namesake"] = rule_sets.namesake(agency, rules)
        if in_force:
            context |= compared(queries.rules_by_record(in_force.pk), rules)
        context["already"] = bool(in_force and in_force.approved_at and in_force.digest == rules.digest)
    answer = page(request, actor, "rules/adopt.html", **context)
    answer.status_code = status
    return answer


urlpatterns = [path("rules/adopt/", adopt_page, name="rules-adopt")]
