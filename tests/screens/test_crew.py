"""The crew's pages: who may open them, what stands on every one, and that nothing is chosen for the crew."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from consult import clock
from consult.actions import cases, notes, orders
from consult.models import AccessRecord
from tests.conftest import NOON, Consult, child, earlier, later, open_consult
from tests.consult.test_arrest import phase
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db

CASE_PAGES = [
    "",
    "vitals/",
    "give/",
    "give/epinephrine-push-dose/",
    "give/norepinephrine-infusion/",
    "give/crystalloid-bolus/",
    "give/other/",
    "orders/",
    "orders/request/",
    "orders/request/?treatment=epinephrine-push-dose",
    "note/",
    "coverage/",
    "procedure/",
    "patient/",
    "correction/",
    "handover/",
]


@pytest.fixture
def kestrel(signed_in: Sign) -> Any:
    """Opens an address as Kestrel 2's crew and reads the page."""
    client = signed_in("osk")

    def get(path: str) -> Element:
        answer = client.get(path)
        assert answer.status_code == 200, path
        return read(answer.text)

    return get


@pytest.mark.parametrize(
    ("now_in", "given", "offered"),
    [
        ("transport", "epinephrine-push-dose", True),
        ("arrest", "epinephrine-push-dose", False),
        ("arrest", "epinephrine-arrest", False),
        ("pulse_back", "epinephrine-arrest", False),
        ("pulse_back", "epinephrine-push-dose", True),
        ("ended", "epinephrine-arrest", False),
    ],
)
def test_once_more_is_offered_only_what_is_for_the_phase(kestrel, consult: Consult, now_in, given, offered) -> None:
    """A dose of an arrest is for nobody with a pulse; in an arrest the keys of its own page stand for it."""
    at = clock.now()
    amount = (1, "mg") if given == "epinephrine-arrest" else (10, "mcg")
    consult.give(given, *amount, at=at - timedelta(minutes=2))
    if now_in != "transport":
        phase(consult, now_in, at - timedelta(minutes=1))
    assert ("Again: " in kestrel(f"/crew/{consult.uid}/").text) is offered


def ordered(consult: Consult, value: float = 30, **more: Any) -> str:
    """A request that Dr. Merrin has approved."""
    asked = consult.ask(value, **more).resource.id
    orders.decide(consult.cast.merrin, asked, {"id": uuid4(), "decision": "approve", "reason": "agreed"}, NOON)
    return str(asked)


OPENS_TO = {"osk": 200, "lund": 404, "tarn": 404, "merrin": 403, "averill": 403}


@pytest.mark.parametrize("path", CASE_PAGES)
def test_a_case_opens_to_its_own_unit_only(path: str, consult: Consult, signed_in: Sign):
    answers = {who: signed_in(who).get(f"/crew/{consult.uid}/{path}") for who in OPENS_TO}

    assert {who: answer.status_code for who, answer in answers.items()} == OPENS_TO
    assert [who for who, answer in answers.items() if "58 y" in answer.text] == ["osk"]


@pytest.mark.parametrize("path", ["/crew/", "/crew/open/", *(f"/crew/{{case}}/{page}" for page in CASE_PAGES)])
def test_every_page_carries_the_caution(path: str, consult: Consult, kestrel: Any):
    page = kestrel(path.format(case=consult.uid))

    foot = page.one("foot").text
    assert "local protocol and the licensed clinician decide" in foot
    assert "Demonstration rules" in foot
    assert "not approved" in foot


@pytest.mark.parametrize("path", CASE_PAGES)
def test_every_page_of_a_case_names_unit_patient_and_weight(path: str, consult: Consult, kestrel: Any):
    """The button that sends a new weight names the old one no more."""
    weight = "" if path == "patient/" else ", 80 kg measured"
    page = kestrel(f"/crew/{consult.uid}/{path}")

    assert page.one("patient").text == "Kestrel 2 58 y male, 80 kg measured"
    for button in page.every("big"):
        if "Back to" not in button.text:
            assert f"Kestrel 2, 58 y male{weight}" in button.text


@pytest.mark.parametrize("path", ["/crew/open/", *(f"/crew/{{case}}/{page}" for page in CASE_PAGES)])
def test_nothing_but_the_time_the_cuff_and_what_is_on_record_is_chosen_beforehand(
    path: str, consult: Consult, kestrel: Any
):
    page = kestrel(path.format(case=consult.uid))

    chosen = [each.attributes.get("name") for each in page.every("input") if "checked" in each.attributes]
    typed = [each for each in page.every("input") if each.attributes.get("type") is None]
    on_record = (
        {"patient.sex", "pregnant", "patient.bleeding_cause", "patient.care_limits"}
        if path.endswith("patient/")
        else set()
    )
    assert set(chosen) - on_record <= {"ago", "prior_by", "bp_method"}  # now, by this crew, by cuff
    assert not [each for each in typed if each.attributes.get("value")]
    assert [option.text for option in page.every("option") if "selected" in option.attributes] == []
    assert {select.every("option")[0].text for select in page.every("select")} <= {"nobody"}  # ordered it by voice


