"""An infusion whose line is lost: what is off for it is told until it runs elsewhere, and the line stays on the sheets.

That a pressor beside the vein is stopped there, run elsewhere and countered by phentolamine: norepinephrine prescribing
information, "Extravasation".
"""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest

from consult.actions import interventions, notes, orders
from consult.case.lost_line import LOST, SWELLING
from consult.render import lost_lines
from consult.render.case import facts
from consult.render.handover_doses import running
from consult.render.shift import waits_for
from consult.render.treatments import due
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]

DRIP, STRENGTH = "norepinephrine-infusion", {"value": 16, "unit": "mcg/mL"}
OFF = "norepinephrine infusion off since 12:02, swelling at its line: not running elsewhere"


def line(consult: Consult, site: str, minute: float = 0, way: str = "iv_access") -> None:
    made = {"id": uuid4(), "procedure": way, "at": later(minutes=minute), "outcome": "done", "gauge": 18, "site": site}
    notes.add_procedure(consult.cast.osk, consult.uid, made, later(minutes=minute))


def start(consult: Consult, minute: float = 0, treatment: str = DRIP, rate: float = 0.1) -> str:
    at = later(minutes=minute)
    drip = consult.give(treatment, rate, "mcg/kg/min", status="running", concentration=STRENGTH, at=at)
    return str(drip.resource.id)


def change(consult: Consult, drip: str, minute: float, **what: Any) -> None:
    at = later(minutes=minute)
    interventions.change_intervention(consult.cast.osk, drip, {"id": uuid4(), "at": at, **what}, at)


@pytest.fixture
def drip(consult: Consult) -> str:
    consult.vitals(sbp=80, dbp=40)
    line(consult, "left arm")
    return start(consult)


@pytest.fixture
def swollen(consult: Consult, drip: str) -> str:
    change(consult, drip, 2, status="stopped", reason=f"{SWELLING}; pale and cold")
    return drip


def _read(piece: Any) -> str:
    return piece if isinstance(piece, str) else lost_lines.clock(piece["clock"])


def access(consult: Consult) -> str:
    return next(each["value"] for each in facts(consult.card) if each["name"] == "Access")


@pytest.mark.parametrize(
    ("status", "reason", "off"),
    [
        ("stopped", SWELLING, [OFF]),
        ("stopped", f"{SWELLING}; pale and cold", [OFF]),
        ("finished", SWELLING, [OFF]),
        ("held", SWELLING, [OFF]),
        ("stopped", LOST, [OFF.replace("swelling at its line", "its line is lost")]),
        ("stopped", "Fast or irregular pulse", []),
        ("stopped", None, []),
    ],
)
def test_what_is_off_for_want_of_a_line(status: str, reason: str | None, off: list[str], consult: Consult, drip: str):
    change(consult, drip, 2, status=status, **({"reason": reason} if reason else {}))

    assert lost_lines.words(consult.card) == off
    assert access(consult) == ("18 G left arm LOST 12:02" if off else "18 G left arm")


def test_once_it_ran_by_another_line_nothing_is_off_but_the_line_stays_lost(consult: Consult, swollen: str):
    line(consult, "right arm", 3)
    again = start(consult, 4)
    assert lost_lines.words(consult.card) == []
    assert access(consult) == "18 G left arm LOST 12:02, 18 G right arm"

    change(consult, again, 9, status="stopped", reason="Pressure at goal")
    assert lost_lines.words(consult.card) == []


def test_what_was_held_and_runs_again_is_off_no_more(consult: Consult, drip: str):
    change(consult, drip, 2, status="held", reason=SWELLING)
    change(consult, drip, 5, status="running")

    assert (lost_lines.words(consult.card), access(consult)) == ([], "18 G left arm LOST 12:02")


def test_of_several_lines_nobody_knows_which_and_that_is_said(consult: Consult, drip: str):
    line(consult, "right arm")
    change(consult, drip, 2, status="stopped", reason=SWELLING)

    assert access(consult) == "18 G left arm, 18 G right arm; one lost 12:02"


def test_a_line_of_another_kind_or_a_later_one_is_not_the_lost_one(consult: Consult, drip: str):
    line(consult, "tibia", way="io_access")
    change(consult, drip, 2, status="stopped", reason=SWELLING)
    line(consult, "right arm", 3)

    assert access(consult).startswith("18 G left arm LOST 12:02, IO 18 G tibia, 18 G right arm")


def test_at_the_change_of_shift_it_is_what_the_case_waits_for(consult: Consult, swollen: str):
    assert waits_for(consult.card, later(minutes=2))[0] == OFF


def test_the_handover_says_both(consult: Consult, swollen: str):
    off, way_in = ["".join(map(_read, each)) for each in running(consult.card)[-2:]]

    assert (off, way_in) == (OFF, "Access: 18 G left arm LOST 12:02")


