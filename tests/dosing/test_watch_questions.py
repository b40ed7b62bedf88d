"""A question that nobody answers, an instruction that nobody has understood: when each alarms, and what it says."""

from __future__ import annotations

import pytest

from dosing.ground.waiting import Waiting
from dosing.watch.causes import Cause, watch
from tests.copying import replace
from tests.dosing.bedside import RULES
from tests.dosing.cast import at, case

QUESTION = Waiting(id="question", asked=True, about="refusal", since=at(2))
INSTRUCTION = Waiting(id="instruction", asked=False, about="", since=at(2))
ALERTS = [
    (QUESTION, 2, "question_waiting", "Question waiting since 10:02 UTC: refusal"),  # contract: 2 min
    (INSTRUCTION, 1, "readback_waiting", "Instruction not confirmed since 10:02 UTC"),  # contract: 60 s
]


@pytest.mark.parametrize(("waits", "minutes", "kind", "words"), ALERTS, ids=["question", "instruction"])
def test_it_alarms_once_its_time_is_over(waits, minutes, kind, words):
    facts = case(waiting=(waits,), last_contact_at=at(2))
    over = at(2 + minutes)

    before = watch(facts, RULES, at(2 + minutes - 0.1))
    assert before.causes == ()
    assert before.next_at == over
    assert watch(facts, RULES, over).causes == (Cause(kind, waits.id, "medium", words, over),)


def test_a_case_that_has_ended_waits_for_nobody():
    ended = replace(case(waiting=(QUESTION, INSTRUCTION)), state="closed", ended_at=at(3))

    assert watch(ended, RULES, at(30)).causes == ()