@pytest.mark.parametrize("path", ["/crew/", *(f"/crew/{{case}}/{page}" for page in CASE_PAGES)])
def test_pages_hold_no_inline_script_or_style(path: str, consult: Consult, signed_in: Sign):
    html = signed_in("osk").get(path.format(case=consult.uid)).text

    assert not re.search(r"<[^>]+\sstyle=|<style|\son[a-z]+=", html)
    scripts = re.findall(r"<script[^>]*>", html)
    assert all('src="/static/' in script or 'type="application/json"' in script for script in scripts)


def test_the_list_shows_the_units_own_open_cases(consult: Consult, signed_in: Sign, kestrel: Any):
    open_consult(consult.cast, child(5, 18))
    ended = open_consult(consult.cast, child(9, 30))
    cases.close(consult.cast.osk, ended.uid, {"id": uuid4(), "outcome": "cancelled"}, NOON)

    rows = [row.text for row in kestrel("/crew/").every("row")]

    assert len(rows) == 2
    assert any("58 y male A, 80 kg measured" in row for row in rows)
    assert any("5 y male B, 18 kg measured" in row for row in rows)
    assert not read(signed_in("lund").get("/crew/").text).every("row")


def test_a_pressure_in_the_list_says_how_old_it_is(consult: Consult, kestrel: Any):
    assert [row.text for row in kestrel("/crew/").every("row") if "No pressure yet" in row.text]
    consult.vitals(sbp=74, dbp=44, bp_method="cuff")

    (row,) = kestrel("/crew/").every("row")

    assert "MAP 54, goal 65" in row.text
    assert row.one("age").attributes["data-age"] == "2030-01-05T12:00:00Z"


def test_the_page_asks_whose_session_it_is(consult: Consult, signed_in: Sign, client: Any):
    told = signed_in("osk").get("/crew/who/").json(), client.get("/crew/who/").json()
    assert [each["membership"] for each in told] == [str(consult.cast.osk.membership), None]
    assert all(abs(clock.when(each["server_time"]) - clock.now()) < timedelta(seconds=10) for each in told)


def test_a_look_at_the_case_is_on_record_once_though_the_open_page_renews_itself(consult: Consult, signed_in: Sign):
    client = signed_in("osk")

    client.get(f"/crew/{consult.uid}/")
    client.get(f"/crew/{consult.uid}/", headers={"X-Parts": "1"})

    assert AccessRecord.objects.filter(by_id=consult.cast.osk.membership).count() == 1


class TestCasePage:
    def test_it_leads_with_the_pressure_that_judges(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=74, dbp=44, bp_method="cuff", hr=128)

        html = signed_in("osk").get(f"/crew/{consult.uid}/").text

        assert '<p class="now-value num">54</p>' in html
        # 2030 is ahead of the test's own clock, so the reading is not old.
        assert re.search(r'data-state="critical"[^>]*>Critical<', html)

    def test_signs_are_told_in_words_each_older_one_with_its_time(self, consult: Consult, kestrel: Any):
        consult.vitals(cap_refill_s=5, avpu="V")
        consult.vitals(sbp=74, dbp=44, hr=128, cap_refill_s=4, at=later(minutes=1), now=later(minutes=1))

        signs = kestrel(f"/crew/{consult.uid}/").one(data_part="signs").every("dd")[-1]

        assert signs.text == "cap refill 4 s · responds to voice only · shock index 1.73 · heart rate 128"
        assert signs.one("time").attributes["data-age"] == "2030-01-05T12:00:00Z"

    def test_a_systolic_that_judges_is_the_large_number(self, consult: Consult, kestrel: Any):
        consult.vitals(sbp=82, dbp=58, bp_method="cuff")

        now = kestrel(f"/crew/{consult.uid}/").one("now").text

        assert now.startswith("82 SBP")
        assert "MAP 66" in now

    def test_a_palpated_pressure_shows_unknown_never_a_number(self, consult: Consult, kestrel: Any):
        consult.vitals(sbp=92, bp_method="palpated")

        now = kestrel(f"/crew/{consult.uid}/").one("now").text

        assert "Unknown" in now
        assert "MAP unknown" in now

    @pytest.mark.parametrize(
        ("minutes", "word", "state"),
        [(0, "Critical", "critical"), (4, "Critical", "critical"), (6, "Last: critical", "old")],
    )
    def test_an_old_pressure_is_told_as_old_never_as_the_state_now(
        self, minutes: int, word: str, state: str, consult: Consult
    ):
        from consult.screens.crew_case import last_pressure

        consult.vitals(sbp=74, dbp=44, bp_method="cuff")

        told = last_pressure(consult.card, later(minutes=minutes))

        assert (told["word"], told["state"], told["lead"]) == (word, state, "54")

    def test_what_was_given_and_its_reassessment_stand_there(self, consult: Consult, kestrel: Any):
        consult.give("epinephrine-push-dose", 10, "mcg")

        page = kestrel(f"/crew/{consult.uid}/")

        assert "EPINEPHrine push dose 10 mcg IV" in page.text
        assert page.one("due").text.startswith("Reassess: pressure after EPINEPHrine push dose")
        assert "Also look at heart rate" in page.one("due").text
        assert page.one("due-time").attributes["data-due"] == "2030-01-05T12:02:00Z"

    def test_a_reading_that_another_pressor_overtook_is_due_now(
        self, consult: Consult, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ):
        """A second push before the reading: late at once (contract, "Interventions"), so nothing counts down to it."""
        consult.give("epinephrine-push-dose", 10, "mcg")
        consult.give("epinephrine-push-dose", 10, "mcg", at=later(minutes=1), now=later(minutes=1))
        monkeypatch.setattr("consult.screens.crew.clock.now", lambda: later(minutes=1))

        first, second = kestrel(f"/crew/{consult.uid}/").every("due-time")
        assert (first.text, "data-due" in first.attributes) == ("now", False)
        assert second.attributes["data-due"] == "2030-01-05T12:03:00Z"

    def test_what_runs_can_be_changed_or_ended(self, consult: Consult, kestrel: Any):
        dose = consult.give("crystalloid-bolus", 500, "mL", status="running", over_min=15).resource.id

        page = kestrel(f"/crew/{consult.uid}/change/{dose}/")

        assert "crystalloid bolus 500 mL" in page.text
        assert {each.attributes["value"] for each in page.every("input", name="status")} == {"finished", "stopped"}


