"""The case page of real cases: what happened, in words and in order, and limits that are not advice."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID, uuid4

import pytest

from consult.actions import cases, notes, orders, read_back
from tests.conftest import ADULT, NOON, Consult, earlier, later, open_consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(consult: Consult, signed_in: Sign):
    def get(who: str = "merrin", window: str = "40") -> Element:
        return read(signed_in(who).get(f"/cases/{consult.uid}/?range={window}").text)

    return get


def timeline(page: Element) -> list[str]:
    return [line.one("p").text for line in page.one(data_part="timeline").every("li")]


def test_patient_and_case_stand_in_the_head(page):
    shown = page()
    head = shown.one("patient")

    assert head.one("h1").text == "Kestrel 2"
    assert "58 y male, 80 kg measured" in head.text
    assert "Septic , weak, pale" in shown.one("patient-more").text
    assert "No allergies recorded" in head.text


def test_the_timeline_tells_everything_newest_first_by_when_it_happened(consult: Consult, page):
    consult.vitals(at=earlier(minutes=6), now=NOON, sbp=96, dbp=44, hr=128)
    consult.give("epinephrine-push-dose", 10, "mcg", at=earlier(minutes=4), now=NOON)
    consult.vitals(at=earlier(minutes=1), now=NOON, sbp=110, dbp=60)

    told = [line for line in timeline(page()) if line.startswith(("Pressure", "Given", "Case"))]

    assert told[0].startswith("Pressure: 110/60 mmHg, MAP 77")
    assert told[1].startswith("Given: EPINEPHrine push dose 10 mcg IV")
    assert told[2].startswith("Pressure: 96/44 mmHg, MAP 61, HR 128 /min")
    assert told[-1].startswith("Case opened")


def test_a_long_set_of_vitals_leads_with_pressure_and_signs_and_keeps_the_rest_behind_one_line(consult: Consult, page):
    more = {"temp_c": 38.9, "glucose_mg_dl": 110, "lactate_mmol_l": 3.1, "etco2": 30, "rr": 24}
    consult.vitals(sbp=96, dbp=44, hr=128, spo2=94, lungs="clear", avpu="V", cap_refill_s=4, **more)

    line = next(each for each in page().one("timeline").every("li") if each.text.count("96/44"))

    assert line.one("small").text == "Lungs clear, Cap refill 4 s, Alertness responds to voice"
    assert line.one("summary").text == "and 5 more"
    assert "Lactate 3.1 mmol/L" in line.one("details").text


def test_a_rhythm_alone_and_compressions_are_told_by_what_they_are(consult: Consult, page):
    consult.vitals(rhythm="PEA")
    for name in ("cpr", "cpr_pause"):
        made = {"id": uuid4(), "procedure": name, "at": NOON, "outcome": "done"}
        notes.add_procedure(consult.cast.osk, consult.uid, made, NOON)

    told = timeline(page())
    for line in ("Vitals: Rhythm PEA", "Compressions on", "Compressions paused"):
        assert [each for each in told if each.startswith(line)], line
    assert not [each for each in told if each.startswith("Compressions") and "done" in each]


def test_what_came_late_is_marked_with_when_it_arrived(consult: Consult, page, at_noon):
    consult.vitals(at=earlier(minutes=2), now=NOON, sbp=110, dbp=60)
    consult.vitals(at=earlier(minutes=9), now=NOON, sbp=90, dbp=50)

    late = [line for line in timeline(page()) if line.startswith("Pressure: 90/50")]

    assert "late, arrived 12:00:00" in late[0]


def test_an_entry_made_in_error_stays_struck_through_with_its_reason(consult: Consult, page):
    from consult.actions import corrections

    wrong = consult.vitals(sbp=186, dbp=50).resource.id
    data = {"id": uuid4(), "target": {"kind": "vitals", "id": wrong}, "reason": "mistyped"}
    corrections.correct(consult.cast.osk, consult.uid, data, later(minutes=1))

    struck = page().one("entered-in-error")

    assert struck.text.startswith("Pressure: 186/50 mmHg")
    lines = timeline(page())
    assert any("entered in error mistyped" in line for line in lines)
    assert any(line.startswith("Entered in error: Pressure 186/50 mmHg, MAP 95 · mistyped") for line in lines)


def test_a_request_is_decided_in_the_panel_and_told_in_the_timeline(consult: Consult, page):
    from consult.actions import orders

    order = consult.ask(30).resource.id
    assert page().one("ask").attributes["data-order"] == order

    orders.decide(consult.cast.merrin, order, {"id": uuid4(), "decision": "approve"}, later(seconds=30))

    assert page().one("ask").attributes["data-step"] == "approved"
    assert any(line.startswith("Approved: EPINEPHrine push dose 30 mcg IV") for line in timeline(page()))


def test_limits_are_told_as_limits_with_their_findings_and_never_as_advice(consult: Consult, page):
    consult.vitals(sbp=96, dbp=44)

    panel = page().one(data_part="limits")

    assert panel.one("h2").text == "Standing limits, not advice"
    assert "crystalloid bolus" in panel.text
    assert not any(word in panel.text.lower() for word in ("recommend", "suggest", "should give"))


DRIP = {"treatment": "norepinephrine-infusion", "route": "IV"}
RATE = {"value": 0.1, "unit": "mcg/kg/min"}
STRENGTH = {"concentration": {"value": 16, "unit": "mcg/mL"}}


@pytest.mark.parametrize(
    ("by_order", "limit"),
    [(True, "Runs at 0.1 mcg/kg/min, as ordered"), (False, "Runs at 0.1 mcg/kg/min, outside limits")],
    ids=["by an order that was read back", "without one"],
)
def test_what_runs_says_among_the_limits_and_where_it_is_changed_whether_it_does_by_order(
    by_order: bool, limit: str, consult: Consult, page
):
    consult.vitals(sbp=80, dbp=40)
    order = consult.ask(by=consult.cast.merrin, action="start", **DRIP, amount=RATE, **STRENGTH).resource.id
    said = {"id": uuid4(), **DRIP, "action": "start", "amount": RATE}
    read_back.read_back(consult.cast.osk, UUID(order), said, NOON)
    named = {"order": UUID(order)} if by_order else {}
    consult.give(DRIP["treatment"], 0.1, "mcg/kg/min", status="running", **STRENGTH, **named)

    shown = page()

    (row,) = [each for each in shown.one(data_part="limits").every("limit") if "norepinephrine infusion" in each.text]
    assert limit in [line.text for line in row.every("limit-notes")]
    assert shown.one("runs").one("ask-how").text.endswith(", as ordered") == by_order


def test_doses_are_listed_with_map_before_and_after_and_who_gave_them(consult: Consult, page):
    consult.vitals(at=earlier(minutes=6), now=NOON, sbp=80, dbp=46)
    consult.give("epinephrine-push-dose", 10, "mcg", at=earlier(minutes=4), now=NOON)
    consult.vitals(at=earlier(minutes=2), now=NOON, sbp=92, dbp=54)

    row = page().one(data_part="given").one("tbody").one("tr")

    assert "EPINEPHrine push dose 10 mcg IV" in row.text
    assert "57 → 67 pulse pressure 34 → 38 +10" in row.text
    assert "J. Osk" in row.text


def test_the_table_beside_the_chart_holds_the_values(consult: Consult, page):
    consult.vitals(sbp=96, dbp=44, hr=128)

    table = page().one("chart-table")
    names, cells = ([cell.text for cell in table.every(kind)] for kind in ("th", "td"))

    assert dict(zip(names, cells, strict=True)) == dict.fromkeys(names, "") | {
        "Taken at": "12:00:00", "Sys/dia mmHg": "96/44", "MAP mmHg": "61", "HR /min": "128",
    }  # fmt: skip


@pytest.mark.parametrize(("window", "pressed"), [("15", "15 min"), ("all", "All"), ("nonsense", "40 min")])
def test_the_range_of_the_chart_can_be_chosen(page, window: str, pressed: str):
    assert page(window=window).one("button", aria_pressed="true", type="button").text == pressed


def test_the_forms_choose_nothing_beforehand(page):
    tools = page().one("tools")

    assert [option.text for select in tools.every("select") for option in select.every("option")[:1]] == [""] * len(
        tools.every("select")
    )
    assert tools.every("option", selected="") == []


def test_the_crew_sees_its_case_without_the_other_cases(consult: Consult, page):
    assert page("osk").one(id="others").text == ""


def test_other_cases_that_need_a_person_stand_in_the_strip_the_worst_first(consult: Consult, page, cast):
    below = open_consult(cast, {**ADULT, "label": "B"})
    for before in (6, 0):  # below goal twice, never critical
        below.vitals(at=earlier(minutes=before), now=NOON, sbp=84, dbp=48)
    assert page().one(id="others").text.startswith("Kestrel 2 B MAP below goal")

    open_consult(cast, {**ADULT, "label": "C"}).vitals(sbp=60, dbp=30)
    assert page().one(id="others").text.startswith("2 other patients need you: Kestrel 2 C MAP critical")


def test_the_board_and_the_other_cases_count_the_same(consult: Consult, page, cast, signed_in: Sign):
    """One with an alert, one with a request, one whose request waits for its crew's answer, one that asks nothing."""
    low, asking, asked_back = (open_consult(cast, {**ADULT, "label": label}) for label in "BCD")
    low.vitals(sbp=60, dbp=30)
    asking.ask(10)
    orders.decide(
        cast.merrin, UUID(asked_back.ask(10).resource.id), {"id": uuid4(), "decision": "ask", "text": "EKG?"}, NOON
    )

    cards = read(signed_in("merrin").get("/board/").text).every("article")
    marked = {each.attributes["aria-label"] for each in cards if "data-needs" in each.attributes}
    assert marked == {"Kestrel 2 B", "Kestrel 2 C"}
    others = page().one(id="others")
    assert others.text.startswith("2 other patients need you: ")
    assert {each.one("b").text for each in others.every("a")} == marked


