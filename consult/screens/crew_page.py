"""What the crew's pages have in common: who may open them, and what each of them is told."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse

from consult import access, clock, problems
from consult.access import Actor
from consult.screens import crew_choices, crew_left, crew_news
from consult.screens.page import page, signed_in
from dosing.ground.language import gettext as _

View = Callable[..., HttpResponse]
Parts = Sequence[Mapping[str, Any]]


def crew_only(view: View) -> View:
    """Pages of crews; of a case that was moved to another unit the former crew reads where it is."""

    @signed_in("crew")
    @wraps(view)
    def wrapped(request: HttpRequest, actor: Actor, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, actor, *args, **kwargs)
        except problems.NotFound:
            away = crew_left.left(actor, kwargs["case_id"], clock.now()) if "case_id" in kwargs else None
            if away is None:
                raise
            return moved_away(request, actor, away)

    return wrapped


def moved_away(request: HttpRequest, actor: Actor, away: crew_left.Left, told: Parts = ()) -> HttpResponse:
    """Where the patient is now, with the handover as of then where it was asked for and can still be read.

    What the crew did before still goes out from this phone.
    """
    call_sign = away.case.unit.call_sign
    ended = {"at": away.until, "how": _("moved to {call_sign}", call_sign=call_sign), "because": ""}
    return crew_page(
        request,
        actor,
        "moved",
        call_sign=access.unit_for(actor, actor.unit).call_sign,
        to=call_sign,
        case_ended=ended,
        moved_case=away.case.uid,
        may_read=away.may_read,
        told=told,
    )


def crew_page(request: HttpRequest, actor: Actor, name: str, **context: Any) -> HttpResponse:
    """Render one of the crew's templates with the server's time and the way back."""
    choices = {"when_choices": crew_choices.WHEN, "prior_choices": crew_choices.GIVEN_BY}
    back = f"/crew/{context['case_id']}/" if context.get("case_id") else "/crew/"
    facts = {"server_time": clock.stamp(clock.now()), "back": back, **choices, **_live(actor, name, context)}
    answer = page(request, actor, f"crew/{name}.html", **{**facts, **context})
    if not context.get("case_ended"):
        answer["X-Membership"] = str(actor.membership)  # whose phone may keep it for when there is no link
    if made := context.get("made_for"):
        answer["X-Made-For"], answer["X-Seq"] = made["key"], str(context["card"]["seq"])
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
    told = crew_news.news(actor, clock.now(), beside=context.get("beside"), own=own)
    return {"live_cases": json.dumps(cases), "high": crew_news.high(beside, own), "news": told}
