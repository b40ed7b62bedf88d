"""A rule set read from its text: of each entry around the treatments what is read and what is refused, with its words.

TOML 1.0 and RFC 8259 say what a file, a table and an entry are; which of them a set must have is the project's own.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import Mock

import pytest

from dosing.load import judge, reader
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.reader import canonical, digest, read_text
from dosing.rules.plain import plain
from dosing.rules.rule_set import GoalRule, Source
from tests.dosing.bedside import RULES

WHOLE = RULES.content
ATROPINE = WHOLE["treatments"]["atropine"]
# A set of one treatment, without the names of drugs that it has not.
SET = {key: value for key, value in WHOLE.items() if key != "names"} | {"treatments": {"atropine": ATROPINE}}
UNKNOWN = "is not a known entry"
NO_NAME = "is not a name here: small letters, digits and hyphens, and not 'other'"
NO_ADULT = [("goals", f"none of {measure} is for every adult") for measure in ("map", "sbp")]


def without(table: dict[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key not in keys}


def faults_of(text: str, name: str = "draft.json") -> list[tuple[str, int, str]]:
    with pytest.raises(RuleSetFaults) as refused:
        read_text(text, name)
    assert {fault.file for fault in refused.value.faults} == {name}
    return [(fault.entry, fault.line, fault.text) for fault in refused.value.faults]


def number(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "source": "choice"}


def test_a_set_of_one_treatment_is_read_whole() -> None:
    rules = read_text(canonical(SET), "draft.json")

    assert (rules.name, rules.version, rules.title) == (RULES.name, RULES.version, RULES.title)
    assert list(rules.treatments) == ["atropine"]
    assert rules.treatments["atropine"] == RULES.treatments["atropine"]
    assert (rules.goals, rules.pressure, rules.watch, rules.ledger, rules.pump) == (
        *(RULES.goals, RULES.pressure, RULES.watch, RULES.ledger, RULES.pump),
    )
    assert (rules.flow, rules.drop_sets, rules.push_pull, rules.syringes) == (
        *(RULES.flow, RULES.drop_sets, RULES.push_pull, RULES.syringes),
    )
    assert (rules.findings, rules.sources, rules.tall_man) == (RULES.findings, RULES.sources, RULES.tall_man)
    assert (rules.text, rules.content) == (canonical(SET), SET)


def test_the_digest_is_that_of_the_content_with_its_keys_in_order() -> None:
    """SHA-256 (FIPS 180-4) of the JSON text, whatever the order in which it was written."""
    upside_down = dict(reversed(SET.items()))
    by_hand = hashlib.sha256(json.dumps(SET, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode())

    assert canonical({"b": "é", "a": [1, 2.5]}) == '{"a":[1,2.5],"b":"é"}'
    assert digest(upside_down) == digest(SET) == by_hand.hexdigest()
    assert read_text(json.dumps(upside_down), "draft.json").digest == by_hand.hexdigest()


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        ({"name": "x" * 61}, [("name", "is longer than 60 characters")]),
        ({"version": "x" * 31}, [("version", "is longer than 30 characters")]),
        ({"title": "x" * 201}, [("title", "is longer than 200 characters")]),
        ({"version": 1}, [("version", "is not a text")]),
        ({"odd": 1}, [("odd", UNKNOWN)]),
        (
            {"findings": without(WHOLE["findings"], "crackles")},
            [("findings.crackles", "is missing")],
        ),
        (
            {"findings": WHOLE["findings"] | {"odd": "trade"}},
            [("findings.odd", UNKNOWN)],
        ),
        (
            {"findings": WHOLE["findings"] | {"crackles": "nowhere"}},
            [("findings.crackles", "the source 'nowhere' is not among the sources")],
        ),
        ({"treatments": {}}, [("treatments", "is empty")]),
        (
            {"treatments": dict.fromkeys(("Atropine", "other", "9a", "a" * 61, "a_b"), ATROPINE)},
            [(f"treatments.{slug}", NO_NAME) for slug in ("9a", "Atropine", "a_b", "a" * 61, "other")],
        ),
        (
            {"sources": WHOLE["sources"] | {"choice": {"text": "t", "mark": "odd", "more": 1}}},
            [
                ("sources.choice.mark", "is 'odd', not one of memory, our choice, read, second-hand"),
                ("sources.choice.more", UNKNOWN),
            ],
        ),
        (
            {"tall_man": {"atropine": 3}},
            [
                ("tall_man.atropine", "is not a text"),
                ("tall_man.atropine", "is '': only the size of the letters may differ"),
            ],
        ),
        ({"goals": {}}, [("goals", "is not a list of tables"), *NO_ADULT]),
        (
            {"flow": without(WHOLE["flow"], "20") | {"21": WHOLE["flow"]["20"]}},
            [("flow.20", "is missing"), ("flow.21", UNKNOWN)],
        ),
        ({"drop_sets": []}, [("drop_sets", "is empty")]),
        ({"push_pull": []}, [("push_pull", "is empty")]),
        ({"syringes": []}, [("syringes", "is empty")]),
        (
            {"drop_sets": [{"drops": number(0, "drops per mL"), "odd": 1}]},
            [("drop_sets.0.drops.value", "is 0, not a number above zero"), ("drop_sets.0.odd", UNKNOWN)],
        ),
        (
            {"push_pull": [{"managed": number(1, "mL/min"), "odd": 1}]},
            [("push_pull.0.holds", "is missing"), ("push_pull.0.odd", UNKNOWN)],
        ),
        (
            {"syringes": [{"holds": number(1, "mL"), "odd": 1}]},
            [("syringes.0.reads", "is missing"), ("syringes.0.odd", UNKNOWN)],
        ),
        (
            {"pump": without(WHOLE["pump"], "step") | {"odd": 1}},
            [("pump.step", "is missing"), ("pump.odd", UNKNOWN)],
        ),
        (
            {"ledger": without(WHOLE["ledger"], "push_lasts_min") | {"odd": 1}},
            [("ledger.push_lasts_min", "is missing"), ("ledger.odd", UNKNOWN)],
        ),
    ],
    ids=lambda each: next(iter(each)) if isinstance(each, dict) else "",
)
def test_what_is_wrong_around_the_treatments(changed: dict[str, Any], found: list[tuple[str, str]]) -> None:
    assert faults_of(canonical(SET | changed)) == [(entry, 1, words) for entry, words in found]


@pytest.mark.parametrize("key", sorted(SET.keys() - {"end_resuscitation"}))  # a set may name none
def test_nothing_of_a_set_may_be_left_out(key: str) -> None:
    told = [("goals", 1, words) for _, words in NO_ADULT] if key == "goals" else [(key, 1, "is missing")]

    assert faults_of(canonical(without(SET, key)))[: len(told)] == told


GOAL = {"name": "g", "measure": "map", "floor": 65, "because": "why", "source": "choice"}


def test_a_goal_with_all_that_it_may_say() -> None:
    more = {"ceiling": 80, "adult": True, "impressions": ["septic"], "injuries": ["head"], "from_years": 18}
    more |= {"without_injuries": ["limb"], "bleeding_causes": ["gut"], "under_years": 70, "from_weeks": 20}
    rules = read_text(canonical(SET | {"goals": [*WHOLE["goals"], GOAL | more, GOAL]}), "draft.json")

    full, bare = rules.goals[-2:]
    named = {"name": "g", "measure": "map", "floor": 65, "because": "why", "source": RULES.sources["choice"]}
    assert bare == GoalRule(**named)
    assert full == GoalRule(
        **named,
        ceiling=80,
        adult=True,
        impressions=frozenset({"septic"}),
        injuries=frozenset({"head"}),
        without_injuries=frozenset({"limb"}),
        bleeding_causes=frozenset({"gut"}),
        from_years=18,
        under_years=70,
        from_weeks=20,
    )


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("name", 3, "is not a text"),
        ("measure", "dbp", "is 'dbp', not one of map, sbp"),
        ("floor", "x", "is not a number"),
        ("ceiling", "x", "is not a number"),
        ("because", 3, "is not a text"),
        ("source", "nowhere", "the source 'nowhere' is not among the sources"),
        ("adult", "yes", "is not true or false"),
        ("impressions", ["odd"], "holds 'odd', not one of anaphylactic, cardiogenic, hemorrhagic"),
        ("injuries", ["odd"], "holds 'odd', not one of head, limb, spinal_cord, torso"),
        ("without_injuries", ["odd"], "holds 'odd', not one of head, limb, spinal_cord, torso"),
        ("bleeding_causes", ["odd"], "holds 'odd', not one of gut, other, postpartum, trauma"),
        ("from_years", "x", "is not a number"),
        ("under_years", -1, "is -1, not a number from 0 up"),
        ("from_weeks", -1, "is -1, not a number from 0 up"),
        ("odd", 1, UNKNOWN),
    ],
)
def test_what_is_wrong_with_a_goal(key: str, value: Any, words: str) -> None:
    ((entry, _, told),) = faults_of(canonical(SET | {"goals": [*WHOLE["goals"], GOAL | {key: value}]}))

    assert entry == f"goals.{len(WHOLE['goals'])}.{key}"
    assert told.startswith(words)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('{"a": 1, "b": 2, "a": 3}', 0, "'a' stands twice"),
        ('{"a": {"b": 1, "c": 2, "c": 2}}', 0, "'c' stands twice"),
        ('{"a": }', 1, "Expecting value: line 1 column 7"),
        ('{\n"a": 1\n"b": 2}', 3, "Expecting ',' delimiter: line 3 column 1"),
        ("x = ", 0, "Invalid value (at end of document)"),
        ("x = 1\ny = \n", 2, "Invalid value (at line 2, column 5)"),
        ("x = 1\nx = 2\n", 2, "Cannot overwrite a value (at line 2"),
    ],
)
def test_a_text_that_cannot_be_read_is_one_fault_at_its_line(text: str, line: int, words: str) -> None:
    ((entry, at, told),) = faults_of(text, "own.toml")

    assert (entry, at) == ("", line)
    assert told.startswith(words)


def test_a_text_nested_without_end_is_a_fault_too() -> None:
    ((entry, _, _),) = faults_of('{"a": ' + "[" * 100_000, "own.toml")
    assert entry == ""


@pytest.mark.parametrize("base", ["nowhere", "../rule_sets/demonstration", "", "schema"])
def test_a_set_stands_on_a_shipped_one_or_on_none(base: str) -> None:
    told = f"there is no rule set {base!r} to extend"

    assert faults_of(json.dumps({"extends": base})) == [("extends", 0, told)]


def test_a_fault_of_a_shipped_set_names_its_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text("relevant = 3", encoding="utf-8")
    monkeypatch.setattr(reader, "SHIPPED", tmp_path)
    with pytest.raises(RuleSetFaults) as refused:
        reader.load_shipped("broken")

    assert {fault.file for fault in refused.value.faults} == {"broken.toml"}


def test_who_judges_a_text_tells_all_its_faults_and_that_it_takes_too_much_memory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert [(fault.entry, fault.text) for fault in judge.judge("a = ", "own.toml")] == [
        (entry, text) for entry, _, text in faults_of("a = ", "own.toml")
    ]
    assert judge.judge(RULES.text, "own.toml") == []
    monkeypatch.setattr(reader, "loads", Mock(side_effect=MemoryError))
    assert judge.judge("", "own.toml") == [Fault("own.toml", "", 0, judge.TOO_MUCH_MEMORY)]


def test_a_set_does_not_stand_on_itself() -> None:
    told = "there is no rule set 'conservative' to extend"

    assert faults_of('extends = "conservative"', "conservative.toml") == [("extends", 0, told)]


def test_what_a_set_says_is_put_upon_what_it_stands_on() -> None:
    """Tables are merged, lists go on, a single entry is replaced; a set may stand on one that stands on another."""
    own = 'extends = "conservative"\nname = "own"\nrelevant = 3\n[tall_man]\natropine = "ATROpine"\n'
    own += '[[goals]]\nname = "g"\nmeasure = "map"\nfloor = 70\nbecause = "why"\nadult = true\nsource = "choice"\n'
    assert faults_of(own, "own.toml") == [("relevant", 3, UNKNOWN)]
    rules = read_text(own.replace("relevant = 3\n", ""), "own.toml")

    assert (rules.name, rules.title.split()[0]) == ("own", "Conservative")
    assert rules.tall_man == RULES.tall_man | {"atropine": "ATROpine"}
    assert [goal.floor for goal in rules.goals] == [*(goal.floor for goal in RULES.goals), 70]
    assert len(rules.treatments["crystalloid-bolus"].bands) > len(RULES.treatments["crystalloid-bolus"].bands)
    assert list(read_text(rules.text, "whole.json").treatments) == list(
        RULES.treatments
    )  # the order in which they are shown
    assert read_text(rules.text, "whole.json").digest == rules.digest


def said(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def test_the_answer_for_programs_names_each_source_whole() -> None:
    source = Source("label", "the label", "read")
    whole = {"id": "label", "text": "the label", "mark": "read"}
    band = {"most": {"amount": "2 mg/kg", "at_most": "10 mg", "at_least": "1 mg", "source": "label"}, "note": "label"}
    entry = {"title": "odd", "starts_by_order": "label", "bands": [band], "volume": "9 mL", "count": 3}
    named = SimpleNamespace(title="ODD")
    rules = SimpleNamespace(
        content={"name": "n", "treatments": {"x": entry}, "sources": {"label": {}}, "findings": {"y": "label"}},
        treatments={"x": named},
        sources={"label": source},
        digest="d",
    )

    limit = {"amount": said(2, "mg/kg"), "at_most": said(10, "mg"), "at_least": said(1, "mg"), "source": whole}
    assert plain(rules) == {
        "name": "n",
        "findings": {"y": whole},
        "digest": "d",
        "sources": [whole],
        "treatments": [
            {"treatment": "x", "title": "ODD", "starts_by_order": whole, "count": 3, "volume": said(9, "mL")}
            | {"bands": [{"most": limit, "note": "label"}]}
        ],
    }
