"""The closed loop: asked, decided, read back, given; every other step is refused."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import problems
from consult.actions import corrections, interventions, orders, read_back
from consult.clock import stamp
from consult.models import Order
from consult.render.journal import timeline
from consult.render.order_story import sentence, told
from consult.render.orders import panel
from consult.rows.rows import plain
from dosing.ground.facts import Amount
from tests.conftest import NOON, Consult, later

RATE_UP = {"value": 0.2, "unit": "mcg/kg/min"}
STRENGTH = {"value": 16, "unit": "mcg/mL"}
PUSH = {"treatment": "epinephrine-push-dose", "route": "IV"}


def mcg(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mcg"}


def uid(written: Any) -> UUID:
    return UUID(written.resource.id)


@pytest.fixture
def asked(consult: Consult) -> Any:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    return consult.ask(30)


def decide(consult: Consult, asked: Any, decision: str, *, by: str = "merrin", at: Any = NOON, **more: Any) -> Any:
    return orders.decide(getattr(consult.cast, by), uid(asked), {"id": uuid4(), "decision": decision, **more}, at)


def repeat(consult: Consult, asked: Any, *, at: Any = NOON, **more: Any) -> Any:
    return read_back.read_back(consult.cast.osk, uid(asked), {"id": uuid4(), **PUSH, **more}, at)


def test_it_goes_round_from_request_to_given(consult: Consult, asked: Any) -> None:
    assert asked.resource.state == "requested"
    assert asked.resource.check.verdict == "needs_order"

    changed = decide(consult, asked, "change", amount=mcg(25), reason="start lower")
    assert (changed.resource.state, changed.resource.amount) == ("approved", Amount(25, "mcg"))

    matched = repeat(consult, asked, amount={"value": 0.025, "unit": "mg"})
    assert (matched.resource.matches, matched.resource.state) == (True, "read_back")

    given = consult.give(PUSH["treatment"], 25, "mcg", at=later(minutes=1), order=uid(asked))
    assert given.resource.check.verdict in ("within", "caution")
    assert consult.card["orders"] == []


@pytest.mark.parametrize(
    ("said", "differences"),
    [
        ({"amount": mcg(300)}, ["amount"]),
        ({"amount": mcg(30), "route": "IO"}, ["route"]),
        ({"amount": mcg(30), "treatment": "phenylephrine-push-dose"}, ["treatment"]),
        ({"strength": {"value": 100, "unit": "mcg/mL"}, "volume": {"value": 3, "unit": "mL"}}, ["amount"]),
    ],
    ids=["ten times the dose", "another route", "another drug", "the ten-fold syringe"],
)
def test_a_misheard_order_names_the_field_and_not_the_value(
    consult: Consult, asked: Any, said: dict[str, Any], differences: list[str]
) -> None:
    decide(consult, asked, "approve")
    answer = repeat(consult, asked, **said).resource

    assert (answer.matches, [*answer.differences], answer.state) == (False, differences, "approved")
    assert "readback_mismatch" in consult.alerts

    repeat(consult, asked, amount=mcg(30))
    assert "readback_mismatch" not in consult.alerts


def test_what_is_in_the_hand_is_reckoned_by_the_server(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")

    answer = repeat(
        consult, asked, strength={"value": 0.01, "unit": "mg/mL"}, volume={"value": 3, "unit": "mL"}
    ).resource
    assert answer.matches


def test_the_physician_is_told_what_the_hand_would_have_given(consult: Consult, asked: Any) -> None:
    """3 mL of the undiluted 0.1 mg/mL are 300 mcg where 30 were ordered: on the card and in the journal."""
    decide(consult, asked, "approve")
    repeat(consult, asked, strength={"value": 0.1, "unit": "mg/mL"}, volume={"value": 3, "unit": "mL"})
    (shown,) = consult.card["orders"]
    told = "epinephrine push dose 3 mL of 0.1 mg per mL = 300 mcg IV"

    assert panel(shown)["misread"] == told
    line = next(each for each in reversed(consult.journal) if each["kind"] == "order.read_back")
    assert line["data"]["came_to"] == mcg(300)
    assert timeline([line])[0]["text"].endswith(f"said {told}")

    repeat(consult, asked, amount=mcg(300))
    assert panel(consult.card["orders"][0])["misread"] == "epinephrine push dose 300 mcg IV"


def test_each_check_says_when_it_was_made_and_with_which_pressure(consult: Consult) -> None:
    """Asked a minute after a push: how long ago that was is another answer a minute later."""
    consult.vitals(sbp=80, dbp=40)
    consult.give(PUSH["treatment"], 10, "mcg")
    early = panel(plain(consult.ask(10, at=later(minutes=1)).resource))
    assert (early["checked_at"], early["checked_with"]) == (stamp(later(minutes=1)), "MAP 53")
    assert any(each["text"].startswith("1 min after the last dose") for each in early["findings"])

    consult.vitals(at=later(minutes=3), sbp=70, dbp=40)
    late = panel(plain(consult.ask(30, at=later(minutes=9)).resource))
    assert "pressure_unknown" in {each["code"] for each in late["check"]["findings"]}
    assert (late["checked_at"], late["checked_with"]) == (stamp(later(minutes=9)), "MAP 50")


def test_two_physicians_cannot_both_decide(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")

    with pytest.raises(problems.WrongState, match=r"by Dr\. Merrin at 12:00:00 UTC"):
        decide(consult, asked, "decline", by="quillan", reason="too much")


def test_beyond_a_hard_limit_nobody_orders(consult: Consult) -> None:
    with pytest.raises(problems.HardLimit):
        consult.ask(1, "mg")
    with pytest.raises(problems.HardLimit):
        consult.ask(1, "mg", by=consult.cast.merrin)


def test_a_physician_beyond_a_standing_limit_says_why(consult: Consult) -> None:
    with pytest.raises(problems.Invalid) as refused:
        consult.ask(30, by=consult.cast.merrin, reason="")
    assert refused.value.errors[0]["pointer"] == "/reason"


def test_who_asked_back_is_told_as_a_sentence(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "ask", text="Which line?")
    (order,) = consult.card["orders"]

    assert told(order) == "Dr. Merrin sent a query at 12:00:00"
    assert sentence(order) == "Dr. Merrin sent a query at 12:00:00 UTC"


def test_a_series_is_given_dose_by_dose(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    asked = consult.ask(30, repeat={"times": 2, "every_min": 2})
    decide(consult, asked, "approve")
    repeat(consult, asked, amount=mcg(30))

    for minutes, left in ((1, 1), (2, 1), (4, 0)):  # the second comes too soon and does not count
        consult.give(PUSH["treatment"], 30, "mcg", at=later(minutes=minutes), order=uid(asked))
        assert len(consult.card["orders"]) == left


@pytest.mark.parametrize(
    ("ordered", "repeated", "change"),
    [
        ({"action": "stop"}, {}, {"status": "stopped"}),
        ({"action": "hold"}, {}, {"status": "stopped"}),
        ({"action": "hold"}, {}, {"status": "held"}),
        ({"action": "change", "amount": RATE_UP}, {"amount": RATE_UP}, {"amount": RATE_UP}),
    ],
    ids=["stop", "hold, stopped", "hold", "change"],
)
def test_an_order_about_what_runs_is_carried_out_by_its_change(
    consult: Consult, ordered: dict[str, Any], repeated: dict[str, Any], change: dict[str, Any]
) -> None:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    running = consult.give("norepinephrine-infusion", 0.1, "mcg/kg/min", status="running", concentration=STRENGTH)
    infusion = {"treatment": "norepinephrine-infusion", "route": "IV"}
    content = {"id": uuid4(), "at": NOON, "reason": "as agreed", "intervention": uid(running), **infusion, **ordered}
    asked = uid(orders.request_order(consult.cast.merrin, consult.uid, content, NOON))

    said = {"id": uuid4(), "action": ordered["action"], "treatment": infusion["treatment"], **repeated}
    matched = read_back.read_back(consult.cast.osk, asked, said, NOON)
    assert matched.resource.matches
    done = {"id": uuid4(), "at": later(minutes=1), **change}
    interventions.change_intervention(consult.cast.osk, uid(running), done, later(minutes=1))

    assert Order.objects.get(uid=asked).state == "given"
    assert consult.card["orders"] == []


@pytest.mark.parametrize(("repeated", "verdict"), [(True, "caution"), (False, "needs_order")])
def test_a_new_rate_that_was_ordered_and_repeated_wants_no_further_order(
    consult: Consult, repeated: bool, verdict: str
) -> None:
    consult.vitals(sbp=80, dbp=40, lungs="clear")
    running = consult.give("norepinephrine-infusion", 0.1, "mcg/kg/min", status="running", concentration=STRENGTH)
    infusion = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": RATE_UP}
    content = {"id": uuid4(), "at": NOON, "reason": "as agreed", "action": "change", "intervention": uid(running)}
    asked = uid(orders.request_order(consult.cast.merrin, consult.uid, {**content, **infusion}, NOON))
    if repeated:
        read_back.read_back(consult.cast.osk, asked, {"id": uuid4(), "action": "change", **infusion}, NOON)

    done = {"id": uuid4(), "at": later(minutes=1), "amount": RATE_UP}  # no pressure was taken since the start
    changed = interventions.change_intervention(consult.cast.osk, uid(running), done, later(minutes=1))

    assert changed.resource.check.verdict == verdict


def test_an_amount_that_was_ordered_must_be_repeated(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")
    with pytest.raises(problems.Invalid) as refused:
        repeat(consult, asked)
    assert refused.value.errors[0]["pointer"] == "/amount"


def test_an_order_that_was_not_read_back_covers_nothing(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")

    given = consult.give(PUSH["treatment"], 30, "mcg", order=uid(asked))
    assert given.resource.check.verdict == "needs_order"
    assert "order_not_read_back" in {finding.code for finding in given.resource.check.findings}
    assert "dose_outside_limits" in consult.alerts


def test_the_crew_withdraws_only_what_is_undecided(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")

    with pytest.raises(problems.WrongState):
        orders.withdraw(consult.cast.osk, uid(asked), {"reason": "not needed"}, NOON)
    ended = orders.not_given(consult.cast.osk, uid(asked), {"reason": "pressure came up"}, NOON)
    assert ended.resource.state == "not_given"


def test_a_repeated_read_back_gets_its_own_answer_again(consult: Consult, asked: Any) -> None:
    decide(consult, asked, "approve")
    wrong = {"id": uuid4(), **PUSH, "amount": mcg(300)}
    read_back.read_back(consult.cast.osk, uid(asked), wrong, NOON)
    repeat(consult, asked, amount=mcg(30))

    again = read_back.read_back(consult.cast.osk, uid(asked), wrong, NOON)
    assert (again.created, again.resource.matches, again.resource.differences) == (False, False, ("amount",))


class TestADoseEnteredInError:
    """It leaves every computation (contract, "Correction"), so its order is to be given again."""

    @pytest.mark.parametrize(("times", "before"), [(1, "given"), (2, "read_back")])
    def test_its_order_is_to_be_given_again(self, consult: Consult, times: int, before: str) -> None:
        consult.vitals(sbp=80, dbp=40, lungs="clear")
        asked = consult.ask(30, repeat={"times": times, "every_min": 2})
        decide(consult, asked, "approve")
        repeat(consult, asked, amount=mcg(30))
        dose = consult.give(PUSH["treatment"], 30, "mcg", at=later(minutes=1), order=uid(asked))
        assert Order.objects.get().state == before
        correct(consult, dose, at=later(minutes=2))

        (standing,) = consult.card["orders"]
        assert (standing["state"], standing["given"]) == ("read_back", 0)
        again = consult.give(PUSH["treatment"], 30, "mcg", at=later(minutes=3), order=uid(asked))
        assert again.resource.check.verdict == "caution"
        assert Order.objects.get().state == before

    def test_an_order_that_has_run_out_meanwhile_stays_so(self, consult: Consult, asked: Any) -> None:
        decide(consult, asked, "approve")
        repeat(consult, asked, amount=mcg(30))
        dose = consult.give(PUSH["treatment"], 30, "mcg", at=later(minutes=1), order=uid(asked))
        correct(consult, dose, at=later(minutes=11))

        assert Order.objects.get().state == "expired"

    def test_a_dose_that_was_not_counted_changes_nothing(self, consult: Consult, asked: Any) -> None:
        dose = consult.give(PUSH["treatment"], 30, "mcg", at=later(minutes=1), order=uid(asked))
        correct(consult, dose, at=later(minutes=2))

        assert consult.card["orders"][0]["state"] == "requested"


def correct(consult: Consult, dose: Any, *, at: Any = NOON) -> None:
    target = {"kind": "intervention", "id": uid(dose)}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "not given"}, at)


def test_no_more_may_be_open_than_a_card_shows(consult: Consult) -> None:
    """What waits for a physician is never hidden by newer requests; a crew's keep no physician from ordering."""
    asked = [consult.ask(30, at=later(seconds=number)) for number in range(30)]
    with pytest.raises(problems.WrongState, match="30 requests are open"):
        consult.ask(30, at=later(minutes=1))
    for number in range(30):
        consult.ask(10, at=later(seconds=60 + number), by=consult.cast.merrin)
    with pytest.raises(problems.WrongState, match="30 orders by physicians are open"):
        consult.ask(10, at=later(minutes=2), by=consult.cast.merrin)

    assert {each.resource.id for each in asked} < {each["id"] for each in consult.card["orders"]}
    orders.withdraw(consult.cast.osk, uid(asked[0]), {"id": uuid4(), "reason": "not needed"}, later(minutes=2))
    assert consult.ask(30, at=later(minutes=2)).resource.state == "requested"


def test_a_physician_asks_back_so_often_and_no_more(consult: Consult, asked: Any) -> None:
    for _ in range(20):
        decide(consult, asked, "ask", text="Which line?")
    with pytest.raises(problems.WrongState, match="has had 20 queries"):
        decide(consult, asked, "ask", text="Which line?")
    assert decide(consult, asked, "approve").resource.state == "approved"
