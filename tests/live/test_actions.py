"""Every action shows on the boards: what a board was told equals what a fresh hello holds, card for card."""

from uuid import uuid4

import pytest

from consult.actions import accounts, alerts, cases, corrections, notes, orders
from consult.models import DeviceToken
from tests.conftest import NOON, later, open_consult
from tests.live.watcher import Watcher

pytestmark = pytest.mark.django_db(transaction=True)


def pressure(consult):
    consult.vitals(sbp=90, dbp=40, hr=128)


def corrected_pressure(consult):
    sent = consult.vitals(sbp=40, dbp=30).resource.id
    data = {"id": uuid4(), "target": {"kind": "vitals", "id": sent}, "reason": "wrong patient"}
    corrections.correct(consult.cast.osk, consult.uid, data, NOON)


def fluid(consult):
    consult.give("crystalloid-bolus", 500, "mL")


def decided_request(consult):
    order = consult.ask(20).resource.id
    orders.decide(consult.cast.merrin, order, {"decision": "approve", "reason": "go on"}, later(seconds=30))


def overdue_reassessment(consult):
    consult.give("epinephrine-push-dose", 10, "mcg")
    alerts.sweep(later(minutes=10))


def note(consult):
    notes.add_note(consult.cast.merrin, consult.uid, {"id": uuid4(), "at": NOON, "text": "Keep her flat."}, NOON)


def taken_over(consult):
    cases.accept(consult.cast.merrin, consult.uid, {}, NOON)


def goal(consult):
    data = {"measure": "map", "floor": 75, "reason": "head injury"}
    cases.set_goal(consult.cast.merrin, consult.uid, data, NOON)


def patched(consult):
    cases.patch_case(consult.cast.osk, consult.uid, {"destination": "Harrow General"}, NOON)


def reopened(consult):
    cases.close(consult.cast.osk, consult.uid, {"outcome": "handed_over", "at": NOON}, NOON)
    cases.reopen(consult.cast.merrin, consult.uid, {"reason": "closed too early"}, NOON)


def handed_over(consult):
    cases.handover(consult.cast.osk, consult.uid, {"to": "Harrow General", "at": NOON}, NOON)


def opened_another(consult):
    open_consult(consult.cast)


ACTIONS = [
    pressure,
    corrected_pressure,
    fluid,
    decided_request,
    overdue_reassessment,
    note,
    taken_over,
    goal,
    patched,
    reopened,
    handed_over,
    opened_another,
]


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.__name__)
async def test_a_board_that_was_told_shows_what_a_fresh_hello_does(action, cast, hub, watch, do):
    consult = await do(open_consult, cast)
    board = await watch()

    await do(action, consult)

    fresh = await watch("averill")
    await board.until(lambda b: b.cards == fresh.cards)
    assert len(board.seen) > 1


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.__name__)
async def test_another_agency_hears_nothing_of_it(action, cast, watch, do):
    board, other = await watch(), await watch("vane")

    await do(action, await do(open_consult, cast))

    await board.until(lambda b: len(b.seen) > 1)
    assert await other.nothing_more()


async def test_a_token_revoked_by_the_action_closes_its_board(cast, hub, do):
    board = await Watcher.on(hub, "/ws/board/", cast.tokens["merrin"])
    await board.read()

    await do(lambda: accounts.revoke_token(DeviceToken.objects.get(pk=cast.merrin.token), NOON))

    assert await board.closed_with(within=3) == 4401
    await board.leave()
