"""Shift handover: offered to a colleague by name, accepted case by case; what is not accepted stays (contract, ③)."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import problems
from consult.actions import cards, cases, handovers
from consult.actions.entry import Written
from consult.models import ControlOffer, Membership, User
from consult.resources.handovers import ShiftHandover
from tests.conftest import NOON, Cast, Consult, later, open_consult


@pytest.fixture
def three(cast: Cast) -> list[Consult]:
    """Three open cases of which Merrin has control; Quillan and Sorrel have accounts."""
    for name in ("merrin", "quillan", "sorrel"):
        user = User.objects.create(username=name, first_name="Dr.", last_name=name.capitalize())
        Membership.objects.filter(pk=getattr(cast, name).membership).update(user=user)
    found = [open_consult(cast) for _ in range(3)]
    for consult in found:
        cases.accept(cast.merrin, consult.uid, {"id": uuid4()}, NOON)
    return found


def offer(
    of: list[Consult], to: str = "quillan", by: str = "merrin", at: datetime = NOON, **more: Any
) -> Written[ShiftHandover]:
    data = {"id": uuid4(), "to": to, "cases": [each.uid for each in of], **more}
    return handovers.offer(getattr(of[0].cast, by), data, at)


def accept(
    given: Written[ShiftHandover], of: list[Consult], by: str = "quillan", at: datetime = NOON, **more: Any
) -> Written[ShiftHandover]:
    data = {"cases": [each.uid for each in of], **more}
    return handovers.accept(getattr(of[0].cast, by), UUID(given.resource.id), data, at)


def control(consult: Consult) -> tuple[str | None, str | None]:
    """Who has control, and to whom it is offered."""
    card = consult.card
    return (card["physician"] or {}).get("name"), (card["offered"] or {}).get("to", {}).get("name")


def states(handover: Written[ShiftHandover]) -> dict[str, str]:
    return {each.case: each.state for each in handover.resource.cases}


def test_offered_it_stays_with_who_had_it(three: list[Consult]) -> None:
    given = offer(three, note="Plover waits for blood")

    assert given.created
    assert (given.resource.by.name, given.resource.to.name, given.resource.note) == (
        "Dr. Merrin", "Dr. Quillan", "Plover waits for blood",
    )  # fmt: skip
    assert [control(each) for each in three] == [("Dr. Merrin", "Dr. Quillan")] * 3
    assert set(states(given).values()) == {"offered"}
    offered = three[0].card["offered"]
    assert (offered["handover"], offered["by"]["name"]) == (given.resource.id, "Dr. Merrin")


def test_accepted_case_by_case_what_is_not_accepted_stays(three: list[Consult]) -> None:
    given = offer(three)
    taken = accept(given, three[:1], at=later(minutes=1))

    assert [control(each) for each in three] == [("Dr. Quillan", None), *[("Dr. Merrin", "Dr. Quillan")] * 2]
    assert list(states(taken).values()).count("accepted") == 1
    line = three[0].journal[-1]
    assert line["kind"] == "case.accepted"
    assert (line["data"]["taken_from"], line["data"]["handover"]) == ("Dr. Merrin", given.resource.id)
    assert set(states(accept(given, three[1:], at=later(minutes=9))).values()) == {"accepted"}
    for each in three:
        assert cards.faults(each.row) == []


@pytest.mark.parametrize("how", ["kept", "taken over", "given up", "handed over", "closed", "offered anew"])
def test_an_offer_ends_when_control_is_settled_otherwise(three: list[Consult], how: str) -> None:
    cast, one = three[0].cast, three[0]
    given = offer(three)
    {
        "kept": lambda: cases.accept(cast.merrin, one.uid, {}, NOON),
        "taken over": lambda: cases.accept(cast.sorrel, one.uid, {"take_over": True}, NOON),
        "given up": lambda: cases.release(cast.merrin, one.uid, {}, NOON),
        "handed over": lambda: cases.handover(cast.osk, one.uid, {"to": "Ashgrove"}, NOON),
        "closed": lambda: cases.close(cast.osk, one.uid, {"outcome": "moved"}, NOON),
        "offered anew": lambda: offer([one], to="sorrel"),
    }[how]()

    assert control(one)[1] == ("Dr. Sorrel" if how == "offered anew" else None)
    row = ControlOffer.objects.get(handover=given.resource.id, case=one.row)
    assert (row.state, row.ended_at) == ("ended", NOON)
    with pytest.raises(problems.WrongState, match="no longer offered"):
        accept(given, [one])
    assert cards.faults(one.row) == []
    assert control(three[1]) == ("Dr. Merrin", "Dr. Quillan")


def test_one_that_is_not_offered_any_more_takes_none(three: list[Consult]) -> None:
    given = offer(three)
    cases.release(three[0].cast.merrin, three[2].uid, {}, NOON)

    with pytest.raises(problems.WrongState):
        accept(given, three)
    assert [control(each)[0] for each in three] == ["Dr. Merrin", "Dr. Merrin", None]


@pytest.mark.parametrize("which", range(3))
def test_one_that_is_not_theirs_offers_none(three: list[Consult], which: int) -> None:
    cases.accept(three[0].cast.quillan, three[which].uid, {"take_over": True}, NOON)

    with pytest.raises(problems.WrongState, match=r"Dr\. Quillan has control of the case of Kestrel 2"):
        offer(three, to="sorrel")
    assert all(control(each)[1] is None for each in three)
    assert not ControlOffer.objects.exists()


def test_only_the_one_it_is_offered_to_accepts(three: list[Consult]) -> None:
    given = offer(three)
    for by in ("sorrel", "merrin"):
        with pytest.raises(problems.Forbidden, match=r"offered to Dr\. Quillan"):
            accept(given, three, by=by)


def test_the_same_call_sent_twice_is_one(three: list[Consult]) -> None:
    uid, accepted = uuid4(), uuid4()
    given, again = offer(three, id=uid), offer(three, id=uid)
    assert (given.created, again.created) == (True, False)
    assert given.resource == again.resource
    taken, once_more = accept(given, three, id=accepted), accept(given, three, id=accepted)
    assert (taken.created, once_more.created) == (True, False)
    assert [each.kinds.count("case.accepted") for each in three] == [2, 2, 2]
    with pytest.raises(problems.IdReused):
        offer(three[:1], id=uid)


@pytest.mark.parametrize("to", ["nobody", "osk", "averill", "vane", "merrin"])
def test_to_whom_it_cannot_be_offered(three: list[Consult], to: str) -> None:
    """Nobody, a crew, a supervisor, a physician of another agency, oneself."""
    cast = three[0].cast
    for name in ("osk", "averill", "vane"):
        user = User.objects.create(username=name)
        Membership.objects.filter(pk=getattr(cast, name).membership).update(user=user)
    with pytest.raises(problems.Invalid) as refused:
        offer(three, to=to)
    assert refused.value.errors[0]["pointer"] == "/to"


def test_a_case_of_another_agency_is_not_found(three: list[Consult]) -> None:
    with pytest.raises(problems.Invalid) as refused:
        handovers.offer(three[0].cast.merrin, {"to": "quillan", "cases": [three[0].uid, uuid4()]}, NOON)
    assert refused.value.errors[0]["pointer"] == "/cases/1"
    assert control(three[0])[1] is None
