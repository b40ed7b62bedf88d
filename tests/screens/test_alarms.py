"""What an alarm line says about its escalation: the waiting times are the contract's ("Alerts": 60 s, 120 s)."""

from __future__ import annotations

from typing import Any

import pytest

from consult.render import card_html
from tests.screens import sample_board as board
from tests.screens.page_text import read
from tests.screens.sample_cards import at

TAKEN = {"by": "Dr. Merrin", "at": at(0)}
TAKEN_THEN = {"by": "Dr. Merrin", "at": at(1.8)}
BLANK = {"changed_at": None, "ended_at": None}


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


RAN = {"given_at": at(9), "rates": [{"at": at(9), "amount": {"value": 0.1, "unit": "mcg/kg/min"}, "weight": None}]}
STOPPED = {**RAN, "status": "stopped", "ended_at": at(1), "reason": "Swelling where it runs in"}
PART = {"amount": {"value": 250, "unit": "mL"}, "infused": {"value": 5, "unit": "mL"}}
BROKEN_OFF = {"given_at": at(1.5), "rates": [], "status": "stopped", "ended_at": at(1), **PART}


@pytest.mark.parametrize(
    ("kind", "given", "treated", "stopped"),
    [
        ("low_pressure", {"given_at": at(1)}, True, ""),
        ("low_pressure", {**RAN, "changed_at": at(1), "status": "running"}, True, ""),
        ("low_pressure", {"given_at": at(3)}, False, ""),
        ("low_pressure", {**RAN, "changed_at": at(1), "status": "held"}, False, "norepinephrine infusion HELD since"),
        ("low_pressure", {**STOPPED, "given_at": at(1.1)}, False, "(Swelling where it runs in)"),
        ("low_pressure", STOPPED, False, "norepinephrine infusion stopped"),
        ("low_pressure", {**STOPPED, "ended_at": at(3)}, False, ""),
        ("low_pressure", BROKEN_OFF, False, ", 5 of 250 mL"),
        ("not_accepted", {"given_at": at(1)}, False, ""),
    ],
    ids=[
        *("a dose", "a new rate", "given before", "only held", "started and stopped", "stopped", "stopped before"),
        *("a bolus broken off", "no matter of a treatment"),
    ],
)
def test_of_a_measured_danger_it_says_what_was_given_since_or_has_stopped_and_that_nobody_has_acknowledged_it(
    kind: str, given: dict[str, Any], treated: bool, stopped: str
) -> None:
    """What has ended since somebody took notice is told still, what was given is not."""
    dose = {**board.kestrel()["doses"][0], "title": "norepinephrine infusion", **BLANK, **given}
    text, noticed = (
        line(kind=kind, of={"doses": [dose]}, **taken).text for taken in ({}, {"acknowledged": TAKEN_THEN})
    )

    assert ("treated" in text, "norepinephrine infusion, not acknowledged" in text) == (treated, treated)
    assert stopped in text, text
    assert stopped in noticed
    assert ("norepinephrine" in noticed) == bool(stopped)
