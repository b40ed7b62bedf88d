"""Consults without a drug on the pages of both sides: asked, answered, told, seen, read aloud, replayed."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries
from consult.actions import cases, questions
from consult.models import Unit
from consult.render import questions as words
from consult.render.handover import handover
from consult.screens import crew_told
from tests.conftest import NOON, Cast, Consult, later, open_consult
from tests.consult.test_arrest import phase, shock
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db
REFUSAL = {"capacity": "unsure", "risks_told": True, "who_refuses": "patient", "witness": "A. Marl, daughter"}
ENDING = {"minutes": 32, "rhythm": "asystole", "criteria": ["no-shock", "not-seen-by-crew", "no-pulse-back"]}


def ask(consult: Consult, topic: str = "advice", **more: Any) -> UUID:
    uid = uuid4()
    content = {"id": uid, "at": NOON, "topic": topic, "text": "Cool her?", **more}
    questions.ask(consult.cast.osk, consult.uid, content, NOON)
    return uid


def tell(consult: Consult, now: datetime = NOON, **more: Any) -> UUID:
    uid = uuid4()
    questions.instruct(consult.cast.merrin, consult.uid, {"id": uid, "at": now, "text": "To 36.", **more}, now)
    return uid


def understand(consult: Consult, told: UUID) -> None:
    questions.understood(consult.cast.osk, told, {"id": uuid4(), "at": NOON}, NOON)


def desk(sign: Sign, consult: Consult) -> list[Any]:
    """Board and case page of a physician."""
    merrin = sign("merrin")
    return [read(merrin.get(path).text) for path in ("/board/", f"/cases/{consult.uid}/")]


def crew(sign: Sign, consult: Consult, path: str = "") -> Any:
    return read(sign("osk").get(f"/crew/{consult.uid}/{path}").text)


def test_a_question_stands_on_board_and_case_with_its_answer_field(consult: Consult, signed_in: Sign) -> None:
    asked = ask(consult)
    for page in desk(signed_in, consult):
        panel = page.one("section", data_question=str(asked))
        assert "Question: advice" in panel.text
        assert "“Cool her?”" in panel.text
        form = panel.one("form", data_name="answer")
        assert form.attributes["data-url"] == f"/api/v1/cases/{consult.uid}/instructions/"
        assert panel.one("input", name="question").attributes["value"] == str(asked)
        assert not panel.every("form", data_name="agree")


def test_a_refusal_shows_its_whole_form_and_wants_a_decision(consult: Consult, signed_in: Sign) -> None:
    ask(consult, "refusal", form=REFUSAL)
    for page in desk(signed_in, consult):
        stated = page.one("stated").text
        for text in (
            "Refuses patient",
            "Capacity to decide not sure",
            "Risks explained yes",
            "Witness A. Marl, daughter",
        ):
            assert text in stated
        decided = [page.one("form", data_name=name).one("input", name="decision") for name in ("agree", "not-agree")]
        assert [each.attributes["value"] for each in decided] == ["agreed", "not_agreed"]


def test_the_end_of_a_resuscitation_shows_each_criterion_and_counts_each_rule(
    consult: Consult, signed_in: Sign
) -> None:
    """The published basic rule asks for three criteria, the advanced one for two more (from memory)."""
    ask(consult, "end_resuscitation", form=ENDING)
    for page in desk(signed_in, consult):
        assert "Resuscitation so far 32 min" in page.one("stated").text
        lines = [each.text for each in page.one("criteria").every("li")]
        assert "met No shock was given unverified" in lines
        assert "not met No CPR by a bystander unverified" in lines
        text = page.one("section", data_step="requested").text
        assert "Basic life support rule: 3 of 3 met" in text
        assert "Advanced life support rule: 3 of 5 met" in text


def test_an_instruction_is_news_on_every_page_until_it_is_understood(consult: Consult, signed_in: Sign) -> None:
    told = tell(consult, question=ask(consult))
    for path in ("", "vitals/", "orders/", "ask/"):
        banner = crew(signed_in, consult, path).one("news-item")
        assert "ANSWER: To 36." in banner.text
        says = json.loads(banner.one("quiet-big").attributes["data-says"])
        assert (says["kind"], says["target"], says["case"]) == ("understood", str(told), str(consult.uid))
    understand(consult, told)
    page = crew(signed_in, consult)
    assert not page.every("news-item")
    assert "Done, or not possible?" in page.one("section", data_part="told").text
    assert "1 needs you" in page.one("nav", data_part="pages").text


@pytest.mark.parametrize(
    ("asked", "decision", "lead"),
    [
        (("refusal", REFUSAL), "agreed", "Refusal stands"),
        (("refusal", REFUSAL), "not_agreed", "Refusal does not stand"),
        (("end_resuscitation", ENDING), "agreed", "Resuscitation may end"),
        (("end_resuscitation", ENDING), "not_agreed", "Resuscitation goes on"),
    ],
)
def test_a_decision_is_told_apart_from_what_is_to_be_done(
    consult: Consult, signed_in: Sign, asked: tuple[str, dict[str, Any]], decision: str, lead: str
) -> None:
    """Words that say what to do are never read as what was not agreed to."""
    topic, form = asked
    uid = tell(consult, question=ask(consult, topic, form=form), text="Go on to hospital.", decision=decision)
    assert f"{lead.upper()}. Do this: Go on to hospital." in crew(signed_in, consult).one("news-item").text
    assert lead in crew(signed_in, consult).one("section", data_part="told").text
    assert lead in crew(signed_in, consult, f"instructions/{uid}/").one("h1").text
    for page in desk(signed_in, consult):
        assert lead in page.one("section", data_part=f"instruction-{uid}").one("ask-head").text


def test_beside_a_read_back_nothing_of_it_can_be_copied_or_passed_over(consult: Consult, signed_in: Sign) -> None:
    tell(consult)
    order = UUID(consult.ask(by=consult.cast.merrin).resource.id)
    banner = crew(signed_in, consult, f"orders/{order}/readback/").one("news-item")
    assert "INSTRUCTION: an instruction" in banner.text
    assert "To 36." not in banner.text
    assert not [each for each in banner.every("button") if "data-noted" in each.attributes]


def test_one_that_is_withdrawn_says_do_not_do_it(consult: Consult, signed_in: Sign) -> None:
    told = tell(consult)
    questions.withdraw_instruction(consult.cast.merrin, told, {"id": uuid4(), "reason": "arrived"}, NOON)
    assert "WITHDRAWN, do not do: To 36." in crew(signed_in, consult).one("news-item").text
    page = crew(signed_in, consult, f"instructions/{told}/")
    assert "Withdrawn by Dr. Merrin" in page.text
    assert "arrived" in page.text
    assert not page.every("form", data_kind="understood")


def test_its_page_goes_from_understood_to_done(consult: Consult, signed_in: Sign) -> None:
    told = tell(consult)
    assert crew(signed_in, consult, f"instructions/{told}/").one("form").attributes["data-kind"] == "understood"
    for page in desk(signed_in, consult):  # nobody says that the crew did not understand
        assert "not confirmed yet" in page.one("section", data_part=f"instruction-{told}").one("ask-head").text
    understand(consult, told)
    forms = crew(signed_in, consult, f"instructions/{told}/").every("form")
    assert [each.attributes["data-kind"] for each in forms] == ["done", "unable"]


def test_the_page_to_ask_offers_the_criteria_of_the_rule_set(consult: Consult, signed_in: Sign) -> None:
    page = crew(signed_in, consult, "ask/")
    offered = {each.attributes["value"] for each in page.every("input", name="form.criteria")}
    assert offered == set(queries.rules_of(consult.row).end_resuscitation)
    topics = [each.attributes["value"] for each in page.every("input", name="topic")]
    assert topics == ["advice", "destination", "refusal", "end_resuscitation", "other"]


@pytest.mark.parametrize("side", ["crew", "physician"])
def test_a_new_destination_is_seen_by_the_other_side(consult: Consult, signed_in: Sign, side: str) -> None:
    by = {"crew": consult.cast.osk, "physician": consult.cast.merrin}[side]
    cases.patch_case(by, consult.uid, {"destination": "Tor Clinic"}, NOON)
    notices = [page.every("section", data_part="destination") for page in desk(signed_in, consult)]
    banners = crew(signed_in, consult).every("news-item")
    if side == "crew":
        assert not banners
        for (notice,) in notices:
            button = notice.one("button")
            assert (button.attributes["data-method"], notice.text.count("Tor Clinic")) == ("PATCH", 1)
            assert json.loads(button.attributes["data-json"]) == {"destination_seen": "Tor Clinic"}
    else:
        assert notices == [[], []]
        says = json.loads(banners[0].one("quiet-big").attributes["data-says"])
        assert (says["kind"], says["data"]) == ("patch", {"destination_seen": "Tor Clinic"})


def test_the_handover_tells_of_a_refusal_and_who_agreed(consult: Consult) -> None:
    asked = ask(consult, "refusal", form=REFUSAL)
    told = tell(consult, question=asked, text="May stay, son to call.", decision="agreed")
    understand(consult, told)
    parts = handover(consult.card, NOON, words.lines(*crew_told.consulted(consult.row)))
    (lines,) = [part["lines"] for part in parts if part["name"] == "Medical control"]
    text = " ".join("".join(piece if isinstance(piece, str) else "12:00" for piece in line) for line in lines)
    assert "Refusal of care, asked" in text
    assert "Refuses: patient; Capacity to decide: not sure; Risks explained: yes; Witness: A. Marl, daughter" in text
    assert "Refusal stands, decided by Dr. Merrin" in text
    assert "“May stay, son to call.”" in text


def test_the_timeline_tells_each_step_and_a_replay_shows_the_open_form(consult: Consult, signed_in: Sign) -> None:
    asked = ask(consult, "refusal", form=REFUSAL)
    seq = consult.row.seq
    told = tell(consult, question=asked, text="May stay.", decision="not_agreed")
    understand(consult, told)
    timeline = desk(signed_in, consult)[1].text
    for text in ("Refusal of care", "Refusal does not stand · “May stay.”", "Instruction understood"):
        assert text in timeline
    replay = read(signed_in("averill").get(f"/history/{consult.uid}/?seq={seq}").text)
    assert "Witness A. Marl, daughter" in replay.one("fieldset", id="replay-card").text


@pytest.mark.parametrize(
    ("call", "dialed"), [("555 0142", "5550142"), ("+1 555 0142", "+15550142"), ("channel MED 4", ""), ("", "")]
)
def test_how_a_unit_is_reached_stands_beside_it(cast: Cast, signed_in: Sign, call: str, dialed: str) -> None:
    Unit.objects.filter(pk=cast.osk.unit).update(call=call)
    consult = open_consult(cast)
    assert consult.card["unit"]["call"] == call
    for page in desk(signed_in, consult):
        links = [each.attributes["href"] for each in page.every("a") if each.attributes["href"].startswith("tel:")]
        assert links == ([f"tel:{dialed}"] if dialed else [])
        assert call in page.text


def test_what_is_withdrawn_with_the_case_is_said_before(consult: Consult, signed_in: Sign) -> None:
    ask(consult)
    tell(consult, text="Sit her up.")
    page = desk(signed_in, consult)[1]
    for name in ("handover", "close"):
        text = page.one("form", data_name=name).text
        assert "question: Cool her?; instruction: Sit her up." in text
    assert "to do: Sit her up.; question: Cool her?" in crew(signed_in, consult, "handover/").text


def guided(sign: Sign, consult: Consult) -> Any:
    return read(sign("merrin").get("/board/").text).one("section", data_step="requested")


def test_the_end_of_a_resuscitation_is_held_against_the_record(consult: Consult, signed_in: Sign) -> None:
    phase(consult, "arrest", later(minutes=1))
    shock(consult, later(minutes=2))
    phase(consult, "pulse_back", later(minutes=6))
    consult.vitals(sbp=96, dbp=58, at=later(minutes=8))
    ask(consult, "end_resuscitation", form=ENDING)
    panel = guided(signed_in, consult)
    said = " ".join(each.text for each in panel.every("dl", data_from="record"))
    for text in ("Pulse is back since", "Shocks by the record 1", "Pulse back by the record at", "71 mmHg at"):
        assert text in said
    warned = [each.text for each in panel.every("p", data_mark="caution")]
    for text in ("No cardiac arrest on record now", "1 shock", "the pulse came back at", "MAP 71 mmHg at"):
        assert any(text in each for each in warned), text
    assert all("unverified" in each.text for each in panel.one("criteria").every("li"))


def test_what_agrees_with_the_record_is_no_caution(consult: Consult, signed_in: Sign) -> None:
    phase(consult, "arrest", later(minutes=1))
    ask(consult, "end_resuscitation", form=ENDING)
    panel = guided(signed_in, consult)
    assert "Shocks by the record none" in panel.text
    assert not panel.every("p", data_mark="caution")


@pytest.mark.parametrize(
    ("form", "warned"),
    [
        ({"capacity": "yes"}, []),
        ({}, ["Capacity to decide: not sure"]),
        ({"capacity": "no", "risks_told": False}, ["Capacity to decide: no", "The risks were not explained"]),
        ({"capacity": "yes", "witness": ""}, ["No witness is named"]),
    ],
)
def test_a_refusal_that_rests_on_too_little_is_a_caution(
    consult: Consult, form: dict[str, Any], warned: list[str]
) -> None:
    ask(consult, "refusal", form={**REFUSAL, **form})
    (put,) = words.questions(consult.card)
    assert put["cautions"] == [[text] for text in warned]


@pytest.mark.usefixtures("at_noon")
@pytest.mark.parametrize(
    ("capacity", "measured", "asked"),
    [
        (
            "yes",
            {"avpu": "V", "sbp": 80, "dbp": 47, "spo2": 89},
            "Last alertness V at 12:00, MAP 58, SpO2 89 %: capacity yes?",
        ),
        ("yes", {"gcs": 13}, "Last GCS 13 at 12:00: capacity yes?"),
        ("yes", {"avpu": "A", "sbp": 60, "dbp": 36}, "Last MAP 44 at 12:00: capacity yes?"),
        ("yes", {"avpu": "A", "gcs": 15, "sbp": 120, "dbp": 80, "spo2": 97}, ""),
        ("no", {"avpu": "V"}, ""),
    ],
)
def test_capacity_of_a_patient_who_is_not_alert_or_in_danger_is_asked_about_and_held_up_by_nothing(
    consult: Consult, signed_in: Sign, capacity: str, measured: dict[str, Any], asked: str
) -> None:
    consult.vitals(**measured)
    ask(consult, "refusal", form={**REFUSAL, "capacity": capacity})
    answered = guided(signed_in, consult).every("p", data_mark="caution")
    filled_in = crew(signed_in, consult, "ask/").every("p", data_part="capacity")

    for found, said in ((answered, asked), (filled_in, asked if capacity == "yes" else "capacity yes?")):
        warned = " ".join(each.text for each in found).replace(" ,", ",").replace(" :", ":")
        assert (said in warned) if said else "capacity yes?" not in warned


def test_agreeing_and_not_agreeing_are_equal_and_name_what_they_agree_to(consult: Consult, signed_in: Sign) -> None:
    ask(consult, "end_resuscitation", form=ENDING)
    panel = guided(signed_in, consult)
    buttons = [each for each in panel.every("button") if "data-form" in each.attributes]
    assert [each.text for each in buttons] == [
        "Agree: resuscitation may end",
        "Do not agree: resuscitation goes on",
    ]
    assert {each.attributes["class"] for each in buttons} == {"btn"}
    assert [each.text for each in panel.every("textarea")] == ["", ""]


def test_the_crew_reads_the_criteria_without_marks_of_where_they_come_from(consult: Consult, signed_in: Sign) -> None:
    form = signed_in("osk").get(f"/crew/{consult.uid}/ask/?about=end_resuscitation")

    assert "No shock was given" in form.text
    assert "unverified" not in form.text
