"""What a rule set is refused for: each class of fault with its entry and its line, all of them at once.

The classes are those that the project's own rules ask of a set; published sets of rules state none.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.check.findings import level_of
from dosing.load import reader
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.reader import SHIPPED
from dosing.patient.reassess import NEEDS
from dosing.rules import words
from tests.dosing.broken_rule_sets import BOLUS, BROKEN

DEMONSTRATION = (SHIPPED / "demonstration.toml").read_text(encoding="utf-8")


def faults_of(text: str, name: str = "draft.toml") -> list[Fault]:
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(text, name)
    return refused.value.faults


@pytest.mark.parametrize("draft", BROKEN, ids=lambda draft: draft.what)
def test_each_class_of_fault_is_refused_by_file_entry_and_line(draft: Any) -> None:
    text = draft.of(DEMONSTRATION)

    found = faults_of(text)

    assert {fault.file for fault in found} == {"draft.toml"}
    fault = next((each for each in found if draft.words in each.text and each.entry == draft.entry), None)
    assert fault is not None, found
    assert draft.line in text.splitlines()[fault.line - 1]


def test_faults_of_all_classes_are_named_at_once() -> None:
    """Faults of reading and of checking together, in one file; of two changes of one entry the first."""
    text, named = DEMONSTRATION, []
    for draft in BROKEN:
        judged = draft.entry == f"{BOLUS}.bands.3.hard"  # a treatment that cannot be read whole is not judged further
        if draft.old in text and not judged:
            text, named = draft.of(text), [*named, draft]

    found = faults_of(text)

    assert len(named) > 12
    assert [draft.what for draft in named if not any(draft.words in fault.text for fault in found)] == []


def test_the_same_entry_twice_is_refused_in_either_spelling() -> None:
    twice = DEMONSTRATION + "\n[treatments.atropine]\ntitle = 'atropine again'\n"
    (fault,) = faults_of(twice)
    assert twice.splitlines()[fault.line - 1] == "[treatments.atropine]"

    (fault,) = faults_of('{"name": "draft", "name": "another"}')
    assert "'name' stands twice" in fault.text


def test_the_measurements_that_a_rule_may_want_are_those_of_a_reading() -> None:
    from dosing.ground.facts import Reading

    assert set(Reading.__struct_fields__) >= words.MEASUREMENTS
    assert NEEDS.keys() == words.READINGS
    assert {level_of(code) for code in words.FINDINGS} <= {"caution", "needs_order", "over_hard_limit"}