def set_goal(consult: Consult, floor: int, at: datetime) -> None:
    told = {"id": uuid4(), "measure": "map", "floor": floor, "reason": "as agreed"}
    cases.set_goal(consult.cast.merrin, consult.uid, told, at)


class TestTheCourseBelowTheGoal:
    def test_it_is_told_as_a_measure(self, consult: Consult, page, at_noon):
        """MAP 55 under 65 for 4 min: 40 mmHg min; then 15 min between readings are not measured."""
        for minutes in (24, 20, 5, 4):
            consult.vitals(at=earlier(minutes=minutes), now=NOON, map_reported=55 if minutes > 10 else 75)

        line = page().one("below-goal").text
        assert "below goal 4 min of 5 min" in line
        assert "by 10 mmHg on average, since 11:36, counted until 11:56; not measured 15 min" in line
        assert "not a prognosis" in line

    def test_each_minute_is_held_against_the_goal_in_force_then(self, consult: Consult, page, at_noon):
        """MAP 70 for 20 min, five apart: at its goal of 65 until 11:50, then for 10 min under one of 80."""
        for minutes in (20, 15, 10, 5, 0):
            consult.vitals(at=earlier(minutes=minutes), now=NOON, map_reported=70)
        set_goal(consult, 65, earlier(minutes=18))
        set_goal(consult, 80, earlier(minutes=10))

        line = page().one("below-goal").text
        assert "below goal 10 min of 20 min , by 10 mmHg on average" in line.replace(" min,", " min ,")
        assert "against the goal in force: 65, then 80" in line

    def test_nothing_is_said_of_a_pressure_that_never_was(self, consult: Consult, page):
        for minutes in (4, 2):
            consult.vitals(at=earlier(minutes=minutes), now=NOON, map_reported=75)

        assert not page().every("below-goal")


def test_the_last_pushes_are_told_as_a_rate_and_when_they_wear_off(consult: Consult, page, monkeypatch):
    consult.vitals(at=earlier(minutes=6), now=NOON, sbp=80, dbp=40)
    for minutes in (5, 3, 1):
        consult.give("epinephrine-push-dose", 10, "mcg", at=earlier(minutes=minutes), now=NOON)
    monkeypatch.setattr("consult.screens.case.clock.now", lambda: NOON)

    limits = page().one(data_part="limits").text
    assert "Last push 11:59 wears off 12:04 to 12:09" in limits
    assert "20 mcg pushed in the 4 min before the last push came to 0.0625 mcg/kg/min = 5 mcg/min" in limits
    assert "Information, not advice" in limits
