"""A gap in coverage that the crew announces: silence is no news until then, and what may have been done is unknown."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from consult import problems
from consult.actions import alerts, batch, cards, cases
from consult.render.card import card_html
from tests.conftest import NOON, Consult, earlier, later

PUSH = "epinephrine-push-dose"


def announce(consult: Consult, until: datetime, at: datetime = NOON, by: Any = None, **more: Any) -> Any:
    data = {"id": uuid4(), "at": at, "until": until}
    return cases.announce_coverage(by or consult.cast.osk, consult.uid, data, more.pop("now", at), **more)


def swept(consult: Consult, at: datetime) -> set[str]:
    alerts.sweep(at)
    return consult.alerts


def test_silence_is_no_news_before_the_gap_is_over(consult: Consult) -> None:
    announce(consult, later(minutes=20))

    assert swept(consult, later(minutes=19, seconds=59)) == set()
    assert swept(consult, later(minutes=20)) == {"no_contact"}
    assert consult.card["alerts"][-1]["text"] == "No data from unit since 12:00 UTC"


def test_heard_again_in_the_gap_the_usual_minutes_hold_after_it(consult: Consult) -> None:
    announce(consult, later(minutes=20))
    consult.vitals(at=later(minutes=18), sbp=112, dbp=70)

    assert swept(consult, later(minutes=22, seconds=59)) == set()
    assert swept(consult, later(minutes=23)) == {"no_contact"}


def test_heard_after_a_silence_coverage_is_back(consult: Consult) -> None:
    """Announced for an hour, heard again after ten minutes: from then on five minutes of silence are news."""
    announce(consult, later(minutes=60))
    consult.vitals(at=later(minutes=3), sbp=112, dbp=70)
    assert swept(consult, later(minutes=9)) == set(), "still about to lose coverage"
    assert "none until" in card_html(consult.card)
    consult.vitals(at=later(minutes=10), sbp=112, dbp=70)

    assert "none until" not in card_html(consult.card)
    assert swept(consult, later(minutes=14, seconds=59)) == set()
    assert swept(consult, later(minutes=15)) == {"no_contact"}
    announce(consult, later(minutes=60), at=later(minutes=16))
    assert swept(consult, later(minutes=30)) == set(), "said again, it holds again"


def test_the_newest_word_holds(consult: Consult) -> None:
    announce(consult, later(minutes=60))
    announce(consult, later(minutes=10), at=later(minutes=1))

    assert swept(consult, later(minutes=10)) == {"no_contact"}


def test_a_reading_that_nobody_could_send_is_unknown_and_told_once_it_is_missing(consult: Consult) -> None:
    consult.give(PUSH, 10, "mcg")
    announce(consult, later(minutes=20))
    assert "reassessment_overdue" not in swept(consult, later(minutes=6))
    assert [each["state"] for each in consult.card["reassessments"]] == ["unknown"]
    consult.vitals(at=later(minutes=19), hr=96)

    assert "reassessment_overdue" in consult.alerts


def test_one_taken_in_the_gap_completes_it(consult: Consult) -> None:
    consult.give(PUSH, 10, "mcg")
    announce(consult, later(minutes=20))
    alerts.sweep(later(minutes=6))
    consult.vitals(at=later(minutes=2), now=later(minutes=19), sbp=96, dbp=60)

    assert consult.card["reassessments"] == []
    assert "reassessment_overdue" not in consult.alerts


def test_everything_else_is_told_as_before(consult: Consult) -> None:
    announce(consult, later(minutes=20))
    consult.vitals(at=later(minutes=1), sbp=70, dbp=30, spo2=62)

    assert consult.alerts == {"low_pressure", "low_saturation"}


@pytest.mark.parametrize(
    ("minutes", "refused"),
    [(-1, "not_ahead"), (0, "not_ahead"), (1, None), (120, None), (121, "too_far_ahead")],
)
def test_how_far_ahead_it_may_lie(consult: Consult, minutes: float, refused: str | None) -> None:
    """At most two hours (our choice): a unit that is lost must not be silent for a day."""
    if refused is None:
        announce(consult, later(minutes=minutes))
        return
    with pytest.raises(problems.Invalid) as fault:
        announce(consult, later(minutes=minutes))
    assert [(each["pointer"], each["code"]) for each in fault.value.errors] == [("/until", refused)]


def test_it_is_the_crews_to_say(consult: Consult) -> None:
    with pytest.raises(problems.Forbidden):
        announce(consult, later(minutes=20), by=consult.cast.merrin)


def test_told_late_it_explains_the_silence_that_was_told(consult: Consult) -> None:
    """The entry waited on the phone: said at 11:59, heard at 12:06."""
    alerts.sweep(later(minutes=6))
    assert consult.alerts == {"no_contact"}
    announce(consult, later(minutes=30), at=earlier(minutes=1), now=later(minutes=6))

    assert consult.alerts == set()
    assert swept(consult, later(minutes=29)) == set()


def test_it_comes_in_a_batch_too(consult: Consult) -> None:
    with batch.arriving(consult.cast.osk, later(minutes=1)) as arrival:
        announce(consult, later(minutes=20), arrival=arrival, now=later(minutes=1))

    assert swept(consult, later(minutes=19)) == set()


def test_card_and_journal_say_it(consult: Consult) -> None:
    announce(consult, later(minutes=20))

    assert consult.card["no_coverage_until"] == "2030-01-05T12:20:00Z"
    assert "coverage.announced" in consult.kinds
    assert "none until" in card_html(consult.card)
    assert not cards.differs(consult.row)
