"""What the crew's pages have in common: who may open them, and what each of them is told."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from consult import clock
from consult.access import Actor
from consult.screens import crew_choices
from consult.screens.page import page, signed_in

crew_only = signed_in("crew")


def crew_page(request: HttpRequest, actor: Actor, name: str, **context: Any) -> HttpResponse:
    """Render one of the crew's templates with the server's time and the way back."""
    choices = {"when_choices": crew_choices.WHEN, "prior_choices": crew_choices.GIVEN_BY}
    back = f"/crew/{context['case_id']}/" if context.get("case_id") else "/crew/"
    facts = {"server_time": clock.stamp(clock.now()), "back": back, **choices}
    return page(request, actor, f"crew/{name}.html", **{**facts, **context})
