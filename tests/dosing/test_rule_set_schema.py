"""The published schema of rule sets (JSON Schema, draft 2020-12) and the loader refuse and take the same shapes."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from dosing import rule_set
from dosing.rule_set import SHIPPED
from dosing.rule_set_faults import RuleSetFaults
from tests.dosing.drafts import CONTENT, mutations

SCHEMA = json.loads((SHIPPED / "schema.json").read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
KINDS: tuple[Any, ...] = (True, "", [], {}, [1], "nothing that is known")
# What only the loader can see: it concerns more than one entry, or what the entries mean.
BEYOND_THE_SHAPE = (
    "among the sources",
    "no unit is said",
    "is not a unit",
    "only the size of the letters",
    "none of",
    "the treatment in",
    "hard limit",
    "exceeds",
    "way ",
    "no treatment here",
    "is not among",
    "is stated in",
    "not a volume",
    "makes",
    "prefilled",
    "label",
    "is missing: of what",
)


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
def test_both_shipped_sets_hold_to_it(name: str) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(rule_set.load_shipped(name).content)] == []


def test_whatever_the_loader_takes_the_schema_takes_and_whatever_shape_one_refuses_so_does_the_other() -> None:
    """Every entry of the demonstration rules left out or replaced: never one takes what the other has no shape for."""
    different = []
    for content in mutations(KINDS):
        try:
            rule_set.loads(json.dumps(content))
            faults = []
        except RuleSetFaults as refused:
            faults = [str(fault) for fault in refused.faults]
        fits = VALIDATOR.is_valid(content)
        of_shape = [fault for fault in faults if not any(words in fault for words in BEYOND_THE_SHAPE)]
        if (not faults and not fits) or (of_shape and fits):
            different.append((faults[:2], [error.json_path for error in VALIDATOR.iter_errors(content)][:2]))
    assert different == []


def test_an_entry_that_nobody_knows_is_refused_by_both() -> None:
    for path in (("pressure",), ("treatments", "atropine"), ("treatments", "atropine", "reassessment"), ()):
        content = copy.deepcopy(CONTENT)
        table: Any = content
        for key in path:
            table = table[key]
        table["unheard_of"] = 1
        assert not VALIDATOR.is_valid(content)
        with pytest.raises(RuleSetFaults, match="is no entry that is known here"):
            rule_set.loads(json.dumps(content))
