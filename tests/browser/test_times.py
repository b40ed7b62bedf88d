"""Times of day that scripts write: the agency's, as the server writes them, whatever zone the browser itself is in."""

from __future__ import annotations

import re
from typing import Any

import msgspec
import pytest
from playwright.sync_api import Page, expect

from consult import zone
from consult.clock import when
from consult.models import Agency, Case, Order
from tests.browser.conftest import SignIn, Transport
from tests.consult.test_zone import CLOCKS, DENVER, KEPT, utc

ARRIVAL = """async (minutes) => {
  const root = document.createElement("p");
  root.innerHTML = `<b data-until="${new Date(minutes * 60000).toISOString()}"></b>`;
  (await import("/static/core/times.js")).tick(root, 0);
  return root.textContent;
}"""


def ms(text: str) -> float:
    return utc(text).timestamp() * 1000


def card_of(transport: Transport) -> dict[str, Any]:
    card: dict[str, Any] = msgspec.json.decode(Case.objects.get(uid=transport.uid).card)
    return card


@pytest.fixture
def denver(transport: Transport) -> None:
    Agency.objects.filter(pk=transport.team.osk.agency).update(timezone=DENVER)


def ask(page: Page, where: str, function: str, *arguments: Any) -> Any:
    script = """async ([zone, name, each]) => {
      document.body.dataset.zone = zone;
      return (await import("/static/core/times.js"))[name](...each);
    }"""
    return page.evaluate(script, [where, function, arguments])


def test_scripts_write_times_as_the_server_does(denver: None, sign_in: SignIn):
    page = sign_in("merrin", "/board/", timezone_id="Asia/Tokyo")

    for where, at, expected in CLOCKS:
        assert ask(page, where, "clockText", ms(at), True, ms(at)) == expected
    for text, near, expected in KEPT:
        assert ask(page, DENVER, "hereText", text, ms(near)) == expected
    assert [page.evaluate(ARRIVAL, minutes) for minutes in (0, 1, 99, 100)] == [
        *("time passed", "1 min", "99 min", "1 h 40 min")
    ]


@pytest.mark.night
def test_a_browser_that_lacks_the_zone_goes_by_its_offset(denver: None, sign_in: SignIn):
    page = sign_in("merrin", "/board/", timezone_id="Asia/Tokyo")

    page.evaluate("document.body.dataset.utcOffset = '-420'")

    assert (
        ask(page, "Mars/Olympus", "clockText", ms("2030-01-05 12:00:09"), True, ms("2030-01-04 12:00"))
        == "5 Jan 05:00:09"
    )


@pytest.mark.night
def test_a_page_that_is_open_when_the_clock_is_put_names_the_zone_anew(denver: None, sign_in: SignIn):
    page = sign_in("merrin", "/board/", timezone_id="Asia/Tokyo")
    expect(page.locator(".times")).to_have_text(re.compile(r"^Times: M[SD]T"))

    for at, name in (("2030-07-01 12:00", "MDT"), ("2030-12-01 12:00", "MST")):
        ask(page, DENVER, "nameZone", ms(at))
        expect(page.locator(".times")).to_contain_text(f"Times: {name}")


def test_case_and_crew_page_show_the_agencys_time(denver: None, transport: Transport, sign_in: SignIn):
    transport.vitals(sbp=74, dbp=44)
    transport.give(10)
    dose = card_of(transport)["doses"][0]
    with zone.of(DENVER):
        given = zone.clock_seconds(when(dose["given_at"]))

    crew = sign_in("osk", f"/crew/{transport.uid}/", size=(390, 844), timezone_id="Asia/Tokyo")
    case = sign_in("merrin", f"/cases/{transport.uid}/", timezone_id="Asia/Tokyo")

    expect(crew.locator("time", has_text=given).first).to_be_visible()
    expect(case.locator(".timeline")).to_contain_text(given)


@pytest.mark.night
def test_what_became_of_an_order_meanwhile_is_told_in_the_agencys_time(
    denver: None, transport: Transport, sign_in: SignIn
):
    order = transport.ask(30)
    page = sign_in("merrin", "/board/", timezone_id="Asia/Tokyo")
    transport.decide(order, transport.team.quillan, decision="decline", reason="fluid first")
    decided = Order.objects.get(uid=order).steps[-1]["at"]
    with zone.of(DENVER):
        local = zone.clock_seconds(when(decided))

    told = page.evaluate(
        """async (order) => (await import("/static/desk/actions.js")).whatBecame({ dataset: { order } })""", order
    )

    assert told == f"The order was declined by Dr. Quillan at {local}: fluid first."
