"""What an alarm line says about its escalation: the waiting times are the contract's ("Alerts": 60 s, 120 s)."""

from __future__ import annotations

from typing import Any

import pytest

from consult.render import card_html
from tests.screens import sample_board as board
from tests.screens.page_text import read
from tests.screens.sample_cards import at

TAKEN = {"by": "Dr. Merrin", "at": at(0)}


def line(*, of: dict[str, Any] | None = None, **changed: Any) -> Any:
    """The alarm line of a card with one alert, raised two minutes ago unless said otherwise."""
    card = board.kestrel() | (of or {})
    first = {**card["alerts"][0], "raised_at": at(2), "acknowledged": None, **changed}
    return read(card_html({**card, "alerts": [first]})).one("alarm")


@pytest.mark.parametrize(
    ("alert", "minutes_ago", "says"),
    [
        ({"priority": "high"}, 1, "escalates"),
        ({"priority": "medium"}, 0, "escalates"),
        ({"priority": "high", "escalated_at": at(1), "escalated_to": "physicians"}, 0, "to the supervisor"),
    ],
    ids=["high 60 s", "medium 120 s", "the next step counts from the last"],
)
def test_it_counts_down_to_the_next_step(alert: dict[str, Any], minutes_ago: float, says: str) -> None:
    (counted,) = [span for span in line(**alert).every("span") if "data-escalates" in span.attributes]

    assert (counted.attributes["data-escalates"] or "")[:19] == at(minutes_ago)[:19]
    assert says in line(**alert).text


@pytest.mark.parametrize(
    "alert",
    [
        {"priority": "low"},
        {"priority": "high", "acknowledged": TAKEN},
        {"priority": "high", "escalated_at": at(1), "escalated_to": "supervisor"},
    ],
    ids=["low", "acknowledged", "at its last step"],
)
def test_it_says_nothing_where_it_goes_no_further(alert: dict[str, Any]) -> None:
    assert "escalates" not in line(**alert).text
    assert "to the supervisor" not in line(**alert).text


@pytest.mark.parametrize(
    ("kind", "given", "says"),
    [
        ("low_pressure", {"given_at": at(1)}, True),
        ("low_pressure", {"given_at": at(9), "changed_at": at(1), "status": "running"}, True),
        ("low_pressure", {"given_at": at(3)}, False),
        ("low_pressure", {"given_at": at(9), "changed_at": at(1), "status": "held"}, False),
        ("not_accepted", {"given_at": at(1)}, False),
    ],
    ids=["a dose", "a new rate", "given before", "only held", "no matter of a treatment"],
)
def test_of_a_measured_danger_it_says_what_was_given_since_and_that_nobody_has_acknowledged_it(
    kind: str, given: dict[str, Any], says: bool
) -> None:
    dose = {**board.kestrel()["doses"][0], "title": "norepinephrine infusion", "changed_at": None, **given}
    text = line(kind=kind, of={"doses": [dose]}).text

    assert ("norepinephrine infusion, not acknowledged" in text) == says
    assert "treated" not in line(kind=kind, of={"doses": [dose]}, acknowledged=TAKEN).text
