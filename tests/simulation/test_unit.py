"""A unit at work: it asks before it gives, hears what a physician decides, and outlives every trouble of the line."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from consult.simulation.entries import stamp
from consult.simulation.scenario import Scenario, Step, shipped
from consult.simulation.unit import Unit
from tests.simulation.fake_board import WITHIN, FakeBoard, live

START = datetime(2030, 1, 5, 10, tzinfo=UTC)
PUSH = {"treatment": "epinephrine-push-dose", "amount": {"value": 10, "unit": "mcg"}, "route": "IV"}
FLUID = {"treatment": "crystalloid-bolus", "amount": {"value": 250, "unit": "mL"}, "route": "IV", "over_min": 5}
ASKING = {**PUSH, "reason": "pressure falls"}


@pytest.fixture
def board() -> FakeBoard:
    return FakeBoard()


@pytest.fixture
def unit_with(board: FakeBoard) -> Callable[..., Unit]:
    """A unit whose script is just these steps, after a first reading."""

    def make(*steps: Step, speed: float = 1, **changes: Any) -> Unit:
        base = shipped()[0]
        script = (Step(0, "measure"), *steps)
        plain = {key: getattr(base, key) for key in Scenario.__dataclass_fields__} | {"wrong_readback": False}
        scenario = Scenario(**{**plain, "steps": script, "answer": "Lungs clear.", **changes})
        return Unit("Kestrel 2", scenario, board.link(), start=START, speed=speed, seed=5)

    return make


def refusing(*codes: str, next_at: datetime | None = None) -> dict[str, Any]:
    """A check that needs an order for these findings."""
    findings = [{"code": code, "level": "needs_order", "text": code} for code in codes]
    return {"verdict": "needs_order", "findings": findings, "next_at": stamp(next_at) if next_at else None}


def decide(board: FakeBoard, state: str, **more: Any) -> None:
    """A physician decides on the one order that there is."""
    (order,) = board.orders.values()
    order.update(state=state, **more)


class TestGiving:
    def test_guidance_and_check_come_before_the_dose(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        live(unit_with(Step(0.1, "give", PUSH)), START, 0.5)

        kinds = [kind for kind, _, _ in board.entries]
        assert any(path.endswith("/guidance/") for path in board.asked)
        assert kinds.index("check") < kinds.index("intervention")
        assert board.of("intervention")[0]["amount"] == PUSH["amount"]

    def test_too_soon_is_waited_out_until_the_time_that_the_board_names(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        free_at = START + timedelta(minutes=2)
        board.check = lambda proposal: (
            WITHIN if datetime.fromisoformat(proposal["at"]) >= free_at else refusing("too_soon", next_at=free_at)
        )

        live(unit_with(Step(0.1, "give", PUSH), speed=10), START, 3)

        (dose,) = board.of("intervention")
        assert free_at <= datetime.fromisoformat(dose["given_at"]) < free_at + timedelta(seconds=5)

    def test_a_missing_pressure_is_taken_first(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        board.check = lambda proposal: (
            WITHIN if len(board.of("vitals")) > 1 else refusing("no_pressure_since_last_dose")
        )

        live(unit_with(Step(0.1, "give", PUSH)), START, 0.4)

        assert len(board.of("vitals")) == 2
        assert len(board.of("intervention")) == 1

    def test_what_is_beyond_the_limits_is_asked_for_and_not_given(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        board.check = lambda proposal: refusing("total_reached")

        live(unit_with(Step(0.1, "give", PUSH)), START, 1)

        assert board.of("order")[0]["reason"] == "total_reached"
        assert board.of("intervention") == []

    def test_what_is_beyond_the_hard_limit_is_left(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        board.check = lambda proposal: {"verdict": "over_hard_limit", "findings": [], "next_at": None}

        live(unit_with(Step(0.1, "give", PUSH)), START, 1)

        assert board.of("intervention") == board.of("order") == []
        assert "hard limit" in board.of("note")[0]["text"]

    def test_a_fluid_is_written_as_running_and_then_as_finished(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        live(unit_with(Step(0.1, "give", FLUID)), START, 6)

        (fluid,), (change,) = board.of("intervention"), board.of("change")
        assert fluid["status"] == "running"
        assert (change["status"], change["infused"]) == ("finished", {"value": 250.0, "unit": "mL"})


class TestReassessing:
    def test_a_reading_is_taken_before_it_is_due(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        counts, due = START + timedelta(seconds=20), START + timedelta(seconds=50)
        unit = unit_with(Step(0.01, "measure"))
        board.reassessments = [{"id": "r", "counts_from": stamp(counts), "due_at": stamp(due), "state": "waiting"}]

        live(unit, START, 0.8)

        taken = [datetime.fromisoformat(row["taken_at"]) for row in board.of("vitals")]
        assert sum(counts < moment < due for moment in taken) == 1

    def test_a_crew_without_its_cuff_misses_it_and_sends_no_pressure(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        live(unit_with(Step(0.05, "cuff", {"on": False}), Step(3, "cuff", {"on": True})), START, 2.5)

        later = board.of("vitals")[1:]
        assert later
        assert not any("sbp" in row for row in later)

    def test_at_a_high_speed_the_cuff_stays_off_until_the_server_can_have_noticed(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        off, on = Step(0.1, "cuff", {"on": False}), Step(4, "cuff", {"on": True, "earliest_min": 2.5})
        unit = unit_with(off, on, speed=20)

        moment = live(unit, START, 2.4)
        assert not unit.crew.cuff

        live(unit, moment, 0.3)
        assert unit.crew.cuff


class TestOrders:
    def test_an_approved_order_is_read_back_given_and_felt(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.1, "request", ASKING))
        moment = live(unit, START, 1)
        before = unit.crew.body.map
        decide(board, "approved")
        moment = live(unit, moment, 0.5)
        assert board.of("readback")[0]["amount"] == PUSH["amount"]
        assert board.of("intervention") == []

        decide(board, "read_back")
        live(unit, moment, 1.5)

        (dose,) = board.of("intervention")
        assert dose["order"] in board.orders
        assert unit.crew.body.map > before + 5

    def test_the_order_is_given_as_changed_not_as_asked(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        unit = unit_with(Step(0.1, "request", ASKING))
        moment = live(unit, START, 0.5)
        decide(board, "read_back", amount={"value": 20, "unit": "mcg"})
        live(unit, moment, 1)

        assert board.of("intervention")[0]["amount"] == {"value": 20, "unit": "mcg"}

    def test_another_decision_gives_another_pressure(self, unit_with: Callable[..., Unit], board: FakeBoard) -> None:
        """The same transport under three decisions: the curves differ."""
        ends = []
        for amount in (None, 10, 50):
            board.orders.clear()
            unit = unit_with(Step(0.1, "request", ASKING))
            moment = live(unit, START, 0.5)
            if amount:
                decide(board, "read_back", amount={"value": amount, "unit": "mcg"})
            live(unit, moment, 1.5)
            ends.append(unit.crew.body.map)

        assert ends[0] + 5 < ends[1] < ends[2] - 5

    def test_a_misheard_order_is_read_back_ten_fold_and_then_rightly(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.1, "request", ASKING), wrong_readback=True)
        moment = live(unit, START, 0.5)
        decide(board, "approved")
        live(unit, moment, 0.8)

        assert [words["amount"]["value"] for words in board.of("readback")][:2] == [100, 10]

    def test_a_question_is_answered_in_the_order(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        unit = unit_with(Step(0.1, "request", ASKING))
        moment = live(unit, START, 0.5)
        decide(board, "requested", question="Lungs?")
        live(unit, moment, 1)

        (answer,) = board.of("answer")
        assert answer["text"].startswith("Lungs clear. Now ")

    def test_a_declined_request_is_followed_by_the_other_way(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.1, "request", {**ASKING, "otherwise": [{"act": "give", **FLUID}]}))
        moment = live(unit, START, 0.5)
        decide(board, "declined")
        live(unit, moment, 1)

        assert "declined" in board.of("note")[0]["text"]
        assert [dose["treatment"] for dose in board.of("intervention")] == ["crystalloid-bolus"]

    def test_a_request_that_the_board_refuses_is_not_asked_after(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        board.refuse = lambda kind, content: 422 if kind == "order" else None
        live(unit_with(Step(0.1, "request", ASKING)), START, 1)

        assert not any(path.startswith("orders/") for path in board.asked)

    def test_an_order_that_nobody_asked_for_is_carried_out_too(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        board.orders["by physician"] = {"id": "0191d0c0-0000-7000-8000-000000000001", "state": "read_back", **PUSH}
        live(unit_with(), START, 1)

        assert len(board.of("intervention")) == 1

    def test_an_infusion_is_started_changed_and_stopped_by_order(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        drip = {"treatment": "norepinephrine-infusion", "route": "IV"}
        unit, moment = unit_with(), START
        for number, (action, rate) in enumerate([("start", 0.1), ("change", 0.2), ("stop", 0.2)]):
            order_id = f"0191d0c0-0000-7000-8000-00000000000{number}"
            amount = {"value": rate, "unit": "mcg/kg/min"}
            board.orders = {
                order_id: {"id": order_id, "state": "read_back", "action": action, "amount": amount, **drip}
            }
            moment = live(unit, moment, 1)

        assert board.of("intervention")[0]["status"] == "running"
        first, second = board.of("change")
        assert first["amount"]["value"] == 0.2
        assert second["status"] == "stopped"
        assert unit.crew.body.drugs["norepinephrine-infusion"].per_min == 0

    @pytest.mark.parametrize(
        ("told", "steps"),
        [({}, 1), ({"at_goal": True}, 0), ({"call": True}, 0), ({"next": None}, 0), ({"soon": 2}, 1), ({"soon": 9}, 0)],
    )
    def test_an_infusion_is_stepped_up_once_its_time_has_come_until_the_goal(
        self, board: FakeBoard, unit_with: Callable[..., Unit], told: dict[str, Any], steps: int
    ) -> None:
        drip = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
        order = {"id": "0191d0c0-0000-7000-8000-000000000001", "state": "read_back", "action": "start", **drip}
        board.orders = {order["id"]: order}
        unit = unit_with()
        moment = live(unit, START, 1)
        stands = {"next": {"value": 0.15, "unit": "mcg/kg/min"}, "next_at": None, "at_goal": False, "call": False}
        if soon := told.get("soon"):
            stands["next_at"] = (moment + timedelta(minutes=soon)).isoformat()
        board.titrations = [{**stands, **told, "order": order["id"]}]
        live(unit, moment, 4)

        assert [each["amount"]["value"] for each in board.of("change")] == [0.15] * steps
        assert all(each["order"] == order["id"] for each in board.of("change"))

    def test_what_is_to_be_held_is_held(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        drip = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
        unit, moment = unit_with(), START
        for number, action in enumerate(["start", "hold"]):
            order_id = f"0191d0c0-0000-7000-8000-00000000000{number}"
            board.orders = {order_id: {"id": order_id, "state": "read_back", "action": action, **drip}}
            moment = live(unit, moment, 1)

        assert [each["status"] for each in board.of("change")] == ["held"]
        assert unit.crew.body.drugs["norepinephrine-infusion"].per_min == 0


class TestTheLine:
    def test_at_a_high_speed_it_is_quiet_for_as_long_as_the_servers_clock_needs(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        """Contract, "Alerts": no_contact after 5 min of the server's own clock."""
        unit = unit_with(Step(0.5, "lose_contact", {"minutes": 7}), speed=20)
        moment = live(unit, START, 0.2)
        asked = len(board.asked)
        live(unit, moment, 6.5)

        assert len(board.asked) == asked

    def test_out_of_coverage_nothing_is_asked_or_sent_and_then_all_comes_at_once(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.5, "lose_contact", {"minutes": 7}), Step(2, "give", PUSH))
        moment = live(unit, START, 0.6)
        sent, asked = len(board.entries), len(board.asked)
        moment = live(unit, moment, 6.5)
        assert (len(board.entries), len(board.asked)) == (sent, asked)

        moment = live(unit, moment, 0.5)

        (batch,) = board.batches
        assert abs(datetime.fromisoformat(batch["sent_at"]) - moment) < timedelta(minutes=1)
        (dose,) = [entry for entry in batch["entries"] if entry["kind"] == "intervention"]
        given_at = datetime.fromisoformat(dose["given_at"])
        assert timedelta(0) <= given_at - (START + timedelta(minutes=2)) < timedelta(seconds=2)
        assert board.faults == []

    def test_a_server_that_is_away_for_minutes_costs_nothing(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.1, "request", ASKING), Step(3, "give", PUSH))
        board.silent = True
        moment = live(unit, START, 2)
        board.silent = False
        live(unit, moment, 2)

        assert len(board.of("case")) == len(board.of("order")) == len(board.of("intervention")) == 1
        assert unit.outbox.waiting == unit.outbox.refused == []

    def test_a_check_that_nobody_answers_holds_the_dose_back_for_a_while(
        self, board: FakeBoard, unit_with: Callable[..., Unit]
    ) -> None:
        unit = unit_with(Step(0.2, "give", PUSH))
        moment = live(unit, START, 0.1)
        board.silent = True
        moment = live(unit, moment, 0.3)
        assert board.of("intervention") == []

        board.silent = False
        live(unit, moment, 1)

        assert len(board.of("intervention")) == 1


