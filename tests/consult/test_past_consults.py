"""The demonstration's past: played through the real actions, complete, intact, and found by every filter."""

from __future__ import annotations

import msgspec
import pytest

from consult import queries, search
from consult.actions import cards, demonstration
from consult.journal import verify
from consult.management import past_consults
from consult.models import Agency, Alert, Case, JournalEntry, Order
from tests.conftest import NOON
from tests.stored_rows import StoredRows

pytestmark = pytest.mark.xdist_group("past")  # played once for all of them


@pytest.fixture(scope="module")
def stored_past() -> StoredRows[None]:
    def play() -> None:
        demonstration.make_accounts(NOON)
        assert past_consults.play_all(NOON) == 6

    return StoredRows(play)


@pytest.fixture
def past(db: None, stored_past: StoredRows[None]) -> list[Case]:
    stored_past.get()
    return list(Case.objects.order_by("opened_at"))


def test_each_ended_with_an_intact_journal_nothing_open_and_the_card_to_which_it_replays(past: list[Case]) -> None:
    assert all(case.state != "open" for case in past)
    assert [verify.fault_in(case) for case in past] == [None] * 6
    assert not Alert.objects.filter(cleared_at=None).exists()
    for case in past:
        assert queries.card_at(case, case.seq) == msgspec.json.decode(case.card)
        assert not cards.differs(case)


def test_everything_a_supervisor_looks_for_is_there(past: list[Case]) -> None:
    kinds = set(JournalEntry.objects.values_list("kind", flat=True))
    wanted = (
        "order.requested order.decided order.read_back order.ended alert.acknowledged alert.escalated entry.corrected"
    )
    assert set(wanted.split()) <= kinds
    told = JournalEntry.objects.get(kind="instruction.given").data
    assert '"decision":"agreed"' in told  # a refusal of care, with its form and who agreed
    assert set(Order.objects.values_list("state", flat=True)) == {"given", "declined", "not_given"}
    assert JournalEntry.objects.filter(kind="vitals.recorded", late=True).count() == 2


def test_the_filters_find_them(past: list[Case]) -> None:
    cases = Case.objects.all()
    assert search.history(cases, outside_limits=True).count() == 1
    assert search.history(cases, impression="septic").count() == 1
    assert search.history(cases, alert="reassessment_overdue").count() >= 1
    assert search.history(cases, text="wasp").count() == 1
    assert search.history(cases, opened_from=NOON - past_consults.timedelta(hours=7)).count() == 3


def test_played_twice_it_adds_nothing_and_the_other_agency_stays_empty(past: list[Case]) -> None:
    assert past_consults.play_all(NOON) == 0
    assert not Case.objects.filter(agency=Agency.objects.get(name=demonstration.OTHER_AGENCY)).exists()
