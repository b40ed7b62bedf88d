"""What a card must show in whatever state: identity, units, ages, no invented number, no code from users."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from consult import zone
from consult.chart.course import moment
from consult.render import card_html
from consult.render.card import sort_key
from consult.screens import crew_case
from tests.screens import sample_board as board
from tests.screens import sample_states as states
from tests.screens.page_text import Element, read
from tests.screens.sample_cards import alert, an_id, dose, point, response

EVERY_CARD = [*board.board(), *states.states()]
IDS = [f"{number} {card['unit']['call_sign']}" for number, card in enumerate(EVERY_CARD)]
every_card = pytest.mark.parametrize("card", EVERY_CARD, ids=IDS)


def shown(card: dict[str, Any]) -> Element:
    with zone.telling_of(moment(card["opened_at"])):
        return read(card_html(card)).one("article")


# ---- who


@pytest.mark.parametrize(
    ("state", "physician", "offered"),
    [("open", None, 1), ("open", board.MERRIN, 0), ("handed_over", None, 0)],
    ids=["nobody has it", "accepted", "handed over"],
)
def test_a_case_that_nobody_has_accepted_can_be_accepted_also_while_an_order_waits(
    state: str, physician: dict[str, str] | None, offered: int
):
    card = shown({**board.kestrel(), "state": state, "physician": physician})

    buttons = [button.attributes["aria-label"] for button in card.every("accept")]
    assert buttons == ["Take control of Kestrel 2"] * offered
    assert card.every("ask-approve"), "the order waits beside it"


@every_card
def test_call_sign_and_person_stand_in_the_head_of_every_card(card: dict[str, Any]):
    head = shown(card).one("who")

    assert card["unit"]["call_sign"] in head.text
    assert "kg" in head.text or "weight unknown" in head.text
    assert " y" in head.text or "age unknown" in head.text


@every_card
def test_every_order_repeats_call_sign_person_and_label_and_names_them_on_the_button(card: dict[str, Any]):
    label = card["patient"]["label"] or ""
    for panel in shown(card).every(data_step="requested"):
        assert f"{card['unit']['call_sign']} {label}".strip() in panel.one("ask-for").text
        assert "kg" in panel.one("ask-for").text
        for button in panel.every("ask-approve"):
            whom = f"Approve for {card['unit']['call_sign']} {label}".strip()
            assert button.one("span").text == whom, "the dose is said once, above"
            told = (button.attributes["aria-label"] or "").removesuffix(", and take control")
            assert told == f"{whom}: {panel.one('ask-what').text}"


@pytest.mark.parametrize(
    ("basis", "guessed", "word"),
    [
        ("measured", False, "measured"),
        ("stated", False, "stated"),
        ("length", True, "by length"),
        ("age", True, "by age"),
    ],
)
def test_a_weight_says_how_it_is_known_and_a_guess_is_marked(basis: str, guessed: bool, word: str):
    card = board.kestrel()
    card["patient"]["weight"]["basis"] = basis

    person = shown(card).one("who-person")

    assert person.text.endswith(f"80 kg {word}")
    assert bool(person.every("guess")) is guessed


# ---- numbers


@every_card
def test_every_measurement_has_a_unit_and_an_age_or_says_that_it_was_not_taken(card: dict[str, Any]):
    for cell in shown(card).every("vital"):
        value = cell.one("vital-value")
        if value.text in ("not taken", "unobtainable"):
            continue
        assert value.one("unit").text in ("mmHg", "/min", "%"), value.text
        assert cell.one("time").attributes["data-age-short"]


@every_card
def test_the_large_number_has_a_name_a_unit_a_time_and_a_goal(card: dict[str, Any]):
    pressure = shown(card).one("pressure")
    if pressure.one("map-value").text[:1].isdigit():
        assert pressure.one("map-head").text.startswith(("MAP mmHg", "SBP mmHg"))
        assert pressure.one("time").attributes["data-age"]
        assert "goal" in pressure.one("map-beside").text


@pytest.mark.parametrize(
    ("make", "word", "state", "cuff"),
    [
        (states.lapwing, "unknown", "Unknown", "92/P mmHg"),
        (states.elk, "Unobtainable", "Critical", "unobtainable"),
        (states.vole, "not taken", "No pressure yet", "not taken"),
    ],
    ids=["palpated", "unobtainable", "none yet"],
)
def test_a_map_that_is_not_known_is_never_a_number(
    make: Callable[[], dict[str, Any]], word: str, state: str, cuff: str
):
    pressure = shown(make()).one("pressure")

    assert pressure.one("map-value").text == word
    assert not any(character.isdigit() for character in pressure.one("map-value").text)
    assert pressure.one("state-fresh").text == state
    assert shown(make()).every("vital")[0].one("vital-value").text == cuff
    assert pressure.every("gauge-float") == [] or state == "Critical"


def test_rounding_hides_no_threshold():
    assert shown(board.badger()).one("map-value").text.replace(" ", "") == "64.7"


def test_where_the_systolic_judges_it_is_the_large_number_and_the_map_stands_beside():
    pressure = shown(board.wren()).one("pressure")

    assert pressure.one("map-head").text.startswith("SBP mmHg")
    assert pressure.one("map-value").text == "76"
    assert "SBP goal 80" in pressure.one("map-beside").text
    assert "MAP 53" in pressure.one("map-beside").text


@pytest.mark.parametrize("letter", ["A", "B"])
def test_the_way_to_a_case_names_its_letter_for_a_screen_reader(letter: str):
    kestrel = board.kestrel()
    card = shown({**kestrel, "patient": {**kestrel["patient"], "label": letter}})

    assert card.one("who-call").one("a").attributes["aria-label"] == f"Kestrel 2 {letter}"


# ---- old numbers


@pytest.mark.parametrize(
    ("make", "taken", "stale"),
    [
        (states.stoat, "03:08:20", "03:13:20"),
        (board.marten, "03:13:20", "03:23:20"),
        (board.plover, "03:05:20", "03:05:20"),
    ],
    ids=["below goal: 5 min", "at goal: 10 min", "no contact: at once"],
)
def test_the_card_says_from_when_its_pressure_is_old(make: Callable[[], dict[str, Any]], taken: str, stale: str):
    card = shown(make())

    assert taken in (card.one("pressure").one("time").attributes["data-age"] or "")
    assert stale in (card.attributes["data-stale-at"] or "")


# ---- signs, doses, reassessments


def test_signs_that_nobody_recorded_are_not_assessed_rather_than_absent():
    assert shown(board.marten()).one("signs").text == "Signs not assessed"


def test_a_sign_not_measured_since_is_apart_from_those_that_stand():
    card = board.kestrel()
    card["vitals"]["derived"] |= {"signs": ["heart rate 128"], "signs_old": ["cap refill 5 s, 22 min before"]}
    signs = shown(card).one("signs")

    assert signs.one("signs-old").text == "not measured since: cap refill 5 s, 22 min before"
    assert signs.text == "Signs heart rate 128 not measured since: cap refill 5 s, 22 min before"


def test_without_a_sign_the_card_says_when_somebody_last_looked():
    card = board.kestrel()
    card["vitals"]["derived"] |= {"signs": []}

    assert shown(card).one("signs").one("age").attributes["data-age"] == card["vitals"]["avpu"]["taken_at"]
    assert shown(card).one("signs").text.startswith("Signs none recorded")


def test_doses_show_number_name_dose_and_map_before_and_after():
    line = shown(board.kestrel()).every("given")[-1]

    assert line.one("rx").text == "3"
    assert "EPINEPHrine push dose 10 mcg IV" in line.text
    assert "MAP 57 → 67 +10" in line.text


def test_overlapping_treatments_and_a_missing_response_are_said_so():
    assert "overlapping treatments" in shown(board.finch()).every("given")[-1].text
    assert "little change" in shown(board.kestrel()).every("given")[0].text


def test_what_was_entered_in_error_leaves_the_card_and_the_numbering():
    card = board.kestrel()
    card["doses"][0]["in_error"] = True

    assert [line.one("rx").text for line in shown(card).every("given")] == ["1", "2"]


def test_the_newest_doses_are_shown_and_the_others_counted():
    card = board.kestrel()
    card["doses"].append(dose("k4", 1, "epinephrine-push-dose", "EPINEPHrine push dose", "10 mcg"))
    card["responses"].append(response("k4", None, None))

    drawn = shown(card)

    assert [line.one("rx").text for line in drawn.every("given")] == ["3", "4"]
    assert drawn.one("earlier").text == "Given +2 earlier"


def test_a_reassessment_counts_down_to_its_due_time_and_after_lost_contact_is_unknown():
    assert shown(board.wren()).one("due-time").attributes["data-due"] == board.wren()["reassessments"][0]["due_at"]
    assert "unknown was due 03:10" in shown(board.plover()).one("due").text


@pytest.mark.parametrize(
    ("need", "words"),
    [("hr", "heart rate"), ("rr", "breathing rate"), ("spo2", "SpO2"), ("pressure_or_pulses", "pressure or pulses")],
)
def test_what_a_reassessment_needs_is_said_in_words(need: str, words: str):
    card = board.wren()
    card["reassessments"][0]["needs"] = [need]

    assert shown(card).one("due").one("line-what").text == words
    assert crew_case.dues(card, moment(card["opened_at"]))[0]["needs_text"] == words


# ---- alerts


def test_the_worst_alert_is_shown_with_sign_word_and_acknowledge_for_it():
    line = shown(board.kestrel()).one("alarm")

    assert line.one("alarm-text").text.startswith("High: MAP 54, critical raised")
    assert line.one("button").attributes["data-url"] == f"/api/v1/alerts/{an_id('ka')}/acknowledge/"
    assert len(line.every("circle")) == 3, "three marks for a high alarm"


def test_raised_comes_before_acknowledged_and_high_before_medium():
    card = board.finch()
    card["alerts"] += [
        alert("f2", "falling", "medium", "MAP falling", 2),
        alert("f3", "reassessment_overdue", "high", "Reassessment overdue", 1),
    ]

    lines = [line.one("alarm-text").text for line in shown(card).every("alarm")]

    assert [line.partition(" raised")[0].partition(" acknowledged")[0] for line in lines] == [
        "High: Reassessment overdue",
        "Medium: MAP falling",
        "Medium: Systolic 76, below goal 80",
    ]
    told = "Medium: MAP falling · Medium: Systolic 76, below goal 80, acknowledged"
    assert shown(card).one("alarm-more").one("summary").text == told


def test_no_high_alert_that_nobody_has_acknowledged_is_folded_away():
    """The demonstration's finch has a medium one that somebody acknowledged."""
    card = board.finch()
    card["alerts"] += [
        alert(name, "reassessment_overdue", "high", f"Reassessment {name} overdue", minutes)
        for name, minutes in (("f3", 1), ("f4", 2), ("f5", 3))
    ]
    drawn = shown(card)

    assert len(drawn.every("alarm", data_priority="high")) == 3
    assert drawn.one("alarm-more").every("alarm", data_priority="high") == []


