"""What holds the answers against the description says the same as a validator of JSON Schema."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from api.views.schema import description
from tests.api import described
from tests.api.conftest import ago, push_dose, request, syringe, vitals
from tests.api.fits import Shapes
from tests.depth import thinned

CARD = "#/components/schemas/Card"
ODD: tuple[Any, ...] = (
    None,
    True,
    False,
    -1,
    0,
    1,
    1.0,
    2.5,
    7,
    "",
    "a",
    "ab",
    "abc",
    [],
    [1],
    [1, "a"],
    [1, 2, 3],
    {},
)
ODD += ({"a": 1}, {"a": "x", "b": 2}, {"b": 2}, "2030-01-05T12:00:00Z", "2030-01-05T12:00:00")
ODD += (
    "00000000-0000-7000-8000-000000000000",
    "00000000000070008000000000000000",
    "00000000-0000-7000-8000-00000000000g",
)
NUMBER = {"type": "number"}
SMALL = [
    *({"type": name} for name in ("object", "array", "string", "boolean", "null", "number", "integer")),
    {"type": ["string", "null"]},
    {"enum": ["a", None]},
    {"enum": ["", "abc"]},
    {"anyOf": [NUMBER, {"type": "null"}]},
    {"oneOf": [NUMBER, {"type": "integer"}]},
    {"allOf": [NUMBER, {"minimum": 1}]},
    {"minimum": 1},
    {"maximum": 1},
    {"exclusiveMinimum": 1},
    {"maxLength": 2},
    {"pattern": "^a?$"},
    {"format": "uuid"},
    {"format": "date-time"},
    {"required": ["a"]},
    {"properties": {"a": NUMBER}},
    {"properties": {"a": NUMBER}, "additionalProperties": False},
    {"additionalProperties": NUMBER},
    {"items": NUMBER},
    {"prefixItems": [NUMBER, {"type": "string"}], "items": False},
    {"prefixItems": [NUMBER, {"type": "string"}], "items": NUMBER},
    {"minItems": 2},
    {"maxItems": 1},
    {"$ref": "#/parts/tree"},
    {"description": "anything", "default": 1},
]
TREE = {"parts": {"tree": {"properties": {"a": {"$ref": "#/parts/tree"}}, "type": ["object", "integer"]}}}


@pytest.mark.parametrize("schema", SMALL, ids=str)
def test_each_keyword_says_what_it_says_to_a_validator(schema: dict[str, Any]) -> None:
    slow = Draft202012Validator({**schema, **TREE}, format_checker=described.FORMATS)
    fits = Shapes(TREE, described.FORMATS).of(schema)

    values = [*ODD, {"a": {"a": 1}}, {"a": {"a": "x"}}]
    assert [value for value in values if fits(value) != slow.is_valid(value)] == []


def test_a_keyword_that_is_not_known_is_not_passed_over() -> None:
    with pytest.raises(AssertionError, match="uniqueItems"):
        Shapes({}, described.FORMATS).of({"items": {"uniqueItems": True}})


def test_every_schema_of_the_description_is_understood() -> None:
    shapes = Shapes(description(), described.FORMATS)
    for name in description()["components"]["schemas"]:
        shapes.named(f"#/components/schemas/{name}")


def changed(value: Any, part: Any) -> Iterator[Any]:
    """The value while each thing within this part of it is left out, or replaced by something else."""
    keys = list(part) if isinstance(part, dict) else range(len(part)) if isinstance(part, list) else ()
    for key in keys:
        kept = part[key]
        for other in (None, True, "a", 1.5, [], {}):
            part[key] = other
            yield value
        if isinstance(part, dict):
            del part[key]
            yield value
        part[key] = kept
        yield from changed(value, kept)


def test_a_card_with_any_part_changed_is_found_or_passed_by_both(cast: Any, case: str) -> None:
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=84, dbp=41, hr=128))
    cast.crew.post(f"cases/{case}/containers/", syringe())
    cast.crew.post(f"cases/{case}/interventions/", push_dose(30))
    cast.crew.post(f"cases/{case}/orders/", request())
    cast.crew.patch(f"cases/{case}/", {"eta": ago(minutes=-20)})
    card = cast.crew.get(f"cases/{case}/").json()
    assert described.faults(CARD, card) == []
    found = [
        (described.fits(CARD, each), described.faults(CARD, each) == [])
        for each in thinned(changed(card, card), every=29)
    ]

    assert {quick for quick, _slow in found} == {True, False}
    assert all(quick == slow for quick, slow in found)