class TestPreviewLimits:
    """Adult: MAP 65, systolic 90 (sepsis and field guidelines). Child: systolic 70 + 2 x age (life-support table), MAP

    1.5 x age + 40 (Haque & Zaritsky 2007), critical under the two-point band of the Phoenix criteria: 31 and 36 mmHg.
    """

    @pytest.mark.parametrize(
        ("patient", "limits"),
        [
            pytest.param({}, (True, 65, 60, 90, 70), id="adult"),
            pytest.param(child(5, 18), (False, 47.5, 36, 80, 68), id="five years"),
            pytest.param(child(1, 10), (False, 41.5, 31, 72, 61.2), id="one year"),
        ],
    )
    def test_goal_and_critical_limits_come_with_the_page(
        self, patient: dict[str, Any], limits: tuple[Any, ...], consult: Consult
    ):
        from consult.screens.crew_case import preview_limits

        case = open_consult(consult.cast, patient) if patient else consult

        told = preview_limits(case.row)

        assert told["adult"] is limits[0]
        assert (told["map"]["floor"], told["map"]["critical"]) == pytest.approx(limits[1:3])
        assert (told["sbp"]["floor"], told["sbp"]["critical"]) == pytest.approx(limits[3:5])
        assert told["usual"] == ([80, 100] if limits[0] else None)

    def test_a_physicians_goal_replaces_the_rule_sets(self, consult: Consult):
        from consult.screens.crew_case import preview_limits

        goal = {"id": uuid4(), "measure": "map", "floor": 80, "reason": "head injury"}
        cases.set_goal(consult.cast.merrin, consult.uid, goal, NOON)

        assert preview_limits(consult.row)["map"] == {"floor": 80, "critical": 60}


class TestCorrection:
    def test_it_offers_the_crews_own_entries_newest_first(self, consult: Consult, kestrel: Any):
        long = {"id": uuid4(), "text": " ".join(["swollen"] * 20), "at": earlier(minutes=6)}
        notes.add_note(consult.cast.osk, consult.uid, long, earlier(minutes=6))
        consult.vitals(sbp=74, dbp=44, hr=128, at=earlier(minutes=5), now=earlier(minutes=5))
        consult.give("epinephrine-push-dose", 10, "mcg")
        notes.add_note(consult.cast.merrin, consult.uid, {"id": uuid4(), "text": "by the physician", "at": NOON}, NOON)

        picks = [pick.text for pick in kestrel(f"/crew/{consult.uid}/correction/").every("pick")]

        assert picks[0].startswith("EPINEPHrine push dose 10 mcg IV")
        assert picks[1].startswith("74/44 mmHg, HR 128 /min")
        assert picks[2].startswith(f"Note: {long['text'][:95]} …")  # cut between words
        assert not any("by the physician" in pick for pick in picks)

    def test_what_is_marked_already_is_not_offered_again(self, consult: Consult, kestrel: Any):
        from consult.actions import corrections

        wrong = consult.vitals(sbp=174, dbp=44).resource.id
        target = {"kind": "vitals", "id": wrong}
        corrections.correct(
            consult.cast.osk, consult.uid, {"id": uuid4(), "target": target, "reason": "Wrong number"}, NOON
        )

        assert not kestrel(f"/crew/{consult.uid}/correction/").every("input", name="target")


def test_a_read_back_needs_its_order_to_be_in_this_case(consult: Consult, signed_in: Sign):
    other = open_consult(consult.cast, child(5, 18))
    order = ordered(consult)

    assert signed_in("osk").get(f"/crew/{other.uid}/orders/{order}/readback/").status_code == 404
