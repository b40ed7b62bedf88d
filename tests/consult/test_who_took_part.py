"""The search of past cases finds all who had part in one: each unit that had it, each physician who had a say in it."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from consult import access, search
from consult.actions import cards, cases, interventions, notes, orders, questions
from consult.models import TookPart
from consult.resources.cases import past_case
from tests.conftest import NOON, Cast, Consult, later, open_consult, with_a_user
from tests.consult.test_moved import move

pytestmark = pytest.mark.django_db

DONE = later(minutes=2)
BEYOND = {"value": 30, "unit": "mcg"}


def control(consult: Consult) -> None:
    cases.accept(consult.cast.quillan, consult.uid, {"id": uuid4()}, NOON)
    cases.accept(consult.cast.merrin, consult.uid, {"id": uuid4(), "take_over": True}, DONE)


def decides(consult: Consult) -> None:
    asked = UUID(consult.ask().resource.id)
    orders.decide(consult.cast.quillan, asked, {"id": uuid4(), "decision": "decline", "reason": "fluid first"}, DONE)


def orders_by_themselves(consult: Consult) -> None:
    consult.ask(by=consult.cast.quillan)


def takes_an_order_back(consult: Consult) -> None:
    order = UUID(consult.ask(by=consult.cast.merrin).resource.id)
    orders.withdraw(consult.cast.quillan, order, {"id": uuid4(), "reason": "given by others"}, DONE)


def instructs(consult: Consult) -> None:
    questions.instruct(consult.cast.quillan, consult.uid, {"id": uuid4(), "at": NOON, "text": "warm her"}, NOON)


def sets_a_goal(consult: Consult) -> None:
    goal = {"id": uuid4(), "measure": "map", "floor": 70, "reason": "head injury"}
    cases.set_goal(consult.cast.quillan, consult.uid, goal, NOON)


def ordered_by_voice(consult: Consult) -> None:
    voice = {"voice_order": {"physician": with_a_user(consult.cast.quillan), "at": NOON}}
    dose = UUID(consult.give("epinephrine-push-dose", 30, "mcg", **voice).resource.id)
    interventions.countersign(consult.cast.quillan, dose, {"id": uuid4()}, DONE)


def only_looks_and_notes(consult: Consult) -> None:
    notes.add_note(consult.cast.quillan, consult.uid, {"id": uuid4(), "at": NOON, "text": "seen"}, NOON)


def ends_the_case(consult: Consult) -> None:
    consult.ask()
    cases.close(consult.cast.quillan, consult.uid, {"id": uuid4(), "outcome": "refused", "at": DONE}, DONE)


SAYS: dict[str, tuple[Callable[[Consult], None], bool]] = {
    "had control before": (control, True),
    "declined a request": (decides, True),
    "ordered unasked": (orders_by_themselves, True),
    "took a colleague's order back": (takes_an_order_back, True),
    "instructed": (instructs, True),
    "set a goal": (sets_a_goal, True),
    "ordered by voice": (ordered_by_voice, True),
    "only wrote a note": (only_looks_and_notes, False),
    "only closed it": (ends_the_case, False),
}


def found(cast: Cast, **filters: object) -> list[UUID]:
    return [case.uid for case in search.history(access.cases_of(cast.averill), **filters)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("act", "counts"), SAYS.values(), ids=SAYS)
def test_a_physician_is_found_by_what_they_did_whoever_has_control_last(
    act: Callable[[Consult], None], counts: bool, consult: Consult
) -> None:
    open_consult(consult.cast)
    consult.vitals(sbp=80, dbp=40)
    act(consult)

    assert found(consult.cast, physician=consult.cast.quillan.membership) == [consult.uid] * counts
    assert cards.faults(consult.row) == []


def test_each_is_named_once_the_first_first_beside_who_has_control(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40)
    decides(consult)
    decides(consult)
    control(consult)

    (row,) = search.history(access.cases_of(consult.cast.averill))
    assert [each.name for each in past_case(row).physicians] == ["Dr. Quillan", "Dr. Merrin"]
    assert past_case(row).physician == past_case(row).physicians[1]


def test_a_unit_is_found_by_what_it_had_and_what_it_has(consult: Consult) -> None:
    other = open_consult(consult.cast)
    move(consult)
    kestrel, plover = consult.cast.osk.unit, consult.cast.lund.unit

    assert set(found(consult.cast, unit=kestrel)) == {consult.uid, other.uid}
    assert found(consult.cast, unit=plover) == [consult.uid]
    move(consult, at=later(minutes=11), by="lund", to="osk")
    assert found(consult.cast, unit=plover) == [consult.uid]
    assert cards.faults(consult.row) == []


def test_who_took_part_is_verified_with_the_rows(consult: Consult) -> None:
    control(consult)
    TookPart.objects.filter(physician=consult.cast.quillan.membership).delete()

    assert cards.faults(consult.row) == ["case: who took part"]


@pytest.mark.parametrize("what", ["unit", "physician"])
def test_the_search_is_one_query_by_an_index_and_one_for_the_names_however_many_cases(
    what: str, consult: Consult
) -> None:
    for each in (consult, open_consult(consult.cast), open_consult(consult.cast)):
        control(each)
        move(each)
    wanted = {"unit": consult.cast.osk.unit, "physician": consult.cast.quillan.membership}[what]
    by_who = search.history(access.cases_of(consult.cast.averill), **{what: wanted})  # type: ignore[arg-type]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL enable_seqscan = off")  # so few rows are read through otherwise

        by_index = {"postgresql": f"took_part_{what}", "sqlite": "SEARCH U0 USING COVERING INDEX"}
        assert by_index[connection.vendor] in by_who.explain()
    with CaptureQueriesContext(connection) as asked:
        assert len([past_case(case) for case in by_who]) == 3
    assert len(asked) == 2
