"""Looking back: past cases to search, and one consult replayed entry by entry as it was seen."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_safe
from msgspec.structs import asdict

from consult import access, clock, problems, queries, search, zone
from consult.access import Actor
from consult.actions import looks
from consult.models import Case, Review
from consult.render import card_html, words
from consult.resources.cases import past_case
from consult.review import order_times, replay_lines, reviews_of
from consult.screens.page import WATCHERS, page, signed_in
from consult.screens.review_filter import HistoryFilter
from dosing.ground.language import gettext as _

PAGE = 50
SEQ = re.compile(r"\d{1,9}", re.ASCII)
OUTCOMES = (("no_concern", _("No concern")), ("learning", _("Learning")), ("follow_up", _("Follow up")))


@require_safe
@signed_in(*WATCHERS)
def history(request: HttpRequest, actor: Actor) -> HttpResponse:
    """The agency's cases that fit the filter, of a physician those that they took part in, newest first."""
    form = HistoryFilter(request.GET, agency=actor.agency)
    cases = access.past_cases_of(actor)
    found = search.history(cases, **form.filters()) if form.is_valid() else cases.none()
    rows = list(_after(found, cases, request.GET.get("after"))[: PAGE + 1])
    more = len(rows) > PAGE
    return page(
        request,
        actor,
        "review/history.html",
        moments=[case.opened_at for case in rows],
        form=form,
        own=not actor.is_supervisor,
        cases=history_lines(rows[:PAGE]),
        next=_next(request, rows[PAGE - 1]) if more else "",
        first=_first(request) if request.GET.get("after") else "",
    )


def _after(found: QuerySet[Case], cases: QuerySet[Case], after: str | None) -> QuerySet[Case]:
    """The cases that come after the one named: by its place, so that any page costs as much as the first."""
    try:
        last = cases.filter(uid=UUID(after or "")).values("opened_at", "pk").first()
    except ValueError:
        last = None
    if last is None:
        return found
    return found.filter(opened_at__lte=last["opened_at"]).exclude(opened_at=last["opened_at"], pk__gte=last["pk"])


def _next(request: HttpRequest, last: Case) -> str:
    query = request.GET.copy()
    query["after"] = str(last.uid)
    return f"?{query.urlencode()}"


def _first(request: HttpRequest) -> str:
    query = request.GET.copy()
    query.pop("after", None)
    return f"?{query.urlencode()}"


def history_lines(cases: list[Case]) -> list[dict[str, Any]]:
    """Cases as the list shows them, each with the outcome of its newest review, and whether a dose waits for notice."""
    reviews = Review.objects.filter(case__in=cases).order_by("seq").values_list("case_id", "outcome")
    outcomes = dict(reviews)
    unnoticed = queries.alerts(Case.objects.filter(pk__in=[case.pk for case in cases]), state="raised")
    waiting = set(unnoticed.filter(kind="dose_outside_limits").values_list("case_id", flat=True))
    return [
        {
            **asdict(past := past_case(case)),
            "others": [each for each in past.physicians if each != past.physician],
            "opened": case.opened_at,
            "person": words.person(case.patient),
            "impression": words.plain(case.impression).capitalize(),
            "ended": words.plain(case.outcome or case.state),
            "review": words.plain(outcomes.get(case.pk, "")) or _("not yet"),
            "unnoticed": case.pk in waiting,
        }
        for case in cases
    ]


@require_safe
@ensure_csrf_cookie
@signed_in(*WATCHERS)
def replay(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """One consult at one of its journal entries, by default the first; that it was opened goes on record."""
    case = _past_case(actor, case_id)
    looks.note_look(actor, case, "replay", clock.now(), attends=False)
    entries = whole_journal(case)
    seq = _seq(request, case)
    lines = replay_lines(entries)
    with zone.telling_of(case.opened_at):
        return page(
            request,
            actor,
            "review/replay.html",
            moments=[case.opened_at, *(line["received"] for line in lines)],
            case=case,
            person=words.person(case.patient),
            impression=words.plain(case.impression).capitalize(),
            seq=seq,
            line=next(line for line in lines if line["seq"] == seq),
            lines=lines,
            card=_card_html(case, seq),
            took=order_times(entries),
            reviews=reviews_of(entries),
            outcomes=OUTCOMES if actor.is_supervisor else (),
        )


@require_safe
@signed_in(*WATCHERS)
def card_at(request: HttpRequest, actor: Actor, case_id: UUID, seq: int) -> HttpResponse:
    """The card alone, as it was stored with one journal entry."""
    return HttpResponse(_card_html(_past_case(actor, case_id), seq))


def _past_case(actor: Actor, uid: UUID) -> Case:
    case = access.past_cases_of(actor).select_related("unit").filter(uid=uid).first()
    if case is None:
        raise problems.NotFound(_("There is no such case here."))
    return case


def _card_html(case: Case, seq: int) -> str:
    card = queries.card_at(case, seq)
    if card is None:
        raise problems.NotFound(_("This case's journal has no such entry."))
    with zone.telling_of(case.opened_at):
        return card_html(card)


def _seq(request: HttpRequest, case: Case) -> int:
    """The entry asked for, held within the journal, else the first: where the consult begins."""
    text = request.GET.get("seq", "")
    return min(max(int(text), 1), case.seq) if SEQ.fullmatch(text) else 1


def whole_journal(case: Case) -> list[dict[str, Any]]:
    """All entries of a case in order."""
    entries: list[dict[str, Any]] = []
    while part := queries.journal(case, after=entries[-1]["seq"] if entries else 0):
        entries += part
    return entries


urlpatterns = [
    path("history/", history, name="history"),
    path("history/<uuid:case_id>/", replay, name="replay"),
    path("history/<uuid:case_id>/card/<int:seq>/", card_at, name="replay-card"),
]
