"""A patient who was moved must be known to the new crew: until one of them has the case in hand, it is not seen.

No source names a time: the demonstration's 3 min are those in which a physician must have control.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from consult.actions import alerts, batch, cards, cases, looks, notes, vitals
from consult.models import Alert
from tests.conftest import Cast, Consult, later, with_a_user
from tests.consult.test_moved import move

pytestmark = pytest.mark.django_db


def minutes_after(minutes: float) -> datetime:
    return later(minutes=10 + minutes)


def told(consult: Consult, at: datetime) -> list[str]:
    """What the alert says, once time has done its work."""
    alerts.sweep(at)
    return [each["text"] for each in consult.card["alerts"] if each["kind"] == "moved_not_seen"]


def person(cast: Cast, name: str) -> Any:
    """One of the cast as a person signed in: a device looks at nothing."""
    from consult import access
    from consult.models import Membership

    with_a_user(getattr(cast, name))
    return access.actor_of_membership(Membership.objects.get(pk=getattr(cast, name).membership))


def looks_at(who: str, **how: Any) -> Callable[[Consult], None]:
    return lambda consult: looks.note_look(person(consult.cast, who), consult.row, "page", minutes_after(1), **how)


def reads(who: str, at: datetime) -> Callable[[Consult], None]:
    return lambda consult: consult.vitals(at=at, now=minutes_after(1), by=getattr(consult.cast, who), hr=90)


def in_a_batch(consult: Consult) -> None:
    with batch.arriving(consult.cast.lund, minutes_after(1)) as arrival:
        data = {"id": uuid4(), "taken_at": minutes_after(1), "hr": 90}
        vitals.record_vitals(consult.cast.lund, consult.uid, data, minutes_after(1), arrival)


def moved_on(consult: Consult) -> None:
    move(consult, at=minutes_after(1), by="lund", to="osk")


def writes_as_physician(consult: Consult) -> None:
    note = {"id": uuid4(), "at": minutes_after(1), "text": "on the way"}
    notes.add_note(consult.cast.merrin, consult.uid, note, minutes_after(1))


def closes(consult: Consult) -> None:
    end = {"id": uuid4(), "outcome": "cancelled", "at": minutes_after(1)}
    cases.close(consult.cast.merrin, consult.uid, end, minutes_after(1))


NEXT: dict[str, tuple[Callable[[Consult], None], bool]] = {
    "the new crew opens its page": (looks_at("lund"), True),
    "the new crew sends a reading": (reads("lund", minutes_after(1)), True),
    "the new crew sends one in a batch": (in_a_batch, True),
    "the case ends": (closes, True),
    "the new crew prints a label": (looks_at("lund", attends=False), False),
    "a physician opens the case": (looks_at("merrin"), False),
    "a physician writes": (writes_as_physician, False),
    "the former crew tells a reading of before": (reads("osk", later(minutes=9)), False),
    "the new crew moves the patient on": (moved_on, False),
}


@pytest.mark.parametrize(("act", "is_seen"), NEXT.values(), ids=NEXT)
def test_who_of_the_new_crew_has_the_case_in_hand_has_seen_it(
    act: Callable[[Consult], None], is_seen: bool, consult: Consult
) -> None:
    move(consult)
    act(consult)

    assert (consult.card["moved_not_seen_since"] is None) == is_seen
    assert (told(consult, minutes_after(9)) == []) == is_seen
    assert cards.faults(consult.row) == []


def test_a_case_that_was_never_moved_is_nothing_to_see(consult: Consult) -> None:
    assert consult.card["moved_not_seen_since"] is None
    assert told(consult, later(minutes=60)) == []


def test_after_three_minutes_it_alarms_climbs_and_ends_with_the_look(consult: Consult) -> None:
    move(consult)
    assert told(consult, minutes_after(2.9)) == []
    assert told(consult, minutes_after(3)) == ["Moved here 12:10 UTC, no crew of this unit has opened the case"]
    alerts.sweep(minutes_after(5))
    assert Alert.objects.get(kind="moved_not_seen").escalated_to == "physicians"

    looks.note_look(person(consult.cast, "lund"), consult.row, "crew page", minutes_after(6))
    assert told(consult, minutes_after(6)) == []
    assert Alert.objects.get(kind="moved_not_seen").cleared_at == minutes_after(6)


def test_it_is_one_line_of_the_journal_by_who_saw_it_first(consult: Consult) -> None:
    move(consult)
    for _ in range(2):
        looks.note_look(person(consult.cast, "lund"), consult.row, "crew page", minutes_after(1))
        consult.vitals(at=minutes_after(2), by=consult.cast.lund, hr=90)

    seen = [each["by"]["name"] for each in consult.journal if each["kind"] == "move.seen"]
    assert seen == ["B. Lund"]
