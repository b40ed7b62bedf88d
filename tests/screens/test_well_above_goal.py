"""What runs by an order with steps, against the goal: both sides are told of a lower rate, and of another goal."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID, uuid4

import pytest

from consult.actions import cases, interventions, orders, read_back
from consult.render import card_html
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.usefixtures("at_noon")

LOWER = "A lower rate is within this order."
STEPS = {
    "step": {"value": 0.05, "unit": "mcg/kg/min"},
    "every_min": 3,
    "most": {"value": 0.3, "unit": "mcg/kg/min"},
    "goal": {"measure": "map", "floor": 65},
}


@pytest.fixture
def stepped(consult: Consult) -> Consult:
    """A norepinephrine infusion that runs by an order to step it up to MAP 65."""
    consult.vitals(sbp=80, dbp=40)
    drip = {"treatment": "norepinephrine-infusion", "route": "IV", "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
    asked = {"id": uuid4(), "at": NOON, "reason": "low", "action": "start", "titrate": STEPS, **drip}
    order = orders.request_order(consult.cast.merrin, consult.uid, asked, NOON).resource.id
    said = {"id": uuid4(), "action": "start", "titrate": STEPS, **drip}
    read_back.read_back(consult.cast.osk, UUID(order), said, NOON)
    strength = {"concentration": {"value": 16, "unit": "mcg/mL"}}
    consult.give(drip["treatment"], 0.1, "mcg/kg/min", status="running", order=UUID(order), **strength)
    return consult


@pytest.mark.parametrize(("sbp", "told"), [(119, False), (120, True)], ids=["MAP 79.67", "MAP 80"])
def test_the_physician_is_told(sbp: float, told: bool, stepped: Consult):
    stepped.vitals(sbp=sbp, dbp=60, at=later(minutes=5))
    panel = read(card_html(stepped.card)).one("ask")

    assert ("Well above the goal, by 15 mmHg. " + LOWER in panel.text) == told


def test_the_crew_is_told_and_led_to_where_a_rate_is_set(stepped: Consult, signed_in: Sign):
    stepped.vitals(sbp=120, dbp=60, at=later(minutes=5))
    steps = read(signed_in("osk").get(f"/crew/{stepped.uid}/").text).one("stepping")

    assert LOWER in steps.text
    (runs,) = stepped.card["running"]
    assert [link.text for link in steps.every("a", href=f"/crew/{stepped.uid}/change/{runs['id']}/")] == [
        "Set a lower rate"
    ]


@pytest.mark.parametrize(
    ("action", "said"),
    [
        ("change", "New order for a new rate: read it back first."),
        ("hold", "New order to hold it: read it back first."),
        ("stop", "New order to stop it: read it back first."),
    ],
)
def test_a_newer_order_offers_no_step_until_it_is_read_back(action: str, said: str, stepped: Consult, signed_in: Sign):
    """Two rates offered at once would leave it to the crew which order holds; withdrawn, the steps hold on."""
    (runs,) = stepped.card["running"]
    crew = signed_in("osk")
    amount = {"amount": {"value": 0.2, "unit": "mcg/kg/min"}} if action == "change" else {}
    about = {"treatment": runs["treatment"], "action": action, "intervention": runs["id"], **amount}
    asked = {"id": uuid4(), "at": NOON, "reason": "no steps", **about}
    assert "Step it up" in crew.get(f"/crew/{stepped.uid}/").text

    newer = orders.request_order(stepped.cast.merrin, stepped.uid, asked, NOON).resource.id

    page = read(crew.get(f"/crew/{stepped.uid}/").text)
    part = page.one("stepping").one("div")
    assert (part.attributes["data-step"], part.attributes["data-held"]) == ("", said)
    assert said in page.one("stepping").text
    assert "Step it up" not in page.text
    panels = {each.attributes["data-order"]: each.text for each in read(card_html(stepped.card)).every("ask")}
    assert "The steps of 12:00 end with the read-back." in panels.pop(newer)
    assert "No step until the newer order is read back: these steps end with it." in panels.popitem()[1]
    orders.withdraw(stepped.cast.merrin, UUID(newer), {"id": uuid4(), "reason": "not needed"}, NOON)
    assert "Step it up" in crew.get(f"/crew/{stepped.uid}/").text


class TestAStep:
    """Set by one press: what that records is said, and who set nothing goes back to what ran before."""

    def page(self, stepped: Consult, signed_in: Sign, path: str = "") -> Element:
        return read(signed_in("osk").get(f"/crew/{stepped.uid}/{path}").text)

    def set_rate(self, stepped: Consult, value: float, at: datetime) -> None:
        (runs,) = stepped.card["running"]
        (order,) = stepped.card["orders"]
        amount = {"value": value, "unit": "mcg/kg/min"}
        data = {"id": uuid4(), "at": at, "amount": amount, "order": UUID(order["id"])}
        interventions.change_intervention(stepped.cast.osk, UUID(runs["id"]), data, at)

    def test_what_a_press_records_is_said_before_it(self, stepped: Consult, signed_in: Sign):
        told = self.page(stepped, signed_in).one("stepping").text
        assert "One press records the new rate as set on the pump now." in told
        assert "Dr. Merrin says: low" in told, "the physician’s words to the order stand where the steps are set"

    def test_it_leads_back_to_the_rate_before_for_five_minutes(
        self, stepped: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
    ):
        way = "Not set: back to 0.1 mcg/kg/min"
        assert way not in self.page(stepped, signed_in).text
        self.set_rate(stepped, 0.15, later(minutes=4))
        for minutes, offered in ((4, True), (9, True), (9.1, False)):
            monkeypatch.setattr("consult.clock.now", lambda minutes=minutes: later(minutes=minutes))
            told = self.page(stepped, signed_in).one("stepping")
            assert ("Recorded 12:04:00 : 0.15 mcg/kg/min = 45 mL/h." in told.text) == (way in told.text) == offered

    def test_there_that_rate_is_filled_in_and_recording_it_alarms_nobody(
        self, stepped: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
    ):
        self.set_rate(stepped, 0.15, later(minutes=4))
        monkeypatch.setattr("consult.clock.now", lambda: later(minutes=4))
        (way,) = [
            link.attributes["href"] or ""
            for link in self.page(stepped, signed_in).one("stepping").every("a")
            if link.text.startswith("Not set")
        ]
        form = read(signed_in("osk").get(way).text).one(id="entry")
        assert form.one("input", name="amount.value").attributes["value"] == "0.1"
        chosen = [each.attributes["value"] for each in form.every("input") if "checked" in each.attributes]
        assert {"rate", "mcg/kg/min"} <= {*chosen}

        (runs,) = stepped.card["running"]
        data = {"id": uuid4(), "at": later(minutes=5), "amount": {"value": 0.1, "unit": "mcg/kg/min"}}
        interventions.change_intervention(stepped.cast.osk, UUID(runs["id"]), data, later(minutes=5))
        assert not [each for each in stepped.card["alerts"] if each["kind"] == "dose_outside_limits"]

    def test_after_a_restart_it_leads_back_to_the_pause_and_counts_from_the_restart(
        self, stepped: Consult, signed_in: Sign, monkeypatch: pytest.MonkeyPatch
    ):
        (runs,) = stepped.card["running"]
        for status, minutes in (("held", 4), ("running", 6)):
            data = {"id": uuid4(), "at": later(minutes=minutes), "status": status}
            interventions.change_intervention(stepped.cast.osk, UUID(runs["id"]), data, later(minutes=minutes))
        monkeypatch.setattr("consult.clock.now", lambda: later(minutes=6))
        page = self.page(stepped, signed_in)

        assert "Not set" not in page.one("stepping").text
        assert "due by 12:09, from the restart at 12:06" in page.one("due").text
        (way,) = [each for each in page.one("stepping").every("a") if each.text == "Not running: still held"]
        form = read(signed_in("osk").get(way.attributes["href"] or "").text).one(id="entry")
        chosen = [each.attributes["value"] for each in form.every("input") if "checked" in each.attributes]
        assert "held" in chosen

    # A pressure is due 3 min after a start or new rate, then 5 min after each pressure: the contract's own minutes.
    @pytest.mark.parametrize(
        ("steps", "pressures", "said"),
        [
            ([], [], "due by 12:03, from the start at 12:00"),
            ([4], [], "due by 12:07, from the step at 12:04"),
            ([4, 6], [], "due by 12:09, from the step at 12:06"),
            ([4], [8], "due by 12:13, from the pressure at 12:08"),
        ],
    )
    def test_by_when_a_pressure_is_due_and_from_what(
        self, steps: list[int], pressures: list[int], said: str, stepped: Consult, signed_in: Sign
    ):
        for number, minutes in enumerate(steps):
            self.set_rate(stepped, 0.15 + 0.05 * number, later(minutes=minutes))
        for minutes in pressures:
            stepped.vitals(sbp=80, dbp=40, at=later(minutes=minutes))
        (order,) = stepped.card["orders"]
        for path in ("", "give/", f"orders/{order['id']}/"):
            assert said in self.page(stepped, signed_in, path).one("due").text, path
        too_early = self.page(stepped, signed_in, "vitals/").every("early")
        assert bool(too_early) is not bool(pressures)  # after a pressure that counted the next one may come at once


@pytest.mark.parametrize(
    ("measure", "floor", "told"),
    [("map", 65, ""), ("map", 70, "MAP 70"), ("map", 60, "MAP 60"), ("sbp", 100, "systolic 100")],
)
def test_both_are_told_that_the_steps_go_to_the_goal_of_their_order(
    measure: str, floor: float, told: str, stepped: Consult, signed_in: Sign
):
    """Setting a goal changes no order: whoever set it must not think that the crew steps up to it."""
    goal = {"id": uuid4(), "measure": measure, "floor": floor, "reason": "as before"}
    cases.set_goal(stepped.cast.merrin, stepped.uid, goal, later(minutes=4))
    stepped.vitals(sbp=85, dbp=59, at=later(minutes=5))
    crew, case = signed_in("osk"), signed_in("merrin")
    pages = [read(case.get(path).text).one("ask") for path in ("/board/", f"/cases/{stepped.uid}/")]

    for shown in (*pages, read(crew.get(f"/crew/{stepped.uid}/").text).one("stepping")):
        said = f"The goal is {told} now. These steps still go to MAP 65"
        assert (said in shown.text) == bool(told)
        assert (
            ("The goal is" in shown.text)
            == ("At this order’s goal: it needs no further step." in shown.text)
            == bool(told)
        )

    row = read(crew.get(f"/crew/{stepped.uid}/").text).one("section", data_part="orders").text
    assert ("At this order’s goal" if told else "At the goal") in row


def test_a_shift_handover_says_it_as_the_board_does(stepped: Consult, signed_in: Sign):
    """Told as an order that waits to be given, a colleague would order it once more."""
    cases.accept(stepped.cast.merrin, stepped.uid, {"id": uuid4()}, NOON)
    told = read(signed_in("merrin").get("/shift/").text).one("shift-case").text

    assert "may be stepped up by the crew, up by 0.05 mcg/kg/min" in told
    assert "to be given" not in told
    assert "start norepinephrine" not in told.partition("Waits for")[2]


def test_before_it_is_stopped_the_page_says_that_its_order_ends_too(stepped: Consult, signed_in: Sign):
    (runs,) = stepped.card["running"]
    form = read(signed_in("osk").get(f"/crew/{stepped.uid}/change/{runs['id']}/").text).one(id="entry")
    (told,) = [each for each in form.every("finding") if each.attributes.get("data-for") == "finished stopped"]

    assert "This ends its order, too: start norepinephrine infusion 0.1 mcg/kg/min" in told.text
    assert "choose “Held”" in told.text


def test_a_goal_that_nobody_set_is_no_other_one(stepped: Consult, signed_in: Sign):
    assert "The goal is" not in read(signed_in("osk").get(f"/crew/{stepped.uid}/").text).one("stepping").text
