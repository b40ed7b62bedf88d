"""Cases: opened, read as a card, changed, accepted, handed over, closed, reopened, given a goal, out of coverage."""

from __future__ import annotations

import re
from functools import partial
from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from api.allowance import Of
from api.pages import page
from api.serializers.cases import (
    Accept,
    CaseChange,
    CaseEntry,
    Close,
    Coverage,
    GoalEntry,
    Handover,
    Move,
    Release,
    Reopen,
)
from api.serializers.filters import CaseFilter
from api.views.base import ApiView, CreateView, WriteView, told_of
from consult import access, queries
from consult.actions import cases
from consult.case.card import Card
from consult.resources.cases import CasePage, WrittenCase, WrittenPatient, case_line

TAG = re.compile(r'(?:^|,)\s*"(\d{1,9})"\s*(?=,|$)', re.ASCII)  # a strong one of ours, alone or in a list


class Cases(CreateView):
    """Open a case: a crew for its own unit, a physician for the `unit` that they name."""

    entry, answer, shown, filters = CaseEntry, WrittenPatient, CasePage, CaseFilter
    kind, act = cases.CASE, staticmethod(cases.open_case)
    counted = Of.CASES

    def get(self, request: Request) -> Response:
        """List the cases that the caller may see, newest first: all, or those of one state."""
        found = access.cases_of(self.actor).filter(**CaseFilter.of(request.query_params)).select_related("unit")
        return page(request, found, ("-opened_at", "-id"), partial(map, case_line), CasePage)


class CaseView(ApiView):
    """One case as its card."""

    entry, shown, answer = CaseChange, Card, WrittenPatient
    counted = Of.ENTRIES
    subject = told_of(access.case_for)

    def get(self, request: Request, id: UUID) -> Response:
        """Read a case as its card; the ETag is the number of the last change to what PATCH can change."""
        case = self.looked_at(access.case_for(self.actor, id), "card")
        return Response(queries.card_as_kept(case), headers={"ETag": etag(case.version)})

    def patch(self, request: Request, id: UUID) -> Response:
        """Change what is known about a case; 412 if `If-Match` names an older version."""
        data = self.content(CaseChange)
        done = cases.patch_case(self.actor, id, data, self.received_at, if_match=versions_wanted(request))
        answer = self.written(done)
        case = access.case_for(self.actor, id, to_write=True)
        if access.may_have(self.actor, case):  # else it told before that another unit has the patient now
            answer["ETag"] = etag(case.version)
        return answer


def etag(version: int) -> str:
    """A case's version as HTTP spells it."""
    return f'"{version}"'


def versions_wanted(request: Request) -> frozenset[int] | None:
    """The versions that `If-Match` names; None without one or for any. A tag that was never given out is none."""
    text = request.headers.get("If-Match", "*").strip()
    return None if text == "*" else frozenset(int(digits) for digits in TAG.findall(text))


class CaseStep(WriteView):
    """A step of a case as a whole; the answer is the card after it."""

    answer = WrittenCase
    subject = told_of(access.case_for)


class AcceptCase(CaseStep):
    """Take control as a physician."""

    entry, kind, act = Accept, cases.ACCEPT, staticmethod(cases.accept)


class ReleaseCase(CaseStep):
    """Give up control, as the physician who has it: nobody has it from then on."""

    entry, kind, act = Release, cases.RELEASE, staticmethod(cases.release)


class HandOverCase(CaseStep):
    """Hand the patient over."""

    entry, kind, act = Handover, cases.HANDOVER, staticmethod(cases.handover)


class CloseCase(CaseStep):
    """Close the case with its outcome."""

    entry, kind, act = Close, cases.CLOSE, staticmethod(cases.close)


class MoveCase(CaseStep):
    """Move the patient to another unit of the agency.

    Its crew carries on; what the former crew did before is still accepted. Until somebody of the new crew opens the
    case on a page, or enters something in it, the card says so (`moved_not_seen_since`); after 3 min the alert
    `moved_not_seen` is raised.
    """

    entry, kind, act = Move, cases.MOVE, staticmethod(cases.move)


class ReopenCase(CaseStep):
    """Reopen an ended case: it is back on the board."""

    entry, kind, act = Reopen, cases.REOPEN, staticmethod(cases.reopen)


class SetGoal(CaseStep):
    """Set the pressure goal for this patient."""

    entry, kind, act = GoalEntry, cases.GOAL, staticmethod(cases.set_goal)


class AnnounceCoverage(CaseStep):
    """Say until when the unit cannot be reached; until then its silence raises no alert."""

    entry, kind, act = Coverage, cases.COVERAGE, staticmethod(cases.announce_coverage)
