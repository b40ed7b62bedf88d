"""The transports of the demonstration raise no alarm of a vital sign that nobody wrote into them."""

from __future__ import annotations

from datetime import UTC, datetime
from random import Random

import msgspec
import pytest

from consult.simulation.scenario import Scenario, shipped, varied
from consult.simulation.unit import Unit
from dosing.ground.facts import Facts, Patient, Reading
from dosing.load.reader import load_shipped
from dosing.watch.vital_signs import vital_signs
from tests.simulation.fake_board import FakeBoard, live

START = datetime(2030, 1, 5, 10, tzinfo=UTC)
RULES = load_shipped("demonstration")
WRITTEN = {"Finch 6": {"glucose_mg_dl"}}  # the dehydrated child's low glucose


def raised(scenario: Scenario, minutes: float) -> set[str]:
    """The causes that stood after any of a transport's sets."""
    board = FakeBoard()
    unit = Unit(scenario.call_sign, scenario, board.link(), start=START, seed=3)
    unit.open_history()
    live(unit, START, minutes)
    patient = msgspec.convert(dict(scenario.case["patient"]), Patient)
    sets = [msgspec.convert(row, Reading) for row in sorted(board.of("vitals"), key=lambda row: row["taken_at"])]
    seen = [tuple(sets[: number + 1]) for number in range(len(sets))]
    facts = (Facts(patient=patient, opened_at=START, readings=readings) for readings in seen)
    return {sign.cause for each in facts for sign in vital_signs(each, RULES)}


@pytest.mark.parametrize("scenario", shipped(), ids=lambda scenario: scenario.call_sign)
def test_a_shipped_transport_alarms_as_it_was_written(scenario: Scenario) -> None:
    assert raised(scenario, 20) == WRITTEN.get(scenario.call_sign, set())


@pytest.mark.parametrize("seed", range(4))
def test_a_made_up_adult_raises_none(seed: int) -> None:
    assert raised(varied(Random(seed)), 10) == set()
