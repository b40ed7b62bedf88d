"""Cases: in lists, as the card after a write, and in the search of past ones."""

from __future__ import annotations

from typing import Any

import msgspec
from msgspec import Struct
from msgspec.structs import asdict

from consult.case.card import Card
from consult.models import Case
from consult.resources import name_of
from consult.resources.page import Page
from consult.state.case import Stands
from consult.state.control import FormerUnit
from consult.state.parts import Named, UnitNamed
from dosing.ground.facts import Patient
from dosing.ground.kinds import Id, Time


class CaseLine(Struct, frozen=True, kw_only=True):
    """A case in a list."""

    id: Id
    unit: UnitNamed
    state: Stands
    opened_at: Time
    seq: int


class CasePage(Page[CaseLine], frozen=True):
    """Cases, newest first."""


class PastCase(CaseLine, frozen=True, kw_only=True):
    """A case in the search: who, what, how it ended.

    ``physician`` is who has or last had control, ``physicians`` all who had it, decided, ordered or instructed, the
    first first; ``former_units`` had the patient before ``unit``.
    """

    outcome: str | None
    ended_at: Time | None
    patient: Patient
    complaint: str
    impression: str
    physician: Named | None
    physicians: tuple[Named, ...]
    former_units: tuple[FormerUnit, ...]
    outside_limits: bool


class HistoryPage(Page[PastCase], frozen=True):
    """Past cases, newest first."""


class WrittenCase(Card, frozen=True, kw_only=True):
    """The card after a write, with the case's id also under the name that other answers use."""

    id: Id


class WrittenPatient(WrittenCase, frozen=True, kw_only=True):
    """The card after an entry that says who the patient is.

    ``unlikely`` is what to ask back once, a weight outside the 3rd to 97th centile for the age; nothing is refused.
    """

    unlikely: tuple[str, ...]


def case_line(row: Case) -> CaseLine:
    """A case as lists show it."""
    return CaseLine(id=str(row.uid), unit=_unit(row), state=str(row.state), opened_at=row.opened_at, seq=row.seq)


def _unit(row: Case) -> UnitNamed:
    return UnitNamed(str(row.unit_id), row.unit.call_sign, row.unit.call)


def past_case(row: Case) -> PastCase:
    """A past case as the search shows it, of a row that `search.history` found."""
    by, parts = row.physician, row.physicians  # type: ignore[attr-defined]
    return PastCase(
        **asdict(case_line(row)),
        outcome=row.outcome or None,
        ended_at=row.ended_at,
        patient=msgspec.convert(row.patient, Patient),
        complaint=row.complaint,
        impression=row.impression,
        physician=Named(str(by.pk), name_of(by)) if by else None,
        physicians=tuple(Named(str(part.physician_id), name_of(part.physician)) for part in parts),
        former_units=msgspec.convert(row.former_units, tuple[FormerUnit, ...]),
        outside_limits=row.outside_limits,
    )


def written_case(row: Case, seq: int) -> WrittenCase:
    """The card after a write."""
    return WrittenCase(**_card(row, seq), id=str(row.uid))


def written_patient(row: Case, seq: int, unlikely: tuple[str, ...]) -> WrittenPatient:
    """The card after an entry that says who the patient is."""
    return WrittenPatient(**_card(row, seq), id=str(row.uid), unlikely=unlikely)


def _card(row: Case, seq: int) -> dict[str, Any]:
    """The card's fields, with the unit's last contact, which alone makes no entry and so no new card."""
    card = msgspec.json.decode(row.card, type=Card)
    return {**asdict(card), "seq": seq, "last_contact_at": row.last_contact_at}