def test_an_acknowledged_alert_stays_and_names_who_and_when():
    line = shown(board.finch()).one("alarm")

    assert "acknowledged 03:09 by Dr. Merrin" in line.text
    assert line.every("button") == []


def test_a_wrong_clock_of_a_sender_never_shows_on_the_board():
    card = {**board.marten(), "alerts": [alert("mc", "clock_offset", "low", "clock 3 min off", 1)]}

    assert shown(card).every("alarm") == []


# ---- orders


def test_a_request_shows_dose_volume_reason_and_every_finding():
    panel = shown(board.kestrel()).one("ask")

    assert panel.one("ask-what").text == "norepinephrine infusion 8 mcg/min IV"
    assert panel.one("ask-how").text == "= 30 mL/h of 16 mcg per mL"
    assert "2,000 mL in." in panel.one("ask-why").text
    assert [line.text for line in panel.every("finding")] == [
        "Needs your order: Infusions start by order.",
        "Caution: The weight is stated, not measured.",
    ]


def test_only_who_may_decide_gets_its_buttons():
    for button in shown(board.kestrel()).one("ask").every("button", type="button"):
        if button.attributes.get("data-act") != "close":
            assert button.attributes["data-for"] == "physician director"


def test_beyond_a_hard_limit_there_is_nothing_to_approve():
    panel = shown(states.over_limit()).one("ask")

    assert panel.every("ask-approve") == []
    assert panel.one("finding").text == "Over a hard limit: 100 mcg, hard limit 50 mcg"


