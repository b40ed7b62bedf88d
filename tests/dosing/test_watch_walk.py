"""How an alarm is walked through: what is left out of the walk changes nothing of what stands."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from dosing.watch.walk import DANGER, FINE, WARNING, Seen, recent, walk

START = datetime(2030, 1, 5, 10, tzinfo=UTC)
SAID = st.tuples(st.sampled_from((FINE, FINE, WARNING, DANGER)), st.sampled_from((-1, 1)), st.booleans())


@given(said=st.lists(SAID, max_size=30), in_a_row=st.integers(1, 3))
def test_what_lies_before_a_reading_that_was_fine_for_certain_says_nothing(said, in_a_row):
    seen = [Seen(START + timedelta(minutes=minute), *each) for minute, each in enumerate(said)]
    whole, short = walk(seen, in_a_row), walk(recent(reversed(seen), in_a_row), in_a_row)
    assert short.since == whole.since
    if whole.since is not None:
        assert (short.level, short.side, short.worst, short.last) == (whole.level, whole.side, whole.worst, whole.last)


def test_only_what_came_since_it_was_fine_for_certain_is_walked():
    said = [(DANGER, False), (FINE, True), (WARNING, False), (FINE, False), (WARNING, False)]
    seen = [Seen(START + timedelta(minutes=minute), level, clear=clear) for minute, (level, clear) in enumerate(said)]

    assert recent(reversed(seen), 2) == seen[1:]
    assert recent(reversed(seen), 1) == seen[3:]
