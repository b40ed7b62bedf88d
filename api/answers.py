"""What the API answers, in its description: the JSON Schema of the structures that are answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
from drf_spectacular.extensions import OpenApiSerializerExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from msgspec import Struct, inspect

Schemas = dict[str, dict[str, Any]]


class AnswerSchema(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """A structure as a closed schema, each that it holds as one of its own; their docstrings describe them."""

    target_class = "msgspec.Struct"
    match_subclasses = True

    def get_name(self, auto_schema: AutoSchema, direction: str) -> str:
        """The name of the structure."""
        return str(self.target.__name__)

    def get_identity(self, auto_schema: AutoSchema, direction: str) -> Any:
        """The same, whether it is an answer or a part of one."""
        return self.target.__name__

    def map_serializer(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        """Its schema; raises ValueError where another schema has the name of one of its parts."""
        found = schemas_of(self.target)
        own = found.pop(self.target.__name__)
        for name, schema in found.items():
            part = ResolvedComponent(name, ResolvedComponent.SCHEMA, schema, name)  # type: ignore[no-untyped-call]
            auto_schema.registry.register_on_missing(part)
            if auto_schema.registry[part].schema != schema:
                raise ValueError(f"two schemas are called {name}")
        return own


def schemas_of(answer: type[Struct]) -> Schemas:
    """The schemas of a structure and of all that it holds, by name."""
    _, found = msgspec.json.schema_components([answer], ref_template="#/components/schemas/{name}")
    sparse = {kind.__name__ for kind in _structures(inspect.type_info(answer)) if kind.__struct_config__.omit_defaults}
    return {name: _closed(schema, sparse=name in sparse) for name, schema in found.items()}


def _closed(schema: dict[str, Any], *, sparse: bool) -> dict[str, Any]:
    """No field but these; one that has a default is always there too, unless defaults are left out (`sparse`)."""
    fields = schema["properties"].items()
    return {
        "type": "object",
        "description": _in_json(schema.get("description", "")),
        "properties": {name: _told(field) for name, field in fields},
        "required": schema["required"] if sparse else [name for name, field in fields if _always(name, field, schema)],
        "additionalProperties": False,
    }


def _in_json(docstring: str) -> str:
    """The words of a docstring on one line, for readers of JSON."""
    return " ".join(docstring.replace("``", "`").replace("None", "null").split())


def _told(field: dict[str, Any]) -> dict[str, Any]:
    """A field without its default; a whole number is a number."""
    told = {key: value for key, value in field.items() if key != "default"}
    kinds = told.get("anyOf", [])
    if {"type": "number"} in kinds:
        kinds = [kind for kind in kinds if kind != {"type": "integer"}]
        return {**told, "anyOf": kinds} if len(kinds) > 1 else kinds[0]
    return told


def _always(name: str, field: dict[str, Any], schema: dict[str, Any]) -> bool:
    return name in schema["required"] or "default" in field


def _structures(told: object) -> Iterator[type[Struct]]:
    """The structures in a type, as `msgspec.inspect` tells of it."""
    if isinstance(told, inspect.StructType):
        yield told.cls
    if isinstance(told, tuple):
        for each in told:
            yield from _structures(each)
    elif isinstance(told, inspect.Type | inspect.Field):
        yield from _structures(msgspec.structs.astuple(told))