@pytest.mark.parametrize("scenario", shipped(), ids=[scenario.call_sign for scenario in shipped()])
def test_a_board_moves_within_half_a_minute_of_the_start(board: FakeBoard, scenario: Scenario) -> None:
    """History ends and live readings begin without a pause; a crew that drives out of coverage has sent one before."""
    unit = Unit(scenario.call_sign, scenario, board.link(), start=START, seed=11)
    unit.open_history()
    live(unit, START, 0.5)

    assert any(datetime.fromisoformat(row["taken_at"]) > START for row in board.of("vitals"))


class TestOneAfterAnother:
    def test_after_the_handover_another_patient_comes(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        live(unit_with(Step(1, "handover", {"to": "the team"})), START, 8)

        first, second = board.of("case")
        assert len(board.of("handover")) == 1
        assert first["incident"] != second["incident"]
        assert datetime.fromisoformat(second["opened_at"]) >= START + timedelta(minutes=4)
        assert board.faults == []

    def test_speed_quickens_the_script(self, board: FakeBoard, unit_with: Callable[..., Unit]) -> None:
        live(unit_with(Step(10, "note", {"text": "ten minutes"}), speed=10), START, 1.1)

        assert len(board.of("note")) == 1


@pytest.mark.parametrize("speed", [1, 20])
def test_half_an_hour_of_every_transport_keeps_to_the_contract(speed: float) -> None:
    for scenario in shipped():
        board = FakeBoard()
        unit = Unit(scenario.call_sign, scenario, board.link(), start=START, speed=speed, seed=2)
        unit.open_history()
        live(unit, START, 36 / speed + 8, every_s=1)

        assert board.faults == []
        assert unit.outbox.refused == []
        assert board.of("handover"), "it comes to its end"


def test_it_asks_says_that_it_has_understood_does_it_and_sees_where_to_go(
    board: FakeBoard, unit_with: Callable[..., Unit]
) -> None:
    told = {"id": "0195d000-0000-7000-8000-000000000001", "state": "given"}
    unit = unit_with(Step(0.1, "ask", {"topic": "destination", "text": "The nearer one?"}))
    board.instructions = [told]
    board.destination_told = {"destination": "Tor Clinic", "side": "physician", "at": "2030-01-05T10:00:00Z"}

    moment = live(unit, START, 1)
    assert [each["text"] for each in board.of("question")] == ["The nearer one?"]
    assert (len(board.of("understood")), board.of("done")) == (1, [])
    told["state"] = "understood"
    live(unit, moment, 2)
    assert (len(board.of("understood")), len(board.of("done"))) == (1, 1)
    assert [each["destination_seen"] for each in board.of("patch")] == ["Tor Clinic"]
    assert board.faults == []
