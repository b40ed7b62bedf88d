"""Two open cases of one unit are told apart by the letter of the patient, on every card and button."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult import queries
from consult.actions import cards, cases
from tests.conftest import NOON, Cast, Consult, child, later, open_consult

pytestmark = pytest.mark.django_db


def letter(consult: Consult) -> str | None:
    label: str | None = consult.card["patient"].get("label")
    return label


def labeled(cast: Cast, label: str) -> Consult:
    return open_consult(cast, {**child(5, 18), "label": label})


def test_a_unit_with_one_patient_needs_no_letter(consult: Consult) -> None:
    assert letter(consult) is None


def test_the_second_patient_is_b_and_the_first_becomes_a(consult: Consult) -> None:
    second = open_consult(consult.cast, child(5, 18))

    assert (letter(consult), letter(second)) == ("A", "B")
    assert letter(open_consult(consult.cast, child(2, 12))) == "C"


def test_the_first_ones_letter_is_an_entry_of_its_case_that_nobody_made(consult: Consult) -> None:
    open_consult(consult.cast, child(5, 18))
    line = consult.journal[-1]

    assert (line["kind"], line["data"]["changes"], line["by"]) == ("case.changed", {"patient": {"label": "A"}}, None)
    assert not cards.differs(consult.row)
    assert queries.card_at(consult.row, consult.row.seq) == consult.card


def test_a_letter_that_the_crew_gave_stays_and_is_not_given_twice(cast: Cast) -> None:
    first, second = labeled(cast, "B"), open_consult(cast, child(5, 18))
    third = labeled(cast, "B")

    assert (letter(first), letter(second), letter(third)) == ("B", "A", "C")


def test_the_same_entry_sent_again_is_still_the_same_entry(consult: Consult) -> None:
    sent = {"id": uuid4(), "opened_at": NOON, "patient": child(5, 18)}
    first, again = (cases.open_case(consult.cast.osk, dict(sent), NOON) for _ in range(2))

    assert not again.created
    assert again.resource.patient.label == first.resource.patient.label == "B"


def test_a_case_that_comes_back_makes_way_for_the_one_that_came_meanwhile(consult: Consult) -> None:
    cases.close(consult.cast.osk, consult.uid, {"id": uuid4(), "outcome": "cancelled"}, NOON)
    meanwhile = open_consult(consult.cast, child(5, 18))
    cases.reopen(consult.cast.merrin, consult.uid, {"id": uuid4(), "reason": "wrong button"}, later(minutes=1))

    assert (letter(meanwhile), letter(consult)) == ("A", "B")


def test_a_closed_case_takes_no_letter(consult: Consult) -> None:
    cases.close(consult.cast.osk, consult.uid, {"id": uuid4(), "outcome": "cancelled"}, NOON)

    assert letter(open_consult(consult.cast, child(5, 18))) is None