class TestTheCrew:
    @pytest.fixture
    def home(self, consult: Consult, signed_in: Sign) -> Any:
        return lambda: read(signed_in("osk").get(f"/crew/{consult.uid}/").text)

    def test_is_led_to_another_line_to_the_rate_as_it_ran_and_to_the_antidote(self, home: Any, swollen: str):
        part = home().one(**{"data-part": "off"})
        links = {link.text: link.attributes["href"] for link in part.every("a")}

        assert OFF in part.text.replace(" ,", ",")
        assert list(links) == [
            "Record another line",
            "Run it there: norepinephrine infusion",
            "Ask for phentolamine for extravasation",
        ]
        asked = urlsplit(links["Run it there: norepinephrine infusion"])
        assert asked.path.endswith(f"/give/{DRIP}/")
        assert parse_qs(asked.query) == {"amount": ["0.1 mcg/kg/min"], "strength": ["16 mcg/mL"]}
        assert links["Ask for phentolamine for extravasation"].endswith("?treatment=phentolamine")
        assert "leave the catheter in until then" in part.text

    def test_what_is_held_runs_again_on_its_own_page(self, consult: Consult, home: Any, drip: str):
        change(consult, drip, 2, status="held", reason=SWELLING)
        link = home().one(**{"data-part": "off"}).every("a")[1]

        assert link.text == "Runs again there: norepinephrine infusion"
        assert link.attributes["href"] == f"/crew/{consult.uid}/change/{drip}/?rate=running"

    def test_is_not_asked_twice_for_the_antidote(self, consult: Consult, home: Any, swollen: str):
        wanted = {
            "treatment": "phentolamine",
            "amount": {"value": 5, "unit": "mg"},
            "route": "SC",
            "reason": "swelling",
        }
        orders.request_order(consult.cast.osk, consult.uid, {"id": uuid4(), "at": NOON, **wanted}, NOON)

        assert "Ask for phentolamine" not in home().one(**{"data-part": "off"}).text

    def test_a_line_that_was_pulled_out_has_none(self, consult: Consult, home: Any, drip: str):
        change(consult, drip, 2, status="stopped", reason=LOST)

        assert "phentolamine" not in home().one(**{"data-part": "off"}).text

    def test_is_asked_of_what_else_runs_by_that_route_whether_it_was_on_that_line(
        self, consult: Consult, home: Any, drip: str
    ):
        bolus = consult.give("crystalloid-bolus", 500, "mL", status="running", over_min=15)
        change(consult, drip, 2, status="held", reason=SWELLING)
        part = home().one(**{"data-part": "off"})

        assert "Recorded as running IV, too: crystalloid bolus 500 mL" in part.text
        assert part.one("a").attributes["href"] == f"/crew/{consult.uid}/change/{bolus.resource.id}/"

    def test_is_offered_no_push_again_by_a_line_that_is_lost_until_another_is_there(
        self, consult: Consult, home: Any, drip: str
    ):
        consult.give("epinephrine-push-dose", 10, "mcg")
        assert home().one(id="again")
        change(consult, drip, 2, status="held", reason=SWELLING)
        assert not home().every(id="again")

        line(consult, "tibia", 3, way="io_access")
        assert not home().every(id="again")
        line(consult, "right arm", 4)
        assert home().one(id="again")

    def test_chooses_anew_by_which_route_a_bolus_goes_on(self, consult: Consult, home: Any, drip: str):
        bolus = consult.give("crystalloid-bolus", 500, "mL", status="running", over_min=15)
        infused = {"value": 100, "unit": "mL"}
        change(consult, str(bolus.resource.id), 2, status="stopped", reason=LOST, infused=infused)

        assert "route" not in parse_qs(urlsplit(home().one(id="go-on").attributes["href"]).query)


@pytest.mark.parametrize("path", ["/board/", "/cases/{case}/"])
def test_the_physician_sees_it_and_on_the_case_page_what_the_rules_have_against_it(
    path: str, consult: Consult, swollen: str, signed_in: Sign
):
    page = read(signed_in("merrin").get(path.format(case=consult.uid)).text)

    assert OFF in page.text.replace(" ,", ",")
    assert ("In the rules against it, by order: phentolamine for extravasation" in page.text) == ("cases" in path)


def test_of_what_was_stopped_and_runs_anew_one_reading_is_asked_for(consult: Consult, swollen: str):
    line(consult, "right arm", 2)
    start(consult, 2.5)
    (asked,) = due(consult.card)
    assert asked["due_at"] == min(each["due_at"] for each in consult.card["reassessments"])
    assert len(consult.card["reassessments"]) == 2
