"""However entries are split, doubled and shuffled into batches, the case is the one that they tell."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

from django.core.management import call_command
from hypothesis import given
from hypothesis import strategies as st

from consult.models import JournalEntry, Note
from tests.api.shadow import LINK_AGAIN, PUSH, Shadow, in_batches, statuses
from tests.api.test_clocks import in_words
from tests.depth import NIGHT, few_cases

MANY = 500 if NIGHT else 225


def test_hundreds_of_entries_in_several_batches_shuffled_and_doubled_arrive_once(shadow: Shadow) -> None:
    dice = random.Random(8)
    for number in range(MANY):
        at = 5 + number * (LINK_AGAIN - 6) / MANY
        if number % 25 == 0:
            shadow.push(at)
        elif number % 25 < 5:
            shadow.read(at, sbp=80 + number % 40, dbp=45, hr=90 + number % 50)
        else:
            shadow.keep("note", at, text=f"{number} " + "x" * 1900)
    shadow.story.at(LINK_AGAIN)
    batches = in_batches(shadow.kept)
    dice.shuffle(batches)
    found = [status for batch in batches for status in statuses(shadow.send(dice.sample(batch, len(batch))))]
    card = shadow.story.card()
    again = statuses(shadow.send(dice.sample(shadow.kept, 100)))

    assert (found, again) == ([201] * MANY, [200] * 100)
    assert len(batches) > 1
    assert shadow.story.card() == card
    assert (Note.objects.count(), [each["count"] for each in card["given"]]) == (MANY * 4 // 5, [MANY // 25])
    call_command("verify_journal", states=True)


def acts(shadow: Shadow) -> None:
    """Of each kind that a crew enters, some building on others."""
    fluid = shadow.story.dose("crystalloid-bolus", "500 mL")
    bolus = shadow.keep("intervention", 6, "given_at", **fluid, status="running", over_min=15)
    shadow.read(10, sbp=70, dbp=36)
    dose = shadow.push(12)
    shadow.keep("change", 20, intervention=bolus, status="finished")
    shadow.read(15, sbp=96, dbp=60)
    request = shadow.keep("order", 21, **shadow.story.dose(PUSH, "40 mcg"), reason="no response")
    shadow.keep("withdraw", None, order=request, reason="pressure is back")
    target = {"kind": "intervention", "id": dose}
    shadow.keep("correction", None, target=target, reason="other patient")
    shadow.keep("patch", None, destination="Mere General")
    shadow.keep("phase", 22, phase="transport")
    shadow.keep("coverage", 23, until=shadow.time(40))
    shadow.push(300, "60 mcg")
    pressor = shadow.story.dose("norepinephrine-infusion", "8 mcg/min", concentration="16 mcg/mL")
    shadow.keep("intervention", 310, "given_at", **pressor, status="running")
    shadow.read(314, sbp=90, dbp=60)
    shadow.keep("handover", 400, to="Dr. Fenn")
    shadow.keep("note", 401, text="cleaned up")


def told(shadow: Shadow, deliver: Callable[[list[Any]], None], order: list[int]) -> str:
    """The card, in words, after the kept entries were delivered in this order."""
    story = shadow.story.open().at(5)
    story.read(sbp=84, dbp=40)
    shadow.kept.clear()
    acts(shadow)
    assert len(shadow.kept) == len(order)
    story.at(LINK_AGAIN)
    deliver([shadow.kept[place] for place in order])
    return in_words(story.card())


@few_cases
@given(st.data())
def test_however_it_is_split_the_case_is_as_if_each_had_come_alone(shadow: Shadow, data: st.DataObject) -> None:
    count = 16
    order = data.draw(st.permutations(range(count)) | st.just(list(range(count))), label="order")
    cuts = sorted(data.draw(st.sets(st.integers(1, count - 1), max_size=3), label="cuts"))

    def alone(entries: list[Any]) -> None:
        for entry in entries:
            shadow.send([entry])

    def split(entries: list[Any]) -> None:
        for start, end in zip([0, *cuts], [*cuts, count], strict=True):
            shadow.send(entries[start:end])

    def twice(entries: list[Any]) -> None:
        split(entries)
        first = JournalEntry.objects.count()
        taken = [each for each in entries if JournalEntry.objects.filter(entry=each["id"]).exists()]
        assert statuses(shadow.send(taken)) == [200] * len(taken)
        assert JournalEntry.objects.count() == first

    assert told(shadow, alone, order) == told(shadow, split, order) == told(shadow, twice, order)
