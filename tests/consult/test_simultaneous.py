"""Many at once: one entry stays one, one decision wins, the journal has no gap."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import connection

from consult import problems
from consult.actions import alerts, cases, handovers, interventions, orders, vitals
from consult.journal import verify
from consult.models import Alert, Case, Intervention, JournalEntry, Membership, Order, User, Vitals
from tests.conftest import NOON, Cast, Consult, later, open_consult
from tests.depth import NIGHT

AT_ONCE = 6
TURNS = 1_000 if NIGHT else 50
DECISIONS = (
    {"decision": "approve"},
    {"decision": "change", "amount": {"value": 25, "unit": "mcg"}, "reason": "lower"},
    {"decision": "decline", "reason": "pressure at goal"},
)


@pytest.fixture
def shared(transactional_db: None, request: pytest.FixtureRequest) -> Consult:
    """A consult that other connections see too."""
    cast: Cast = request.getfixturevalue("cast")
    return open_consult(cast)


def all_at_once(calls: list[Callable[[], Any]]) -> list[Any]:
    """What each call answered or raised, all begun at the same moment in threads with connections of their own."""
    ready = Barrier(len(calls))

    def run(call: Callable[[], Any]) -> Any:
        ready.wait()
        try:
            return call()
        except problems.Problem as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))


def test_the_same_set_sent_six_times_is_one(shared: Consult) -> None:
    entry = {"id": uuid4(), "taken_at": NOON, "sbp": 96, "dbp": 44}
    answers = all_at_once([lambda: vitals.record_vitals(shared.cast.osk, shared.uid, entry, NOON)] * AT_ONCE)

    assert sorted(answer.created for answer in answers) == [False] * (AT_ONCE - 1) + [True]
    assert all((answer.seq, answer.resource) == (answers[0].seq, answers[0].resource) for answer in answers)
    assert Vitals.objects.count() == 1


def test_the_same_dose_sent_six_times_is_one(shared: Consult) -> None:
    dose = {"treatment": "epinephrine-push-dose", "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
    entry = {"id": uuid4(), "given_at": NOON, **dose}
    answers = all_at_once(
        [lambda: interventions.record_intervention(shared.cast.osk, shared.uid, entry, NOON)] * AT_ONCE
    )

    assert sum(answer.created for answer in answers) == 1
    assert Intervention.objects.count() == 1
    assert shared.card["given"][0]["count"] == 1


def test_of_two_contents_under_one_id_one_is_refused(shared: Consult) -> None:
    entry_id = uuid4()
    calls = [
        lambda sbp=sbp: vitals.record_vitals(
            shared.cast.osk, shared.uid, {"id": entry_id, "taken_at": NOON, "sbp": sbp, "dbp": 44}, NOON
        )
        for sbp in (96, 97)
    ]
    answers = all_at_once(calls)

    assert sum(isinstance(answer, problems.IdReused) for answer in answers) == 1
    assert Vitals.objects.count() == 1


@pytest.mark.timeout(1800 if NIGHT else 300)
def test_two_physicians_decide_and_one_wins(shared: Consult) -> None:
    """Each of them tries several ways at once: one decision stands, and each of the others is told of it."""
    shared.vitals(sbp=80, dbp=40, lungs="clear")
    cast = shared.cast
    tries = [(who, each) for who in (cast.merrin, cast.quillan) for each in DECISIONS]
    for turn in range(TURNS):
        asked = UUID(shared.ask(30).resource.id)
        answers = all_at_once(
            [
                lambda who=who, said=said, asked=asked: orders.decide(who, asked, {"id": uuid4(), **said}, NOON)
                for who, said in tries
            ]
        )
        won = [answer for answer in answers if not isinstance(answer, problems.Problem)]
        lost = [answer for answer in answers if isinstance(answer, problems.WrongState)]
        assert (len(won), len(lost)) == (1, len(tries) - 1), turn
        by = won[0].resource.decided_by
        assert all(f" by {by} at " in str(answer) for answer in lost), turn
        if won[0].resource.state == "approved":
            orders.withdraw(cast.merrin, asked, {"id": uuid4(), "reason": "the next one"}, NOON)
    assert JournalEntry.objects.filter(kind="order.decided").count() == TURNS  # of so many lines a page shows the first
    assert verify.fault_in(shared.row) is None


@pytest.mark.parametrize("turn", range(3))
def test_of_a_decision_and_the_end_of_the_case_one_comes_first(shared: Consult, turn: int) -> None:
    """Decided first, the order ends with the case; ended first, the decision is refused: never an order that stands."""
    shared.vitals(sbp=80, dbp=40, lungs="clear")
    asked = UUID(shared.ask(30).resource.id)
    approve = {"id": uuid4(), "decision": "approve", "reason": "agreed"}
    decided, ended = all_at_once(
        [
            lambda: orders.decide(shared.cast.merrin, asked, approve, NOON),
            lambda: cases.handover(shared.cast.osk, shared.uid, {"id": uuid4(), "to": "Ashgrove"}, NOON),
        ]
    )

    steps = [step["step"] for step in Order.objects.get().steps]
    first = not isinstance(decided, problems.WrongState)
    assert not isinstance(ended, problems.Problem)
    assert steps == (["requested", "approved", "withdrawn"] if first else ["requested", "withdrawn"])
    assert (shared.row.state, shared.card["orders"]) == ("handed_over", [])


@pytest.mark.parametrize("turn", range(3))
def test_of_two_who_take_control_at_once_one_has_it(shared: Consult, turn: int) -> None:
    answers = all_at_once(
        [
            lambda who=who: cases.accept(who, shared.uid, {"id": uuid4()}, NOON)
            for who in (shared.cast.merrin, shared.cast.quillan)
        ]
    )

    refused = [isinstance(answer, problems.WrongState) for answer in answers]
    assert sorted(refused) == [False, True]
    assert shared.card["physician"]["name"] == ("Dr. Merrin", "Dr. Quillan")[refused.index(False)]
    assert shared.kinds.count("case.accepted") == 1


@pytest.mark.parametrize("turn", range(3))
def test_of_an_offer_accepted_and_kept_at_once_one_comes_first(shared: Consult, turn: int) -> None:
    """Accepted first, the one who offered finds it with a colleague; kept first, it is not offered any more."""
    cast = shared.cast
    Membership.objects.filter(pk=cast.quillan.membership).update(user=User.objects.create(username="quillan"))
    cases.accept(cast.merrin, shared.uid, {"id": uuid4()}, NOON)
    given = handovers.offer(cast.merrin, {"to": "quillan", "cases": [shared.uid]}, NOON)
    taken, kept = all_at_once(
        [
            lambda: handovers.accept(cast.quillan, UUID(given.resource.id), {"cases": [shared.uid]}, NOON),
            lambda: cases.accept(cast.merrin, shared.uid, {"id": uuid4()}, NOON),
        ]
    )

    refused = [isinstance(answer, problems.WrongState) for answer in (taken, kept)]
    assert sorted(refused) == [False, True]
    assert shared.card["physician"]["id"] == str((cast.quillan, cast.merrin)[refused.index(False)].membership)
    assert verify.fault_in(shared.row) is None


def test_handovers_of_the_same_cases_in_any_order_wait_for_no_other_for_ever(shared: Consult) -> None:
    cast = shared.cast
    Membership.objects.filter(pk=cast.quillan.membership).update(user=User.objects.create(username="quillan"))
    both = [shared, open_consult(cast)]
    for each in both:
        cases.accept(cast.merrin, each.uid, {"id": uuid4()}, NOON)
    uids = [each.uid for each in both]
    calls = [
        lambda of=of: handovers.offer(cast.merrin, {"id": uuid4(), "to": "quillan", "cases": of}, NOON)
        for of in (uids, uids[::-1]) * 3
    ]

    assert not any(isinstance(answer, problems.Problem) for answer in all_at_once(calls))
    assert [each.card["offered"]["to"]["id"] for each in both] == [str(cast.quillan.membership)] * 2


def test_writers_of_one_case_leave_no_gap(shared: Consult) -> None:
    answers = all_at_once(
        [lambda minute=minute: shared.vitals(at=later(minutes=minute), sbp=100, dbp=50) for minute in range(12)]
    )

    assert all(answer.created for answer in answers)
    assert [line["seq"] for line in shared.journal] == list(range(1, shared.row.seq + 1))
    assert verify.fault_in(shared.row) is None
    assert [point["t"] for point in shared.card["trend"]] == sorted(point["t"] for point in shared.card["trend"])


def test_sweeps_at_once_raise_an_alert_once(shared: Consult) -> None:
    shared.give("epinephrine-push-dose", 10, "mcg")
    shared.vitals(at=later(minutes=4), hr=104)  # in contact, without the pressure that is asked for
    all_at_once([lambda: alerts.sweep(later(minutes=6))] * AT_ONCE)

    assert Alert.objects.filter(kind="reassessment_overdue").count() == 1
    assert Case.objects.get().seq == len(shared.journal)
