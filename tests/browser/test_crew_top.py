"""The top bar of the crew's pages: one line while all is well, and long words whole, not squeezed between others."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import SignIn, Transport
from tests.browser.crew_phone import PHONE, Phone

REFUSED = "Offline: 2 waiting · 1 not accepted"
SAYS = """([state, said, refused]) => {
  const bar = document.getElementById("link");
  bar.dataset.link = state;
  bar.toggleAttribute("data-refused", refused);
  document.getElementById("link-text").textContent = said;
  document.getElementById("link-sent").textContent = "sent 12:04:33";
  const within = bar.getBoundingClientRect();
  const words = [...bar.querySelectorAll(".link-line > *")].map((each) => each.getBoundingClientRect());
  const [lowest, highest] = [Math.max(...words.map(({ top }) => top)), Math.min(...words.map(({ bottom }) => bottom))];
  return {
    together: lowest < highest, wide: words[0].width,
    cut: words.some((at) => at.top < within.top + 3 || at.bottom > within.bottom - 3 || at.right > within.right),
  };
}"""


@pytest.fixture
def page(sign_in: SignIn, transport: Transport) -> Page:
    phone = Phone(sign_in("osk", f"/crew/{transport.uid}/", **PHONE), str(transport.uid)).ready()
    expect(phone.link).to_have_text("All sent")
    return phone.page


@pytest.mark.parametrize("width", [390, 360])
def test_while_all_is_sent_the_bar_has_one_line(page: Page, width: int):
    page.set_viewport_size({"width": width, "height": 640})

    told = page.evaluate(SAYS, ["live", "All sent", False])
    assert (told["together"], told["cut"]) == (True, False)


@pytest.mark.parametrize("width", [390, 360])
def test_a_refused_entry_is_told_whole_on_lines_of_its_own(page: Page, width: int):
    page.set_viewport_size({"width": width, "height": 640})

    told = page.evaluate(SAYS, ["lost", REFUSED, True])
    assert told["cut"] is False
    assert told["wide"] > width / 2


def test_the_newest_pressure_stays_in_sight_below_many_alarms(page: Page, transport: Transport):
    """Six dangers at once; the first three are told in a line that opens, the newest stand by themselves."""
    transport.vitals(sbp=62, dbp=38, spo2=70, rr=4, hr=30)
    transport.vitals(sbp=62, dbp=38, spo2=70, rr=4, hr=30, glucose_mg_dl=25, avpu="U")
    page.reload()
    alarms = page.locator('[data-part="alarms"]')
    expect(alarms.locator("> .alarm")).to_have_count(3)
    expect(alarms.locator("> details > summary")).to_contain_text("+3 High:")
    expect(alarms.locator("> .alarm").filter(has_text="glucose")).to_have_count(1)

    pressure, dock = (page.locator(each).bounding_box() for each in ('[data-part="now"]', ".dock"))
    assert pressure
    assert dock
    assert pressure["y"] + pressure["height"] <= dock["y"]
