"""What is published of the shape of rule sets is current; schema (JSON Schema, draft 2020-12) and loader agree of it.

Both follow from the same structures, by readers of their own: what one takes for a shape the other must, too.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from dosing.load import reader, reference
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.reader import SHIPPED
from dosing.rules.vital_signs import SCALES, UNITS
from dosing.rules.words import MEASUREMENTS
from tests.depth import thinned
from tests.dosing.drafts import CONTENT, mutations

SCHEMA = json.loads((SHIPPED / "schema.json").read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
CUT_SHORT = "has more faults: mend these first"
OF_ANOTHER_SENSE = (-1, 1e400, ["nothing that is known"])  # of the right kind, and still wrong
# What only the loader can see: it concerns more than one entry, or what the entries mean.
BEYOND_THE_SHAPE = (
    "among the sources",
    "no unit is said",
    "only the size of the letters",
    "none of",
    "the treatment in",
    "hard limit",
    "exceeds",
    "way ",
    "no treatment here",
    "not a treatment here",
    "a class of drugs here",
    "is not among",
    "say of what this number is",
    "is stated in",
    "not a volume",
    "makes",
    "prefilled",
    "label",
    "is missing: of what",
    "too short to tell",
    "settings are missing",
)


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_it_knows_what_can_be_measured() -> None:
    """A treatment may want any number with a unit; a limit is set for what alarms."""
    found = [SCHEMA["$defs"][name]["properties"]["measurement"]["enum"] for name in ("VitalSignRule", "Wants")]

    assert list(map(set, found)) == [{*UNITS, *SCALES}, MEASUREMENTS]


@pytest.mark.parametrize("path", reference.files(), ids=lambda path: path.name)
def test_what_is_published_is_what_the_structures_say(path: Path) -> None:
    """If this fails, `python -m dosing.load.reference` writes it anew."""
    assert path.read_text(encoding="utf-8") == reference.files()[path]


def test_every_table_is_closed_and_says_what_it_is() -> None:
    tables = [SCHEMA, *SCHEMA["$defs"].values()]
    assert all(table["additionalProperties"] is False and table["description"] for table in tables)


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
def test_both_shipped_sets_hold_to_it(name: str) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(reader.load_shipped(name).content)] == []


def test_every_change_of_a_set_loads_or_is_refused_with_named_faults_and_the_schema_agrees_of_its_shape() -> None:
    """Every entry of the demonstration rules left out or replaced: never one takes what the other has no shape for."""
    refused, loaded, nameless, different = 0, 0, [], []
    for path, value, content in thinned(mutations(), every=97):
        faults = faults_of(content)
        refused, loaded = refused + bool(faults), loaded + (not faults)
        nameless += [fault for fault in faults if not (fault.entry and fault.text) and fault.text != CUT_SHORT]
        of_shape = [fault for fault in map(str, faults) if not any(words in fault for words in BEYOND_THE_SHAPE)]
        if value not in OF_ANOTHER_SENSE and (of_shape if fits(content, path[0]) else not faults):
            different.append((path, value, of_shape[:2]))

    assert nameless == []
    assert different == []
    assert refused > 3 * loaded > 0


def fits(content: dict[str, Any], table: str) -> bool:
    """Whether the schema takes this content, of which only one table differs from a set that it takes."""
    if table not in content:
        return table not in SCHEMA["required"]
    return VALIDATOR.evolve(schema=SCHEMA["properties"][table]).is_valid(content[table])


def faults_of(content: dict[str, Any]) -> list[Fault]:
    try:
        reader.loads(json.dumps(content), "draft.json")
    except RuleSetFaults as refused:
        return refused.faults
    return []


def test_an_entry_that_nobody_knows_is_refused_by_both() -> None:
    for path in (("pressure",), ("treatments", "atropine"), ("treatments", "atropine", "reassessment"), ()):
        content = copy.deepcopy(CONTENT)
        table: Any = content
        for key in path:
            table = table[key]
        table["unheard_of"] = 1
        assert not VALIDATOR.is_valid(content)
        with pytest.raises(RuleSetFaults, match="is not a known entry"):
            reader.loads(json.dumps(content))
