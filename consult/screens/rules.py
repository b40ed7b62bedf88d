"""The rule set in force, to be read: every number beside whom it is for, and its source by number."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import tomli_w
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from consult import problems, queries
from consult.access import Actor
from consult.actions import rule_sets
from consult.models import Agency, RuleSetRecord
from consult.screens import rules_sections
from consult.screens.offered import offered_in
from consult.screens.page import page, signed_in
from consult.screens.rules_sections import Section
from dosing.ground.language import gettext as _
from dosing.load.reader import SHIPPED
from dosing.rules.words import MARKS_TOLD

MEANS = {
    "read": _("read in the source itself"),
    "second-hand": _("read in a page that quotes the source"),
    "memory": _("from memory: nobody has looked it up"),
    "our choice": _("decided here: no source gives the number"),
}
CAUTION = "# Decision support: local protocol and the licensed clinician decide.\n"
DEMONSTRATION = "# A demonstration until a medical director adopts it.\n"


@require_safe
@signed_in()
def rules_page(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The agency's rule set in sections to fold; with `mark` only what bears this mark. A crew has read it then."""
    record = in_force(actor)
    if actor.is_crew:
        rule_sets.read_changes(actor, record.digest)
    rules = queries.rules_by_record(record.pk)
    whole = rules_sections.whole(rules)
    every = list(whole.sections())
    mark = request.GET.get("mark", "")
    if mark not in MARKS_TOLD:
        mark = ""
    adoptions = queries.agency_journal(actor.agency, "rule_set.adopted")
    return page(
        request,
        actor,
        "rules/rules.html",
        moments=[line["at"] for line in adoptions],
        record=record,
        adoptions=adoptions,
        may_look=actor.is_supervisor,
        may_compare=not actor.is_crew,
        may_change=actor.role == "director",
        rule_set=rules,
        shown=whole.only(mark) if mark else whole,
        notes=rules_sections.notes_of(rules, every),
        marks=mark_rows(every),
        total=sum(section.total for section in every),
        mark=mark,
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
    record = in_force(actor)
    whole = record.content  # of a set that stands upon another it is JSON, which a person cannot edit
    caution = CAUTION + ("" if record.approved else DEMONSTRATION)
    text = caution + (tomli_w.dumps(json.loads(whole)) if whole.startswith("{") else whole)
    named = {"Content-Disposition": content_disposition_header(True, f"{record.name}-{record.version}.toml")}
    return HttpResponse(text, content_type="application/toml; charset=utf-8", headers=named)


@require_safe
@signed_in()
def schema(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The shape of a rule set for editors and other programs (JSON Schema, draft 2020-12)."""
    return HttpResponse((SHIPPED / "schema.json").read_bytes(), content_type="application/schema+json")


def in_force(actor: Actor) -> RuleSetRecord:
    """The record of the agency's rule set; NotFound before it has one."""
    record = Agency.objects.select_related("rule_set__approved_by").get(pk=actor.agency).rule_set
    if record is None:
        raise problems.NotFound(_("This agency has no rule set yet."))
    return record


def mark_rows(sections: list[Section]) -> list[dict[str, Any]]:
    """Each mark as it is told, what it means, and how many entries bear it."""
    borne = Counter(each.mark for section in sections for each in section.entries())
    return [
        {"mark": mark, "told": told, "text": MEANS[mark], "count": borne[mark]} for mark, told in MARKS_TOLD.items()
    ]


urlpatterns = [
    path("rules/", rules_page, name="rules"),
    path("rules/banner/", banner, name="rules-banner"),
    path("rules/file/", rules_file, name="rules-file"),
    path("rules/schema.json", schema, name="rules-schema"),
]
