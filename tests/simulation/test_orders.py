"""How a crew meets an order, from the request to the last dose."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from consult.simulation.orders import Move, OrderDesk, spoken

START = datetime(2030, 1, 5, 10, tzinfo=UTC)
REACTION = timedelta(seconds=10)


def order(state: str, **more: Any) -> dict[str, Any]:
    """An order for 10 mcg as a card shows it."""
    amount = {"value": 10, "unit": "mcg"}
    return {"id": "1", "state": state, "treatment": "epinephrine-push-dose", "route": "IV", "amount": amount, **more}


def moves(desk: OrderDesk, row: dict[str, Any], *seconds: float) -> list[Move]:
    """All moves made while the order stands like this at these seconds."""
    return [move for second in seconds for move, _ in desk.moves([row], START + timedelta(seconds=second))]


def test_nothing_is_done_about_a_request_that_waits() -> None:
    assert moves(OrderDesk(REACTION), order("requested"), 0, 60, 600) == []


def test_a_question_is_answered_once_and_a_second_one_again() -> None:
    desk = OrderDesk(REACTION)

    assert moves(desk, order("requested", question="Lungs?"), 0, 11, 22, 33) == [Move.ANSWER]
    assert moves(desk, order("requested", question="And the rhythm?"), 40, 51, 60) == [Move.ANSWER]


def test_an_approved_order_is_read_back_after_the_time_that_people_take() -> None:
    desk = OrderDesk(REACTION)

    assert moves(desk, order("approved"), 0, 5) == []
    assert moves(desk, order("approved"), 10, 12) == [Move.READ_BACK]


def test_the_crew_that_mishears_reads_back_wrongly_first_and_rightly_then() -> None:
    desk = OrderDesk(REACTION, first_readback_wrong=True)

    assert moves(desk, order("approved"), 0, 10, 12, 20) == [Move.READ_BACK_WRONGLY, Move.READ_BACK]


def test_a_single_dose_is_given_once() -> None:
    assert moves(OrderDesk(REACTION), order("read_back"), 0, 10, 200, 900) == [Move.GIVE]


def test_a_repeated_dose_keeps_its_interval_and_its_count() -> None:
    repeated = order("read_back", repeat={"times": 3, "every_min": 2})

    given_at = [
        second for desk in [OrderDesk(REACTION)] for second in range(0, 900, 10) if moves(desk, repeated, second)
    ]

    assert given_at == [10, 130, 250]


def test_the_right_words_are_the_orders_own() -> None:
    assert spoken(order("approved"))["amount"] == {"value": 10, "unit": "mcg"}


def test_the_wrong_words_are_a_ten_fold_slip_in_the_amount_alone() -> None:
    said, meant = spoken(order("approved"), wrong=True), spoken(order("approved"))

    assert said.pop("amount") == {"value": 100, "unit": "mcg"}
    assert meant.pop("amount") == {"value": 10, "unit": "mcg"}
    assert said == meant


def test_an_order_without_an_amount_can_be_spoken() -> None:
    assert spoken(order("approved", amount=None, action="stop")).keys() == {"action", "treatment", "route"}


def test_an_order_that_waits_for_a_second_physician_is_not_read_back_before() -> None:
    desk = OrderDesk(REACTION)

    assert moves(desk, order("approved", waiting_for="cosign"), 0, 11, 60) == []
    assert moves(desk, order("approved", waiting_for=None), 61, 65, 72) == [Move.READ_BACK]
