"""One device cannot fill the disk: what a journal line takes does not grow with the number of lines before it."""

from __future__ import annotations

from collections import defaultdict
from statistics import median
from typing import Any
from uuid import UUID, uuid4

import msgspec
import pytest

from consult import card_diff, events, queries
from consult.actions import cards, interventions
from consult.case import card as case_card
from consult.case.card import MOST_SHOWN
from consult.clock import stamp
from consult.journal.read import KINDS as KINDS_OF_EVENTS
from consult.models import JournalEntry
from consult.state.case import CaseState
from tests.bench.growing import ACTS, ENDING
from tests.conftest import Cast, Consult, later, make_cast, open_consult
from tests.depth import NIGHT

SIXTEEN = {"value": 16, "unit": "mcg/mL"}
ROUNDS = 15 if NIGHT else 8  # by then hundreds of lines
ONCE = {events.CaseOpened.kind, events.CaseTakenOver.kind}  # happens once in a case
EVERY = list(KINDS_OF_EVENTS.values())
# In the agency's own journal, which has no card: such a line keeps its event alone.
NOT_IN_A_CASE = {event.kind for event in EVERY if event.__module__ == "consult.events.people"} | {"rule_set.adopted"}
KINDS = {event.kind for event in EVERY} - ONCE - NOT_IN_A_CASE
Sizes = dict[str, dict[int, list[int]]]


@pytest.fixture(scope="module")
def sizes(django_db_setup: None, django_db_blocker: Any) -> Sizes:
    """The bytes of the lines by kind and round, of a case in which everything is entered again and again."""
    from django.db import transaction

    with django_db_blocker.unblock(), transaction.atomic():
        cast = make_cast()
        found = _grown(open_consult(cast), ACTS) | _grown(open_consult(cast), ENDING)
        transaction.set_rollback(True)
    return found


def _grown(consult: Consult, acts: dict[str, Any]) -> Sizes:
    found: Sizes = defaultdict(lambda: defaultdict(list))
    for number in range(1, ROUNDS + 1):
        before = consult.row.seq
        for act in acts.values():
            act(consult, later(minutes=20 * number), number)
        lines = JournalEntry.objects.filter(case=consult.row, seq__gt=before)
        for seq, kind, data, changed in lines.values_list("seq", "kind", "data", "changes"):
            if seq % card_diff.WHOLE_EVERY:
                found[kind][number].append(len(data) + len(changed))
    return found


def _typical(by_round: dict[int, list[int]], rounds: range) -> float:
    return median(size for number in rounds for size in by_round.get(number, []))


@pytest.mark.xdist_group("growth")  # grown once for all kinds
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_line_of_each_kind_takes_no_more_late_than_early(sizes: Sizes, kind: str) -> None:
    assert kind in sizes, "no act of tests/bench/growing.py brings about this kind"
    early, late = _typical(sizes[kind], range(2, 6)), _typical(sizes[kind], range(ROUNDS - 3, ROUNDS + 1))

    assert late <= 1.25 * early + 100, f"{early:.0f} bytes, later {late:.0f}"


def test_a_card_shows_the_newest_of_each_list_and_counts_all(consult: Consult) -> None:
    given = [consult.give("epinephrine-push-dose", 10, "mcg", at=later(minutes=2 * n)) for n in range(MOST_SHOWN + 3)]
    card = consult.card

    assert [dose["id"] for dose in card["doses"]] == [dose.resource.id for dose in given[3:]]
    assert card["given"][0]["count"] == len(given)
    assert card["given"][0]["total"] == {"value": 10 * len(given), "unit": "mcg"}


def test_of_the_reassessments_it_shows_the_soonest(consult: Consult, monkeypatch: pytest.MonkeyPatch) -> None:
    """With few shown: each dose told before those that stand has them all judged anew."""
    most_shown = 12
    monkeypatch.setattr(case_card, "MOST_SHOWN", most_shown)
    for second in reversed(range(most_shown + 3)):
        consult.give("crystalloid-bolus", 100, "mL", at=later(seconds=second), now=later(minutes=2))
    shown = [asked["due_at"] for asked in consult.card["reassessments"]]

    assert len(shown) == most_shown
    assert shown == sorted(shown)
    kept = msgspec.json.decode(consult.row.folded, type=CaseState).reassessments
    assert shown[0] == min(stamp(asked.due_at) for asked in kept)


def test_a_replay_reads_back_to_the_last_whole_card_and_no_further(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, django_assert_num_queries: Any
) -> None:
    monkeypatch.setattr(card_diff, "WHOLE_EVERY", 10)
    consult, seen = open_consult(cast), {}
    for minute in range(30):
        consult.vitals(at=later(minutes=minute), sbp=100 + minute, dbp=60)
        seen[consult.row.seq] = consult.card
    row = consult.row

    assert {seq: queries.card_at(row, seq) for seq in seen} == seen
    whole = JournalEntry.objects.get(case=row, seq=20)
    assert '"doses"' in whole.changes
    with django_assert_num_queries(1) as read:
        queries.card_at(row, 25)
    assert "BETWEEN 20 AND 25" in read[0]["sql"]


def test_a_line_of_a_new_rate_takes_no_more_after_many(consult: Consult) -> None:
    """The card's change tells the one rate that came; the event does not tell those before it again."""
    drip = consult.give("norepinephrine-infusion", 4, "mcg/min", status="running", concentration=SIXTEEN)
    sizes = []
    for number in range(1, 61):
        change = {"id": uuid4(), "at": later(minutes=number), "amount": {"value": 4 + number % 3, "unit": "mcg/min"}}
        interventions.change_intervention(consult.cast.osk, UUID(drip.resource.id), change, later(minutes=number))
        sizes.append(len(JournalEntry.objects.get(case=consult.row, entry=change["id"]).data))

    assert sizes[-1] <= 1.05 * sizes[1]
    assert len(consult.card["running"][0]["rates"]) == 61
    assert not cards.differs(consult.row)
