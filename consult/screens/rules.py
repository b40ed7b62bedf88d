"""The rule set in force, to be read: every number beside whom it is for and where it comes from."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import tomli_w
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from consult import problems, queries
from consult.access import Actor
from consult.models import Agency, RuleSetRecord
from consult.render.words import value_text
from consult.screens.crew_treatments import by_form
from consult.screens.offered import offered_in
from consult.screens.page import page, signed_in
from consult.screens.rules_aims import goal_text
from consult.screens.rules_flow import flow_rows
from consult.screens.rules_words import (
    Row,
    cylinder_rows,
    high_pressure_rows,
    setting_text,
    treatment_page,
    vital_sign_rows,
    weight_rows,
)
from dosing.load.reader import SHIPPED
from dosing.patient import weight
from dosing.rules.rule_set import GoalRule, LedgerRule, PressureRule, RuleSet, WatchRule

MARKS = (
    ("read", "read in the source text"),
    ("second-hand", "read in a page that quotes the source"),
    ("memory", "from memory, not verified"),
    ("our choice", "chosen for the demonstration, no source"),
)
CAUTION = "# Decision support: local protocol and the licensed clinician decide.\n"
DEMONSTRATION = "# A demonstration until a medical director adopts it.\n"


@require_safe
@signed_in()
def rules_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The agency's rule set: goals, treatments with limits and recipes, waiting times, sources."""
    record = _in_force(actor)
    rule_set = queries.rules_by_record(record.pk)
    treatments = [treatment_page(each, rule_set) for each in rule_set.treatments.values()]
    rows = [{**each, "treatment": each["slug"]} for each in treatments]
    adoptions = queries.agency_journal(actor.agency, "rule_set.adopted")
    return page(
        request,
        actor,
        "rules/rules.html",
        moments=[line["at"] for line in adoptions],
        record=record,
        adoptions=adoptions,
        may_look=actor.is_supervisor,
        rule_set=rule_set,
        goals=[goal_row(rule) for rule in rule_set.goals],
        pressure=setting_rows(rule_set.pressure),
        watch=[*setting_rows(rule_set.watch), *_limit_rows(rule_set.watch)],
        in_hand=[*setting_rows(rule_set.ledger), *cylinder_rows()],
        flow=flow_rows(rule_set),
        groups=by_form(rows, rule_set),
        weights=list(weight_rows()),
        why_weights=weight.why(),
        marks=mark_rows(rule_set),
    )


@require_safe
@signed_in()
def banner(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The tag and the caution of the rule set in force, for a page that is open while another one is adopted."""
    return page(request, actor, "rules/banner.html", offered=offered_in(actor.agency))


@require_safe
@signed_in()
def rules_file(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The rule set in force as a file to be changed and adopted anew: the one adopted, or all of it in TOML."""
    record = _in_force(actor)
    whole = record.content  # of a set that stands upon another it is JSON, which a person cannot edit
    caution = CAUTION + ("" if record.approved_at else DEMONSTRATION)
    text = caution + (tomli_w.dumps(json.loads(whole)) if whole.startswith("{") else whole)
    named = {"Content-Disposition": content_disposition_header(True, f"{record.name}-{record.version}.toml")}
    return HttpResponse(text, content_type="application/toml; charset=utf-8", headers=named)


@require_safe
@signed_in()
def schema(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The shape of a rule set for editors and other programs (JSON Schema, draft 2020-12)."""
    return HttpResponse((SHIPPED / "schema.json").read_bytes(), content_type="application/schema+json")


def _in_force(actor: Actor) -> RuleSetRecord:
    record = Agency.objects.select_related("rule_set__approved_by").get(pk=actor.agency).rule_set
    if record is None:
        raise problems.NotFound("This agency has no rule set yet.")
    return record


def goal_row(rule: GoalRule) -> Row:
    """A pressure goal: whom it is for and its limits in mmHg."""
    name = "SBP goal" if rule.measure == "sbp" else "MAP goal"
    return Row(name, rule.because or rule.name, goal_text(rule), rule.source)


def setting_rows(rule: PressureRule | WatchRule | LedgerRule) -> list[Row]:
    """Single settings, named by their entry in the file; the unit is the name's last word."""
    values: dict[str, Any] = asdict(rule)
    sources = values.pop("sources")
    known = ((name, value) for name, value in values.items() if name in sources)
    return [Row(setting_text(name), "", value_text(value), rule.sources[name]) for name, value in known]


def _limit_rows(rule: WatchRule) -> list[Row]:
    """From which value on something alarms."""
    return [*vital_sign_rows(rule.vital_signs), *high_pressure_rows(rule.high_pressure)]


def mark_rows(rule_set: RuleSet) -> list[dict[str, Any]]:
    """What each mark means and how many of the sources bear it."""
    marks = [source.mark for source in rule_set.sources.values()]
    return [{"mark": mark, "text": text, "count": marks.count(mark)} for mark, text in MARKS]


urlpatterns = [
    path("rules/", rules_page, name="rules"),
    path("rules/banner/", banner, name="rules-banner"),
    path("rules/file/", rules_file, name="rules-file"),
    path("rules/schema.json", schema, name="rules-schema"),
]
