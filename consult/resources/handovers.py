"""Shift handovers: what one physician offers another, case by case."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated
from uuid import UUID

from msgspec import Struct

from consult.models import ControlOffer
from consult.resources import name_of
from consult.resources.page import Page
from consult.state.parts import Named
from dosing.ground.kinds import Id, Time, one_of

OfferState = Annotated[str, one_of("offered", "accepted", "ended")]


class OfferedCase(Struct, frozen=True, kw_only=True):
    """One case of a handover: ``ended`` is what was kept, taken by somebody else, given up, or is over."""

    case: Id
    state: OfferState
    ended_at: Time | None
    seq: int


class ShiftHandover(Struct, frozen=True, kw_only=True):
    """A shift handover; ``seq`` of each case is its journal number when it was offered."""

    id: Id
    by: Named
    to: Named
    at: Time
    note: str
    cases: tuple[OfferedCase, ...]


class HandoverPage(Page[ShiftHandover], frozen=True):
    """Shift handovers, newest first."""


def offered_case(row: ControlOffer, seq: int) -> OfferedCase:
    """One case of a handover, as it stands."""
    return OfferedCase(case=str(row.case.uid), state=str(row.state), ended_at=row.ended_at, seq=row.seq)


def shift_handover(handover: UUID, agency: UUID) -> ShiftHandover:
    """A handover of the agency as it stands; raises LookupError where there is none."""
    return shift_handovers([handover], agency)[0]


def shift_handovers(handovers: Iterable[UUID], agency: UUID) -> list[ShiftHandover]:
    """These handovers of the agency, in this order, in one query; raises LookupError where one is not there."""
    wanted = dict.fromkeys(handovers)
    rows = ControlOffer.objects.filter(handover__in=wanted, case__agency_id=agency).order_by("id")
    parts: dict[UUID, list[ControlOffer]] = {}
    for row in rows.select_related("case", "by__user", "to__user").defer("case__card", "case__folded"):
        parts.setdefault(row.handover, []).append(row)
    return [_of_rows(parts[handover]) for handover in wanted]


def _of_rows(rows: list[ControlOffer]) -> ShiftHandover:
    first = rows[0]
    return ShiftHandover(
        id=str(first.handover),
        by=Named(str(first.by_id), name_of(first.by)),
        to=Named(str(first.to_id), name_of(first.to)),
        at=first.received_at,
        note=first.note,
        cases=tuple(offered_case(row, row.seq) for row in rows),
    )
