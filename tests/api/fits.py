"""Whether a value fits a JSON Schema: by functions that are put together once, where a validator walks it each time.

It only says yes or no, knows the keywords that the description of the API uses, and takes no schema with another one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from jsonschema import FormatChecker

Fits = Callable[[Any], bool]
Schema = dict[str, Any]


def is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


TYPES: dict[str, Fits] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "boolean": lambda value: isinstance(value, bool),
    "null": lambda value: value is None,
    "number": is_number,
    "integer": lambda value: is_number(value) and value == value // 1,
}
ANNOTATIONS = {"description", "default"}
KNOWN = ANNOTATIONS | {"type", "enum", "$ref", "anyOf", "oneOf", "allOf", "properties", "required"}
KNOWN |= {"additionalProperties", "items", "prefixItems", "minItems", "maxItems", "maxLength", "pattern", "format"}
KNOWN |= {"minimum", "maximum", "exclusiveMinimum"}


class Shapes:
    """The schemas of one document, each made into a function when it is first asked for."""

    def __init__(self, document: Schema, formats: FormatChecker) -> None:
        self._document, self._formats = document, formats
        self._made: dict[str, Fits] = {}

    def named(self, reference: str) -> Fits:
        """What says whether a value fits the schema at a reference such as ``#/components/schemas/Card``."""
        if reference not in self._made:
            self._made[reference] = lambda value: self._made[reference](value)  # for a schema that holds itself
            schema = self._document
            for part in reference.removeprefix("#/").split("/"):
                schema = schema[part]
            self._made[reference] = self.of(schema)
        return self._made[reference]

    def of(self, schema: Schema | bool) -> Fits:
        """What says whether a value fits this schema."""
        if isinstance(schema, bool):
            return lambda value: schema
        assert schema.keys() <= KNOWN, f"not known: {schema.keys() - KNOWN}"
        tests = [*self._of_any(schema), *self._of_text(schema), *_of_number(schema)]
        tests += [*self._of_object(schema), *self._of_list(schema)]
        return tests[0] if len(tests) == 1 else lambda value: all(test(value) for test in tests)

    def _of_any(self, schema: Schema) -> Iterator[Fits]:
        if "type" in schema:
            names = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
            kinds = [TYPES[name] for name in names]
            yield kinds[0] if len(kinds) == 1 else lambda value: any(kind(value) for kind in kinds)
        if "enum" in schema:
            assert all(isinstance(each, str | None) for each in schema["enum"])
            yield lambda value: isinstance(value, str | None) and value in schema["enum"]
        if "$ref" in schema:
            yield self.named(schema["$ref"])
        if "anyOf" in schema:
            some = [self.of(each) for each in schema["anyOf"]]
            yield lambda value: any(fits(value) for fits in some)
        if "oneOf" in schema:
            ones = [self.of(each) for each in schema["oneOf"]]
            yield lambda value: sum(fits(value) for fits in ones) == 1
        yield from (self.of(each) for each in schema.get("allOf", ()))

    def _of_text(self, schema: Schema) -> Iterator[Fits]:
        if "maxLength" in schema:
            yield lambda value: not isinstance(value, str) or len(value) <= schema["maxLength"]
        if "pattern" in schema:
            pattern = re.compile(schema["pattern"])
            yield lambda value: not isinstance(value, str) or pattern.search(value) is not None
        if "format" in schema:
            yield lambda value: self._formats.conforms(value, schema["format"])

    def _of_object(self, schema: Schema) -> Iterator[Fits]:
        required = set(schema.get("required", ()))
        own = {name: self.of(each) for name, each in schema.get("properties", {}).items()}
        other = self.of(schema.get("additionalProperties", True))
        if required or own or "additionalProperties" in schema:
            yield (
                lambda value: (
                    not isinstance(value, dict)
                    or (value.keys() >= required and all(own.get(name, other)(each) for name, each in value.items()))
                )
            )

    def _of_list(self, schema: Schema) -> Iterator[Fits]:
        first = [self.of(each) for each in schema.get("prefixItems", ())]
        rest = self.of(schema.get("items", True))
        least, most = schema.get("minItems", 0), schema.get("maxItems", float("inf"))
        if schema.keys() & {"prefixItems", "items", "minItems", "maxItems"}:
            yield (
                lambda value: (
                    not isinstance(value, list)
                    or (
                        least <= len(value) <= most
                        and all(fits(each) for fits, each in zip(first, value, strict=False))
                        and all(rest(each) for each in value[len(first) :])
                    )
                )
            )


def _of_number(schema: Schema) -> Iterator[Fits]:
    if "minimum" in schema:
        yield lambda value: not is_number(value) or value >= schema["minimum"]
    if "maximum" in schema:
        yield lambda value: not is_number(value) or value <= schema["maximum"]
    if "exclusiveMinimum" in schema:
        yield lambda value: not is_number(value) or value > schema["exclusiveMinimum"]
