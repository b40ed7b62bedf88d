"""A case goes on from what this process wrote last to it, and from what is stored where others wrote since."""

from __future__ import annotations

from uuid import UUID

import msgspec
import pytest

from consult.actions import cards, last_written
from consult.models import Case
from tests.conftest import Consult, later

pytestmark = pytest.mark.django_db


def test_what_another_process_wrote_since_is_gone_on_from(consult: Consult) -> None:
    consult.vitals(at=later(minutes=1), sbp=84, dbp=50)
    here = last_written.find(consult.uid)
    consult.vitals(at=later(minutes=2), sbp=110, dbp=70)
    last_written._cases[consult.uid] = here  # as in the process that has not seen the second set

    consult.vitals(at=later(minutes=3), sbp=96, dbp=58)

    assert cards.faults(consult.row) == []
    assert [point["sbp"] for point in consult.card["trend"]] == [84, 110, 96]


def test_what_this_process_wrote_last_is_not_read_again(consult: Consult) -> None:
    consult.vitals(at=later(minutes=1), sbp=84, dbp=50)
    Case.objects.filter(uid=consult.uid).update(folded="unread", card="unread")

    consult.vitals(at=later(minutes=2), sbp=110, dbp=70)

    assert cards.faults(consult.row) == []
    last_written._cases.clear()
    Case.objects.filter(uid=consult.uid).update(folded="read")
    with pytest.raises(msgspec.DecodeError):
        consult.vitals(at=later(minutes=3), sbp=96, dbp=58)


def test_no_more_cases_are_kept_than_the_newest_few(consult: Consult, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(last_written, "MOST", 2)
    monkeypatch.setattr(last_written, "_cases", {UUID(int=number): None for number in range(2)})

    consult.vitals(at=later(minutes=1), sbp=84, dbp=50)

    assert list(last_written._cases) == [UUID(int=1), consult.uid]
