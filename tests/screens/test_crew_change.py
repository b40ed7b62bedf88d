"""What runs is changed on its own page; an order to change, hold or stop it leads there once it was read back."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries, review
from consult.actions import interventions, orders, read_back
from consult.clock import stamp
from consult.models import Order
from consult.render import shift
from consult.resources.orders import order_dict
from consult.screens.crew_news import news
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db

DRIP = {"treatment": "norepinephrine-infusion", "route": "IV"}
STRENGTH = {"value": 16, "unit": "mcg/mL"}
RATE_UP = {"value": 0.2, "unit": "mcg/kg/min"}


def page_of(signed_in: Sign, consult: Consult, path: str) -> Any:
    return read(signed_in("osk").get(f"/crew/{consult.uid}/{path}").text)


@pytest.fixture
def running(consult: Consult) -> str:
    """The id of a norepinephrine infusion that runs at 0.1 mcg/kg/min."""
    consult.vitals(sbp=80, dbp=40)
    drip = consult.give(DRIP["treatment"], 0.1, "mcg/kg/min", status="running", concentration=STRENGTH)
    return str(drip.resource.id)


def read_back_order(consult: Consult, action: str, **more: Any) -> str:
    """An order about the infusion, as it stands after its read-back."""
    about = {"action": action, "intervention": UUID(consult.card["running"][0]["id"])}
    content = {"id": uuid4(), "at": NOON, "reason": "pressure is up", **about, **DRIP, **more}
    order = orders.request_order(consult.cast.merrin, consult.uid, content, NOON).resource.id
    read_back.read_back(consult.cast.osk, order, {"id": uuid4(), "action": action, **DRIP, **more}, NOON)
    return str(order)


@pytest.mark.parametrize(
    ("action", "more", "says", "button"),
    [
        ("stop", {}, "stop norepinephrine infusion", "Stop it"),
        ("hold", {}, "hold norepinephrine infusion", "Hold it"),
        ("change", {"amount": RATE_UP}, "change to norepinephrine infusion 0.2 mcg/kg/min", "Set the new rate"),
    ],
)
def test_an_order_about_what_runs_leads_to_its_change(
    action: str, more: dict[str, Any], says: str, button: str, consult: Consult, running: str, signed_in: Sign
):
    order = read_back_order(consult, action, **more)

    page = page_of(signed_in, consult, f"orders/{order}/")
    assert page.one("h1").text == "Read back and matched: make the change"
    assert page.one(id="main-button").text.startswith(button)
    change = f"change/{running}/?order={order}"
    assert page.every("a", href=f"/crew/{consult.uid}/{change}")

    form = page_of(signed_in, consult, change)
    assert "Ordered by Dr. Merrin, read back by the crew" in form.one("ordered").text
    assert says in form.one("ordered").text
    chosen = [each.attributes["value"] for each in form.every("input") if "checked" in each.attributes]
    wanted = {"stop": ["stopped"], "hold": ["held"], "change": ["rate", "mcg/kg/min"]}[action]
    assert [value for value in chosen if value != "0"] == wanted  # 0 min ago: now
    rate = form.one("input", name="amount.value").attributes.get("value")
    assert rate == ("0.2" if action == "change" else "")


@pytest.mark.parametrize(
    ("action", "more", "to_do", "done"),
    [
        ("stop", {}, "to be stopped", "stopped"),
        ("hold", {}, "to be held", "held"),
        ("change", {"amount": RATE_UP}, "to be set", "set"),
    ],
)
def test_what_it_asks_for_is_named_wherever_it_stands_and_nothing_is_given(
    action: str, more: dict[str, Any], to_do: str, done: str, consult: Consult, running: str, signed_in: Sign
):
    order = read_back_order(consult, action, **more)
    own = f"orders/{order}/"

    assert page_of(signed_in, consult, own).one("steps").every("li")[-1].text == to_do
    for path in ("", "orders/"):
        row = page_of(signed_in, consult, path).one(data_part="orders").one("row")
        assert to_do.capitalize() in row.text
        assert row.every("span")[0].attributes["data-after"] == "EXPIRED: do not carry it out"
    assert "Not carried out" in page_of(signed_in, consult, f"{own}not-given/").one("h1").text
    end = {"amount": RATE_UP} if action == "change" else {"status": STATUS[action]}
    data = {"id": uuid4(), "at": later(minutes=1), "order": UUID(order), **end}
    interventions.change_intervention(consult.cast.osk, UUID(running), data, later(minutes=1))

    page = page_of(signed_in, consult, own)
    assert page.one("h1").text == "Carried out as ordered"
    assert page.one("steps").every("li")[-1].text == done
    ended = page_of(signed_in, consult, "orders/").one(data_part="ended").text
    assert "Carried out" in ended
    assert "given" not in ended.lower()


def test_start_and_last_rate_are_told_apart(consult: Consult, running: str, signed_in: Sign):
    def since(path: str) -> list[str | None]:
        part = page_of(signed_in, consult, path).one(data_part="what" if path else "running")
        return [each.attributes["datetime"] for each in part.every("time")]

    assert since("") == since(f"change/{running}/") == [stamp(NOON)]
    data = {"id": uuid4(), "at": later(minutes=3), "amount": RATE_UP}
    interventions.change_intervention(consult.cast.osk, UUID(running), data, later(minutes=3))

    assert since("") == since(f"change/{running}/") == [stamp(NOON), stamp(later(minutes=3))]
    assert "this rate since" in page_of(signed_in, consult, "").one(data_part="running").text


def test_what_is_held_says_so_and_may_run_again(consult: Consult, running: str, signed_in: Sign):
    data = {"id": uuid4(), "at": later(minutes=3), "status": "held"}
    interventions.change_intervention(consult.cast.osk, UUID(running), data, later(minutes=3))

    assert "HELD since" in page_of(signed_in, consult, "").one(data_part="running").text
    page = page_of(signed_in, consult, f"change/{running}/")
    assert page.every("input", name="status")[0].attributes["value"] == "running"


def hold(consult: Consult, running: str, **more: Any) -> None:
    data = {"id": uuid4(), "at": later(minutes=1), "status": "held", **more}
    interventions.change_intervention(consult.cast.osk, UUID(running), data, later(minutes=1))


def test_a_pressor_that_is_held_stands_on_top_with_the_way_on(consult: Consult, running: str, signed_in: Sign):
    assert not page_of(signed_in, consult, "").one(data_part="off").text
    hold(consult, running, reason="Fast or irregular pulse")

    top = page_of(signed_in, consult, "").one(data_part="off")
    assert top.one("b").text.startswith("norepinephrine infusion HELD since")
    assert top.one("time").attributes["datetime"] == "2030-01-05T12:01:00Z"
    again = top.one("a")
    assert again.text == "Runs again: norepinephrine infusion"
    page = read(signed_in("osk").get(again.attributes["href"]).text)
    chosen = [each.attributes["value"] for each in page.every("input", name="status") if "checked" in each.attributes]
    assert chosen == ["running"]


@pytest.mark.parametrize(
    ("reason", "links"), [("Bag or pump is being changed; leaks", 1), ("Fast or irregular pulse", 0)]
)
def test_what_runs_again_names_its_bag_and_leads_to_a_new_one(
    reason: str, links: int, consult: Consult, running: str, signed_in: Sign
):
    assert not page_of(signed_in, consult, f"change/{running}/").every(id="which-bag")
    hold(consult, running, reason=reason)

    asked = page_of(signed_in, consult, f"change/{running}/").one(id="which-bag")
    assert asked.attributes["data-for"] == "running"
    assert "from 16 mcg per mL, as before" in asked.text
    assert [each.attributes["href"].split("/")[-3:-1] for each in asked.every("a")] == [
        ["mixed", DRIP["treatment"]]
    ] * links


def test_one_that_an_order_holds_stands_there_without_it(consult: Consult, running: str, signed_in: Sign):
    hold(consult, running, order=UUID(read_back_order(consult, "hold")))

    top = page_of(signed_in, consult, "").one(data_part="off")
    assert "by order of" in top.text
    assert "Merrin" in top.text
    assert not top.every("a")


def test_of_what_is_no_pressor_the_top_says_nothing(consult: Consult, signed_in: Sign):
    strength = {"value": 10, "unit": "mg/mL"}
    drip = consult.give("esmolol-infusion", 50, "mcg/kg/min", status="running", concentration=strength)
    hold(consult, str(drip.resource.id))

    assert not page_of(signed_in, consult, "").one(data_part="off").text


def test_what_an_order_holds_says_by_whose(consult: Consult, running: str, signed_in: Sign):
    order = read_back_order(consult, "hold")
    data = {"id": uuid4(), "at": later(minutes=1), "status": "held", "order": UUID(order)}
    interventions.change_intervention(consult.cast.osk, UUID(running), data, later(minutes=1))

    page = page_of(signed_in, consult, f"change/{running}/")
    assert "Merrin" in page.one(data_part="held-by").text


def test_without_an_order_the_page_shows_none(consult: Consult, running: str, signed_in: Sign):
    assert not page_of(signed_in, consult, f"change/{running}/").every("ordered")


def test_an_order_about_what_has_ended_offers_no_change(consult: Consult, running: str, signed_in: Sign):
    order = read_back_order(consult, "change", amount=RATE_UP)
    ended = {"id": uuid4(), "at": NOON, "status": "stopped"}
    interventions.change_intervention(consult.cast.osk, running, ended, NOON)

    button = page_of(signed_in, consult, f"orders/{order}/").one(id="main-button")
    assert button.text.startswith("All orders")


@pytest.mark.parametrize(("status", "says"), [("stopped", "Stopped early"), ("finished", "Finished")])
def test_what_has_ended_says_so(status: str, says: str, consult: Consult, running: str, signed_in: Sign):
    ended = {"id": uuid4(), "at": NOON, "status": status}
    interventions.change_intervention(consult.cast.osk, running, ended, NOON)

    page = page_of(signed_in, consult, f"change/{running}/")
    assert page.one("h1").text == "norepinephrine infusion"
    assert page.one(data_part="what").one("b").text == says
    assert page.one(data_part="what").one("time").attributes["datetime"] == "2030-01-05T12:00:00Z"
    assert not page.every("form")


def test_what_does_not_run_has_no_page_of_change(consult: Consult, signed_in: Sign):
    assert signed_in("osk").get(f"/crew/{consult.uid}/change/{uuid4()}/").status_code == 404


class TestTimeLeft:
    """What is left of a bolus at the flow that the crew sees: volume over time, by hand."""

    @pytest.fixture
    def bolus(self, consult: Consult) -> str:
        given = consult.give("crystalloid-bolus", 1000, "mL", status="running", over_min=15)
        return str(given.resource.id)

    def test_the_rest_at_the_flow_so_far(self, consult: Consult, bolus: str, signed_in: Sign, monkeypatch):
        """300 mL in 12 min are 25 mL/min; 700 mL more take 28 min."""
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=12))
        left = page_of(signed_in, consult, f"change/{bolus}/?infused=300").one(id="time-left")

        assert "At 25 mL/min the rest takes 28 min" in left.text
        assert left.one("time").attributes["datetime"] == "2030-01-05T12:40:00Z"

    @pytest.mark.parametrize("infused", ["", "x", "0", "-1", "nan", "1e99"])
    def test_what_says_nothing_is_not_answered(self, infused: str, consult: Consult, bolus: str, signed_in: Sign):
        page = page_of(signed_in, consult, f"change/{bolus}/?infused={infused}")

        assert "the rest takes" not in page.one(id="time-left").text

    def test_an_infusion_is_not_asked(self, consult: Consult, running: str, signed_in: Sign):
        assert not page_of(signed_in, consult, f"change/{running}/").every(id="time-left")

    def test_it_has_one_field_for_what_went_in_and_reasons_of_fluid(self, consult, bolus, running, signed_in: Sign):
        page = page_of(signed_in, consult, f"change/{bolus}/")
        assert len([each for each in page.every("input") if "infused" in each.attributes["name"]]) == 3
        reasons = {dose: page_of(signed_in, consult, f"change/{dose}/").one(id="why").text for dose in (bolus, running)}
        assert "New crackles or work of breathing" in reasons[bolus]
        assert "Fast or irregular pulse" not in reasons[bolus]
        assert "Fast or irregular pulse" in reasons[running]


STATUS = {"stop": "stopped", "hold": "held"}
# 0.2 mcg/kg/min for 80 kg are 16 mcg/min, of 16 mcg/mL 1 mL/min: 60 mL/h, by hand.
ABOUT = [
    ("stop", {}, "STOP norepinephrine infusion IV", "stop norepinephrine infusion IV"),
    ("hold", {}, "HOLD norepinephrine infusion IV", "hold norepinephrine infusion IV"),
    (
        "change",
        {"amount": RATE_UP},
        "NEW RATE norepinephrine infusion 0.2 mcg/kg/min IV = 60 mL/h of 16 mcg per mL",
        "change to ",
    ),
]


@pytest.mark.parametrize(("action", "more", "banner", "told"), ABOUT)
def test_what_to_do_with_what_runs_stands_wherever_its_order_does(
    action: str, more: dict[str, Any], banner: str, told: str, consult: Consult, running: str, signed_in: Sign
):
    content = {"id": uuid4(), "at": NOON, "reason": "pressure is up", "action": action, "intervention": UUID(running)}
    order = UUID(orders.request_order(consult.cast.merrin, consult.uid, {**content, **DRIP, **more}, NOON).resource.id)
    (item,) = news(consult.cast.osk, NOON)
    assert f"{item['lead']} {item['what']}" == banner

    read_back.read_back(consult.cast.osk, order, {"id": uuid4(), "action": action, **DRIP, **more}, NOON)
    done = {"id": uuid4(), "at": NOON, "order": order, **({"status": STATUS[action]} if action in STATUS else more)}
    interventions.change_intervention(consult.cast.osk, UUID(running), done, NOON)
    last = order_dict(Order.objects.get(uid=order))
    said = shift.line(consult.card, last, NOON)["last_order"]
    assert said.startswith(told)
    assert ", carried out by J. Osk at" in said
    page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)
    (line,) = [each for each in page.one(data_part="timeline").every("li") if "Ordered" in each.text]
    assert line.text.count(told.split()[0]) == 1, "said, and not twice"
    assert review.order_times(queries.journal(consult.row))[0]["shown"].startswith(told)
