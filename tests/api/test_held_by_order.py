"""What an order held runs again by a new order alone; without one it is recorded all the same, and a physician told."""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.story import Story
from tests.api.test_holding_what_runs import RATE, ordered, read_back, state


@pytest.mark.parametrize("again", [{"status": "running"}, {"amount": RATE}], ids=["as before", "a new rate"])
class TestHeldByOrder:
    """Common practice, no source: what medical control has held goes on when medical control says so."""

    @pytest.fixture
    def held(self, story: Story, runs: dict[str, Any]) -> dict[str, Any]:
        order = ordered(story, runs, "hold")
        read_back(story, order, "hold")
        story.at(1)
        story.change(runs, status="held", order=order)
        return runs

    def test_that_it_runs_again_without_a_new_order_is_kept_and_told(
        self, story: Story, held: dict[str, Any], again: dict[str, Any]
    ):
        story.at(2)
        story.change(held, **again)

        (running,) = story.card()["running"]
        assert (running["status"], running["verdict"]) == ("running", "needs_order")
        assert any("held by the order of 12:00:00 UTC" in text for text in self.alarms(story))

    def test_by_a_new_order_it_does_so_quietly(self, story: Story, held: dict[str, Any], again: dict[str, Any]):
        story.at(2)
        order = ordered(story, held, "change", amount=RATE)
        read_back(story, order, "change", amount=RATE)
        story.change(held, **again, order=order)

        assert state(story, order) == "given"
        assert not any("held by the order" in text for text in self.alarms(story))

    def test_what_the_crew_held_itself_it_lets_run_again(
        self, story: Story, runs: dict[str, Any], again: dict[str, Any]
    ):
        story.at(1)
        story.change(runs, status="held")
        story.at(2)
        story.change(runs, **again)

        assert not any("held by the order" in text for text in self.alarms(story))

    def alarms(self, story: Story) -> list[str]:
        return [each["text"] for each in story.card()["alerts"] if each["kind"] == "dose_outside_limits"]
