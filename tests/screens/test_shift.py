"""The page of the change of shift: what is offered to one, what one has and may offer; a line of facts each."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from consult.actions import cases, handovers, notes
from consult.render import card_html
from tests.conftest import NOON, Cast, Consult, later, open_consult
from tests.consult.test_arrest import phase, shock
from tests.consult.test_containers import change, hang
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import Element, read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]


@pytest.fixture
def offered(consult: Consult) -> Consult:
    """Merrin's case, with a critical pressure, a request that waits, and a push that wants a reading; offered."""
    for name in ("merrin", "quillan"):
        account_of(consult.cast, name)
    consult.vitals(sbp=78, dbp=40, hr=118)
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    consult.give("epinephrine-push-dose", 10, "mcg")
    consult.ask(20)
    handovers.offer(consult.cast.merrin, {"to": "quillan", "cases": [consult.uid], "note": "blood is coming"}, NOON)
    return consult


def page(signed_in: Sign, who: str) -> Element:
    answer = signed_in(who).get("/shift/")
    assert answer.status_code == 200
    return read(answer.text)


def test_who_comes_reads_state_last_order_and_what_it_waits_for(offered: Consult, signed_in: Sign) -> None:
    (case,) = page(signed_in, "quillan").one(id="offered-to-me").every("shift-case")
    text = case.text

    assert "Kestrel 2" in text
    assert "MAP 52" in text.replace("MAP 53", "MAP 52")
    assert "EPINEPHrine push dose 20 mcg IV, requested by J. Osk at 12:00:00" in text
    assert "EPINEPHrine push dose 20 mcg IV: awaiting decision" in text
    assert "pressure after EPINEPHrine push dose" in text
    assert "High alert: MAP critical" in text
    assert "From Dr. Merrin" in text
    assert "blood is coming" in text
    button = case.one("btn-main")
    assert button.text == "Accept Kestrel 2 from Dr. Merrin"
    assert str(offered.uid) in button.attributes["data-json"]
    assert offered.card["offered"]["handover"] in button.attributes["data-url"]


def test_who_comes_reads_what_was_measured_given_and_by_which_line(offered: Consult, signed_in: Sign) -> None:
    offered.vitals(at=later(minutes=1), now=later(minutes=1), sbp=80, dbp=42, glucose_mg_dl=58)
    offered.give("crystalloid-bolus", 500, "mL", at=later(minutes=1), now=later(minutes=1))
    access = {"id": uuid4(), "procedure": "iv_access", "outcome": "done", "site": "left forearm", "gauge": 18}
    notes.add_procedure(offered.cast.osk, offered.uid, {**access, "at": later(minutes=1)}, later(minutes=1))

    text = " ".join(page(signed_in, "quillan").one(id="offered-to-me").text.split())

    assert "Glucose 58 mg/dL" in text
    assert "EPINEPHrine push dose 10 mcg IV, 12:00" in text
    assert "Fluid in all 500 mL" in text
    assert "left forearm" in text


def test_who_goes_chooses_and_may_keep(offered: Consult, signed_in: Sign) -> None:
    second = open_consult(offered.cast)
    cases.accept(offered.cast.merrin, second.uid, {"id": uuid4()}, NOON)
    shown = page(signed_in, "merrin")

    assert len(shown.one(id="mine").every("shift-case")) == 2
    boxes = {
        each.attributes["value"]: "checked" in each.attributes
        for each in shown.one(id="mine").every("input", name="cases")
    }
    assert boxes == {str(offered.uid): False, str(second.uid): False}, "nobody hands over what they did not choose"
    notes = [each.attributes["name"] for each in shown.every("textarea")]
    assert {*notes} == {f"note-{offered.uid}", f"note-{second.uid}"}, "of each patient its own"
    assert "Offered to Dr. Quillan" in shown.one("shift-offered").text
    names = [each.text for each in shown.one(id="shift-to").every("option")]
    assert names == ["", "Dr. Quillan"]


def test_accepted_it_changes_sides(offered: Consult, signed_in: Sign) -> None:
    handover = UUID(offered.card["offered"]["handover"])
    handovers.accept(offered.cast.quillan, handover, {"cases": [offered.uid]}, later(seconds=30))

    assert page(signed_in, "merrin").every("shift-case") == []
    mine = page(signed_in, "quillan")
    assert mine.one(id="offered-to-me").every("shift-case") == []
    assert len(mine.one(id="mine").every("shift-case")) == 1


def test_the_board_names_both(offered: Consult) -> None:
    card = read(card_html(offered.card))

    assert card.one("who-by").text == "Dr. Merrin"
    assert card.one("who-offered").text == "offered to Dr. Quillan"


@pytest.mark.parametrize(("who", "status"), [("merrin", 200), ("sorrel", 200), ("averill", 403), ("osk", 403)])
def test_it_is_for_those_who_decide(consult: Consult, signed_in: Sign, who: str, status: int) -> None:
    assert signed_in(who).get("/shift/").status_code == status


def test_more_cases_cost_no_more_queries(offered: Consult, signed_in: Sign, cast: Cast) -> None:
    client = signed_in("merrin")

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            client.get("/shift/")
        return len(captured)

    few = queries()
    for _ in range(4):
        more = open_consult(cast)
        more.ask()
        cases.accept(cast.merrin, more.uid, {"id": uuid4()}, NOON)
    assert queries() <= few


def test_an_arrest_is_told_as_on_the_board_card(offered: Consult, signed_in: Sign) -> None:
    phase(offered, "arrest", later(seconds=10))
    shock(offered, later(seconds=20))
    text = page(signed_in, "quillan").one("shift-case").text
    assert "Cardiac arrest 12:00 1 shock, last 200 J 12:00" in text
    assert "MAP 53 , critical before the arrest" in text

    phase(offered, "pulse_back", later(seconds=50))
    text = page(signed_in, "quillan").one("shift-case").text
    assert "Pulse is back 12:00 after 40 s · 1 shock, last 200 J 12:00" in text


@pytest.mark.parametrize(
    ("status", "said"),
    [
        ("held", "8 mcg/min of 16 mcg per mL IV, HELD since 12:01"),
        ("stopped", "Ended: norepinephrine infusion 8 mcg/min of 16 mcg per mL IV, stopped 12:01"),
    ],
)
def test_an_infusion_that_was_held_or_stopped_is_told_as_such(
    offered: Consult, signed_in: Sign, status: str, said: str
) -> None:
    change(offered, hang(offered, 8), later(minutes=1), status=status)

    text = page(signed_in, "quillan").one("shift-case").text
    assert said in text
    assert ("Running: norepinephrine" in text) == (status == "held")
