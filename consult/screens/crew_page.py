"""What the crew's pages have in common: who may open them, and what each of them is told."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse

from consult import access, clock, problems
from consult.access import Actor
from consult.models import Case
from consult.screens import crew_choices, crew_news
from consult.screens.page import page, signed_in
from dosing.ground.language import gettext as _

View = Callable[..., HttpResponse]


def crew_only(view: View) -> View:
    """Pages of crews; of a case that was moved to another unit the former crew reads where it is."""

    @signed_in("crew")
    @wraps(view)
    def wrapped(request: HttpRequest, actor: Actor, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, actor, *args, **kwargs)
        except problems.NotFound:
            case = access.had_before(actor, kwargs["case_id"]) if "case_id" in kwargs else None
            if case is None:
                raise
            return _moved_away(request, actor, case)

    return wrapped


def _moved_away(request: HttpRequest, actor: Actor, case: Case) -> HttpResponse:
    """Where the patient is now; what the crew did before still goes out from this phone."""
    unit = access.unit_for(actor, actor.unit)
    ended = {
        "at": access.had_until(actor, case),
        "how": _("moved to {call_sign}", call_sign=case.unit.call_sign),
        "because": "",
    }
    return crew_page(request, actor, "moved", call_sign=unit.call_sign, to=case.unit.call_sign, case_ended=ended)


def crew_page(request: HttpRequest, actor: Actor, name: str, **context: Any) -> HttpResponse:
    """Render one of the crew's templates with the server's time and the way back."""
    choices = {"when_choices": crew_choices.WHEN, "prior_choices": crew_choices.GIVEN_BY}
    back = f"/crew/{context['case_id']}/" if context.get("case_id") else "/crew/"
    facts = {"server_time": clock.stamp(clock.now()), "back": back, **choices, **_live(actor, name, context)}
    answer = page(request, actor, f"crew/{name}.html", **{**facts, **context})
    if not context.get("case_ended"):
        answer["X-Membership"] = str(actor.membership)  # whose phone may keep it for when there is no link
    return answer


def _live(actor: Actor, name: str, context: dict[str, Any]) -> dict[str, Any]:
    """The cases that the page listens to, with how far the page knows them, what stands high beside the page, and
    what became of their orders."""
    own = str(context.get("case_id") or "")
    rows = crew_news.open_cases(actor)
    cases = {str(row.uid): row.seq for row in rows}
    if own:
        cases[own] = context["card"]["seq"] if "card" in context else context["seq"]
    beside = [row for row in rows if name != "case" or str(row.uid) != own]  # a case's own page shows its alerts itself
    told = crew_news.news(actor, clock.now(), beside=context.get("beside"))
    return {"live_cases": json.dumps(cases), "high": crew_news.high(beside, own), "news": told}
