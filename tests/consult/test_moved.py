"""A patient who goes on in another unit: nothing is lost, the former crew tells what it did before, and nothing more.

Contract, `POST /cases/{id}/move/`: "to another unit of the agency; entries of the former unit from before are still
taken"; "404 where the object is, for crews, of another unit".
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import access, problems
from consult.actions import (
    alerts,
    batch,
    cards,
    cases,
    containers,
    corrections,
    interventions,
    notes,
    orders,
    read_back,
)
from consult.actions.entry import Written
from consult.live.auth import Pass
from consult.live.seat import NO_PERMISSION, Seat
from tests.conftest import NOON, Cast, Consult, later, open_consult

GONE = problems.NotFound
MOVED = later(minutes=10)


def move(consult: Consult, at: datetime = MOVED, by: str = "osk", to: str = "lund", **more: Any) -> Written:
    data = {"id": uuid4(), "unit": getattr(consult.cast, to).unit, "at": at, **more}
    return cases.move(getattr(consult.cast, by), consult.uid, data, at)


def drip(consult: Consult, at: datetime = NOON, by: Any = None) -> UUID:
    consult.vitals(at=at, sbp=82, dbp=44, hr=118)
    given = consult.give(
        "norepinephrine-infusion", 4, "mcg/min", at=at, status="running",
        concentration={"value": 16, "unit": "mcg/mL"}, container_ml=250,
    )  # fmt: skip
    return UUID(given.resource.id)


@pytest.fixture
def moved(consult: Consult) -> Consult:
    """A case with all that can run, wait or be in hand, moved from Kestrel 2 to Plover 8 ten minutes after noon."""
    drip(consult)
    strength, volume = {"value": 10, "unit": "mcg/mL"}, {"value": 10, "unit": "mL"}
    mixed = {"form": "syringe", "treatment": "epinephrine-push-dose", "strength": strength, "volume": volume}
    containers.record_container(consult.cast.osk, consult.uid, {"id": uuid4(), "at": NOON, **mixed}, NOON)
    consult.ask(at=later(minutes=9))
    before = consult.card
    move(consult)
    consult.before = before  # type: ignore[attr-defined]
    return consult


def test_all_goes_along(moved: Consult) -> None:
    card = moved.card
    for name in ("running", "in_hand", "orders", "reassessments", "given", "doses", "vitals", "trend"):
        assert card[name] == moved.before[name], name  # type: ignore[attr-defined]
    assert {each["id"] for each in moved.before["alerts"]} <= {each["id"] for each in card["alerts"]}  # type: ignore[attr-defined]
    assert card["unit"]["call_sign"] == "Plover 8"
    assert [(each["call_sign"], each["until"]) for each in card["former_units"]] == [
        ("Kestrel 2", "2030-01-05T12:10:00Z")
    ]
    assert cards.faults(moved.row) == []


def test_the_new_crew_goes_on_and_the_former_sees_it_no_more(moved: Consult) -> None:
    osk, lund = moved.cast.osk, moved.cast.lund
    assert access.case_for(lund, moved.uid).unit.call_sign == "Plover 8"
    assert [each.uid for each in access.cases_of(lund)] == [moved.uid]
    assert list(access.cases_of(osk)) == []
    with pytest.raises(GONE):
        access.case_for(osk, moved.uid)
    running, asked = UUID(moved.card["running"][0]["id"]), UUID(moved.card["orders"][0]["id"])
    for of, named in ((access.intervention_for, running), (access.order_for, asked)):
        of(lund, named)
        with pytest.raises(GONE):
            of(osk, named)
    orders.decide(moved.cast.merrin, asked, {"decision": "approve", "reason": "agreed"}, later(minutes=11))
    said = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": {"value": 30, "unit": "mcg"}}
    assert read_back.read_back(lund, asked, {"id": uuid4(), **said}, later(minutes=11)).resource.state == "read_back"
    stop = {"id": uuid4(), "at": later(minutes=12), "status": "stopped"}
    interventions.change_intervention(lund, running, stop, later(minutes=12))
    assert moved.card["running"] == []


def late(consult: Consult, what: str, at: datetime, now: datetime) -> Written:
    """Told by the former crew."""
    osk, uid, said = consult.cast.osk, consult.uid, {"id": uuid4(), "at": at}
    running = UUID(consult.card["running"][0]["id"])
    syringe = next(UUID(each["id"]) for each in consult.card["in_hand"] if each["form"] == "syringe")
    strength, volume = {"value": 10, "unit": "mcg/mL"}, {"value": 10, "unit": "mL"}
    mixed = {"form": "syringe", "treatment": "epinephrine-push-dose", "strength": strength, "volume": volume}
    tell: dict[str, Callable[[], Written]] = {
        "vitals": lambda: consult.vitals(at=at, now=now, sbp=90, dbp=50),
        "intervention": lambda: consult.give("epinephrine-push-dose", 10, "mcg", at=at, now=now),
        "change": lambda: interventions.change_intervention(osk, running, {**said, "status": "stopped"}, now),
        "procedure": lambda: notes.add_procedure(
            osk, uid, {**said, "procedure": "iv_access", "outcome": "done", "gauge": 18}, now
        ),
        "note": lambda: notes.add_note(osk, uid, {**said, "text": "Skin cool."}, now),
        "phase": lambda: notes.change_phase(osk, uid, {**said, "phase": "arrest"}, now),
        "container": lambda: containers.record_container(osk, uid, {**said, **mixed}, now),
        "discard": lambda: containers.discard(osk, syringe, said, now),
    }
    return tell[what]()


TOLD_LATE = ["vitals", "intervention", "change", "procedure", "note", "phase", "container", "discard"]


@pytest.mark.parametrize("what", TOLD_LATE)
def test_what_the_former_crew_did_before_is_taken_and_what_is_later_is_refused(moved: Consult, what: str) -> None:
    seq = moved.row.seq
    with pytest.raises(
        problems.WrongState, match=r"Plover 8 has had this patient since 12:10 UTC: its crew enters what"
    ):
        late(moved, what, MOVED + timedelta(seconds=1), later(minutes=30))
    assert moved.row.seq == seq

    late(moved, what, MOVED if what != "discard" else later(minutes=9), later(minutes=30))
    line = moved.journal[seq]
    assert (line["by"]["name"], line["late"]) == ("J. Osk", True)
    assert cards.faults(moved.row) == []


def test_a_late_entry_is_no_sign_of_life_of_the_new_crew(moved: Consult) -> None:
    late(moved, "vitals", later(minutes=9), later(minutes=14, seconds=30))

    assert moved.row.last_contact_at == MOVED
    alerts.sweep(later(minutes=15))
    assert "no_contact" in moved.alerts


@pytest.mark.parametrize(
    "what", ["patch", "order", "readback", "not given", "coverage", "handover", "close", "correct", "move"]
)
def test_what_is_for_who_has_the_patient_the_former_crew_does_no_more(moved: Consult, what: str) -> None:
    osk, uid, before, now = moved.cast.osk, moved.uid, later(minutes=9), later(minutes=12)
    asked, seq = UUID(moved.card["orders"][0]["id"]), moved.row.seq
    said = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": {"value": 30, "unit": "mcg"}}
    target = {"kind": "intervention", "id": UUID(moved.card["running"][0]["id"])}
    tries: dict[str, Callable[[], Any]] = {
        "patch": lambda: cases.patch_case(osk, uid, {"destination": "Ashgrove"}, now),
        "order": lambda: moved.ask(20, at=before),
        "readback": lambda: read_back.read_back(osk, asked, {"id": uuid4(), **said}, now),
        "not given": lambda: orders.not_given(osk, asked, {"id": uuid4(), "reason": "fine"}, now),
        "coverage": lambda: cases.announce_coverage(osk, uid, {"at": before, "until": later(minutes=30)}, now),
        "handover": lambda: cases.handover(osk, uid, {"to": "Ashgrove", "at": before}, now),
        "close": lambda: cases.close(osk, uid, {"outcome": "moved", "at": before}, now),
        "correct": lambda: corrections.correct(
            osk, uid, {"id": uuid4(), "target": target, "reason": "typed wrong"}, now
        ),
        "move": lambda: move(moved, now, to="osk"),
    }
    with pytest.raises(problems.WrongState, match="Plover 8 has had this patient since 12:10 UTC: only its crew"):
        tries[what]()
    assert moved.row.seq == seq


def test_a_repeated_entry_from_before_is_answered_whatever_its_time(moved: Consult) -> None:
    """Its answer was lost on the way: the phone sends it again after the move."""
    data = {"id": uuid4(), "at": later(minutes=8), "text": "Family informed."}
    first = notes.add_note(moved.cast.osk, moved.uid, data, later(minutes=13))
    again = notes.add_note(moved.cast.osk, moved.uid, data, later(minutes=20))

    assert (first.created, again.created, first.seq) == (True, False, again.seq)


def test_a_batch_of_the_former_crew_is_settled(moved: Consult) -> None:
    now = later(minutes=20)
    with batch.arriving(moved.cast.osk, now) as arrival:
        moved.vitals(at=later(minutes=9), now=now, sbp=96, dbp=58, arrival=arrival)

    assert moved.row.wake_at is None or moved.row.wake_at > now
    assert cards.faults(moved.row) == []


def test_other_crews_and_agencies_find_nothing(moved: Consult) -> None:
    with pytest.raises(GONE):
        notes.add_note(moved.cast.tarn, moved.uid, {"at": NOON, "text": "x"}, MOVED)
    move(moved, later(minutes=15), by="merrin", to="osk")
    assert access.case_for(moved.cast.osk, moved.uid)
    notes.add_note(moved.cast.lund, moved.uid, {"at": later(minutes=14), "text": "Calm."}, later(minutes=16))
    notes.add_note(moved.cast.osk, moved.uid, {"at": later(minutes=16), "text": "Back."}, later(minutes=16))
    assert cards.faults(moved.row) == []


def test_where_there_is_no_coverage_the_former_crew_said(consult: Consult) -> None:
    cases.announce_coverage(consult.cast.osk, consult.uid, {"at": NOON, "until": later(minutes=40)}, NOON)
    move(consult)
    alerts.sweep(later(minutes=15))

    assert consult.card["no_coverage_until"] is None
    assert "no_contact" in consult.alerts


def test_two_patients_of_the_new_unit_are_told_apart(consult: Consult) -> None:
    cases.open_case(
        consult.cast.lund, {"id": uuid4(), "opened_at": NOON, "patient": {"age": None, "weight": None}}, NOON
    )
    move(consult)

    labels = {row.patient["label"] for row in access.cases_of(consult.cast.lund)}
    assert labels == {"A", "B"}
    assert cards.faults(consult.row) == []


def test_a_socket_of_the_former_crew_is_closed_and_that_of_the_new_one_told(moved: Consult) -> None:
    from consult.live.news import News

    row, ended, told = moved.row, [], []
    news = News(row.pk, row.uid, row.agency_id, row.unit_id, row.seq, True, row.card)
    for who in (moved.cast.osk, moved.cast.lund):
        outbox: Any = type("Outbox", (), {"offer": lambda self, each: told.append(each)})()
        Seat(("case", row.pk), Pass(who), outbox, ended.append).tell(news)

    assert (ended, told) == ([NO_PERMISSION], [news])


@pytest.mark.parametrize(
    ("what", "refused"),
    [
        ("to where it is", problems.WrongState),
        ("to a unit of another agency", problems.Invalid),
        ("to no unit", problems.Invalid),
        ("before it was opened", problems.Invalid),
        ("once it has ended", problems.WrongState),
        ("by another crew", problems.NotFound),
        ("by a supervisor", problems.Forbidden),
    ],
)
def test_moves_that_cannot_be(consult: Consult, what: str, refused: type[problems.Problem]) -> None:
    tries: dict[str, Callable[[], Any]] = {
        "to where it is": lambda: move(consult, to="osk"),
        "to a unit of another agency": lambda: move(consult, to="tarn"),
        "to no unit": lambda: move(consult, unit=uuid4()),
        "before it was opened": lambda: move(consult, at=NOON - timedelta(minutes=21)),
        "once it has ended": lambda: (
            cases.close(consult.cast.osk, consult.uid, {"outcome": "died"}, NOON),
            move(consult),
        ),
        "by another crew": lambda: move(consult, by="lund"),
        "by a supervisor": lambda: move(consult, by="averill"),
    }
    with pytest.raises(refused):
        tries[what]()
    assert consult.row.unit_id == consult.cast.osk.unit


def test_a_second_move_lies_after_the_first(moved: Consult) -> None:
    with pytest.raises(problems.Invalid):
        move(moved, at=later(minutes=9), by="lund", to="osk")


def test_an_opening_that_got_no_answer_is_answered_as_it_was_although_the_patient_has_moved(cast: Cast) -> None:
    patient = {"age": {"value": 58, "unit": "years"}, "weight": {"value": 80, "unit": "kg"}}
    opening = {"id": uuid4(), "opened_at": NOON, "patient": patient}
    first = cases.open_case(cast.osk, opening, NOON)
    consult = Consult(cast, opening["id"])
    move(consult)
    consult.vitals(at=later(minutes=12), by=cast.lund, sbp=82, dbp=44)

    again = cases.open_case(cast.osk, opening, later(minutes=13))

    assert (again.created, again.seq, again.resource.seq) == (False, first.seq, first.seq)
    assert (again.resource.unit, again.resource.vitals) == (first.resource.unit, first.resource.vitals)


def test_cases_of_other_patients_stay(consult: Consult) -> None:
    other = open_consult(consult.cast)
    move(consult)

    assert other.row.unit_id == consult.cast.osk.unit
