"""What every page needs: who is signed in and acts as what, the strip's facts, and a page for what went wrong."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from functools import lru_cache, wraps
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from consult import access, clock, queries, zone
from consult.access import Actor
from consult.models import Agency
from consult.problems import Forbidden, NotSignedIn, Problem
from consult.screens import rules_told
from dosing.ground.language import gettext as _

ROLE_NAMES = {
    "crew": _("Crew"),
    "physician": _("Physician"),
    "supervisor": _("Supervisor"),
    "director": _("Medical director"),
}
WATCHERS = ("physician", "supervisor", "director")
PAGES = (
    (_("Board"), "/board/", WATCHERS),
    (_("Crew"), "/crew/", ("crew",)),
    (_("Shift"), "/shift/", access.PHYSICIANS),
    (_("History"), "/history/", WATCHERS),
    (_("Rules"), "/rules/", (*WATCHERS, "crew")),
)

NUMBER = re.compile(r"^\+|\d")  # of a call-back, what a phone dials

View = Callable[..., HttpResponse]


def signed_in(*roles: str) -> Callable[[View], View]:
    """Call the view with the session's actor after the request; without one of the roles (if any are named) refuse.

    All that the view shows stands in the time zone of the actor's agency.
    Nobody signed in leads to the sign-in page, several memberships and none chosen to the choice of one; a ``Problem``
    becomes a page with its status and sentence.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            try:
                actor = actor_of(request)
            except NotSignedIn:
                return to_sign_in(request)
            with zone.of(actor.zone):
                try:
                    if roles and actor.role not in roles:
                        raise Forbidden
                    return view(request, actor, *args, **kwargs)
                except Problem as problem:
                    return problem_page(request, problem, actor)

        return wrapped

    return decorate


def actor_of(request: HttpRequest) -> Actor:
    """Who the session acts as; raises ``NotSignedIn`` when nobody is, or when the membership has ended."""
    if not request.user.is_authenticated:
        raise NotSignedIn
    return access.actor_for_user(request.user, request.session.get("membership"), clock.now())


def to_sign_in(request: HttpRequest) -> HttpResponse:
    """The sign-in page, or for a person who still has to say as what they act, the choice."""
    where = "/choose/" if request.user.is_authenticated else "/sign-in/"
    return redirect(where if request.path == "/" else f"{where}?next={request.path}")


def problem_page(request: HttpRequest, problem: Problem, actor: Actor | None = None) -> HttpResponse:
    """A page with the problem's title and sentence, under its status, and the rules in force for who is signed in."""
    agency = Agency.objects.select_related("rule_set").get(id=actor.agency) if actor else None
    shown = {"problem": problem, "zone": times(), "rules": rules_facts(agency) if agency else None}
    return render(request, "problem.html", shown, status=problem.status)


def page(
    request: HttpRequest, actor: Actor, template: str, *, moments: Iterable[datetime] = (), **context: Any
) -> HttpResponse:
    """Render a page that extends ``base.html`` with what its strip and foot need; `moments` are what it tells of, if
    that is not of now: its zone may have had another name then."""
    return render(request, template, {**strip_facts(request, actor, moments), **context})


def strip_facts(request: HttpRequest, actor: Actor, moments: Iterable[datetime] = ()) -> dict[str, Any]:
    """The actor, the agency and its rule set, the pages open to the role, and the time zone of all clock times."""
    agency = Agency.objects.select_related("rule_set").get(id=actor.agency)
    return {
        "actor": actor,
        "agency": agency.name,
        "call_back": agency.call_back,
        "call_back_tel": "".join(NUMBER.findall(agency.call_back)),
        "notify": agency.notify,
        "watches": actor.role in WATCHERS,
        "untold_since": queries.untold_since(actor.agency, clock.now()) if actor.is_supervisor else None,
        "role_name": ROLE_NAMES[actor.role],
        "rules": rules_facts(agency),
        "crew_rules_news" if actor.is_crew else "rules_news": rules_told.news_for(actor, agency),
        "here": request.get_full_path(),
        "pages": pages_of(actor, request.path),
        "several_memberships": len(access.memberships_of(request.user)) > 1,  # type: ignore[arg-type]
        "zone": times(*moments),
    }


def account_strip(request: HttpRequest) -> dict[str, Any]:
    """For allauth's pages of one's own account what any other page has; nothing while nobody acts as anything."""
    if not request.path.startswith("/account/"):
        return {}
    try:
        actor = actor_of(request)
    except NotSignedIn:
        return {}
    with zone.of(actor.zone):
        return strip_facts(request, actor)


@lru_cache(maxsize=1)
def said_by_scripts() -> Mapping[str, str]:
    """What scripts say instead of their own texts, by the catalogue of the installation."""
    file = Path(settings.LOCALE_PATHS[0], settings.LANGUAGE_CODE, "LC_MESSAGES/scripts.json")
    return json.loads(file.read_text(encoding="utf-8")) if file.is_file() else {}


def texts(request: HttpRequest) -> dict[str, Any]:
    """For every page, what its scripts say."""
    return {"texts": said_by_scripts()}


def rules_facts(agency: Agency) -> dict[str, Any] | None:
    """Name, version and approval of the agency's rule set, or None before one was loaded."""
    record = agency.rule_set
    if record is None:
        return None
    return {name: getattr(record, name) for name in ("name", "version", "digest", "approved")}


def pages_of(actor: Actor, path: str) -> list[dict[str, Any]]:
    """The pages that the role may open, the one at ``path`` marked as current."""
    return [
        {"name": name, "url": url, "current": path.startswith(url)} for name, url, roles in PAGES if actor.role in roles
    ]


def times(*moments: datetime) -> dict[str, Any]:
    """The time zone of a page: its IANA `key`, `name` at the moments that the page tells of (by default now), offset
    from UTC in `minutes` now; and the server's time `now`."""
    now = timezone.localtime(clock.now())
    minutes = int((now.utcoffset() or timedelta()).total_seconds() // 60)
    key = timezone.get_current_timezone_name()
    return {"key": key, "name": zone.names(moments or [now]), "minutes": minutes, "now": now.isoformat()}