def test_no_other_dose_unit_or_reason_is_preselected():
    form = shown(board.kestrel()).one("form", data_name="change")

    assert [field.attributes.get("value") for field in form.every("input", autocomplete="off")] == [None] * 3
    assert form.one("select", name="amount.unit").every("option")[0].text == ""
    assert form.every("option", selected="") == []


def test_asked_back_the_clock_stands_still_and_the_question_is_shown():
    panel = shown(states.pine()).one("ask")

    assert "timer paused" in panel.one("ask-head").text
    assert "Query sent" in panel.one("ask-head").text
    assert "Lungs since the first bolus?" in panel.text


def test_an_approved_order_shows_its_steps_until_it_is_read_back():
    panel = shown(board.badger()).one("ask")

    assert "Ordered by Dr. Merrin 03:13:48, not read back yet" in panel.one("ask-head").text
    assert [step.text for step in panel.every("li") if "data-done" in step.attributes] == ["requested", "ordered"]
    assert [step.text for step in panel.every("li", aria_current="step")] == ["awaiting read-back"]


def test_blood_names_its_product():
    card = board.finch()
    card["orders"][0]["product"] = "red_cells"

    assert shown(card).one("ask-what").text.endswith("(red cells)")


# ---- the rest


def test_text_of_users_is_never_code():
    html = card_html(states.two_patients())

    assert "<script>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
    assert "St &quot;Ann&quot; &lt;b&gt;" in html


@every_card
def test_a_card_carries_no_style_and_no_script(card: dict[str, Any]):
    html = card_html(card)

    assert " style=" not in html
    assert "<script" not in html
    assert "onclick" not in html


def test_cards_sort_by_need_and_then_by_what_is_due_soonest():
    ordered = sorted([*board.board(), states.snipe(), states.vole()], key=sort_key)

    assert [card["unit"]["call_sign"] for card in ordered] == [
        "Kestrel 2",  # high raised
        "Snipe 6",
        "Plover 8",  # medium raised
        "Badger 1",  # read-back waiting
        "Finch 6",  # request waiting
        "Wren 5",  # below goal
        "Marten 4",  # due soonest
        "Vole 9",
    ]


def test_a_trend_point_without_any_pressure_draws_nothing_wrong():
    card = {**board.marten(), "trend": [{**point(3, None, None, hr=90)}]}

    assert "no reading to draw" in (shown(card).one("trend").attributes["aria-label"] or "")
