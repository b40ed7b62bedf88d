"""The OpenAPI description as plain rows for a page that a person reads: routes by their first word, and the shapes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

Document = Mapping[str, Any]
METHODS = ("get", "post", "patch")
SAMPLES = {"integer": 0, "number": 0, "boolean": False, "string": "", "array": [], "object": {}}
BOUNDS = (
    ("minimum", "from"),
    ("exclusiveMinimum", "above"),
    ("maximum", "to"),
    ("maxLength", "most characters"),
    ("maxItems", "at most"),
)


def reference(document: Document) -> dict[str, Any]:
    """Title, caution, `groups` of routes and `shapes` by name, as the page's template places them."""
    routes = [
        _route(method, path, operation, document)
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
        if method in METHODS
    ]
    return {
        "title": document["info"]["title"],
        "version": document["info"]["version"],
        "description": document["info"].get("description", ""),
        "groups": [(name, [*group]) for name, group in groupby(routes, key=lambda route: route["tag"])],
        "shapes": [_shape(name, schema) for name, schema in sorted(document["components"]["schemas"].items())],
    }


def _route(method: str, path: str, operation: Document, document: Document) -> dict[str, Any]:
    body = operation.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema")
    answers = operation["responses"]
    good = next(answers[status] for status in ("200", "201") if status in answers)
    shown = next((each.get("schema") for each in good.get("content", {}).values()), None)
    return {
        "id": operation["operationId"],
        "tag": operation["tags"][0],
        "method": method.upper(),
        "path": path,
        "description": _words(operation),
        "parameters": [_row(each["name"], each["schema"], each.get("required", False), each) for each in
                       operation.get("parameters", ())],
        "entry": type_text(body) if body else "",
        "sample": json.dumps(_sample(body, document), indent=2) if body else "",
        "answer": type_text(shown) if shown else "",
        "statuses": ", ".join(sorted(answers)),
    }  # fmt: skip


def _shape(name: str, schema: Document) -> dict[str, Any]:
    needed = schema.get("required", ())
    return {
        "name": name,
        "description": _words(schema),
        "type": "" if schema.get("properties") else type_text(schema),
        "fields": [_row(field, known, field in needed, known) for field, known in schema.get("properties", {}).items()],
    }


def _row(name: str, schema: Document, needed: bool, told: Document) -> dict[str, Any]:
    return {"name": name, "type": type_text(schema), "needed": needed, "description": _words(told)}


def _words(told: Document) -> SafeString:
    """Its description, with what stands in backticks as code."""
    parts = enumerate(told.get("description", "").split("`"))
    return format_html_join(
        "", "{}", ((format_html("<code>{}</code>", part) if at % 2 else part,) for at, part in parts)
    )


def type_text(schema: Document) -> SafeString:
    """What a value may be, in words, with a link for each named shape: ``number from 20 to 300 or text``."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return format_html('<a href="#shape-{}">{}</a>', name, name)
    for choice in ("oneOf", "anyOf", "allOf"):
        if choice in schema:
            return format_html_join(" or ", "{}", ((type_text(each),) for each in schema[choice]))
    if "enum" in schema:
        return format_html_join(" · ", "<code>{}</code>", ((each,) for each in schema["enum"]))
    if schema.get("type") == "array":
        return format_html("list of {}", type_text(schema.get("items", {})))
    return format_html("{}", " ".join(_plain(schema)))


def _plain(schema: Document) -> Iterator[str]:
    kinds = schema.get("type", "anything")
    kinds = [kinds] if isinstance(kinds, str) else kinds
    words = {"string": schema.get("format") or "text", "object": "an object"}
    yield " or ".join(words.get(kind, kind) for kind in kinds)
    if "pattern" in schema:
        yield f"like {schema['pattern']}"
    for bound, word in BOUNDS:
        if bound in schema:
            yield f"{word} {schema[bound]:g}"


def _sample(schema: Document, document: Document) -> Any:
    """A body to begin from: the fields that must be there, each with an empty value of its type."""
    if "$ref" in schema:
        return _sample(document["components"]["schemas"][schema["$ref"].rpartition("/")[2]], document)
    for choice in ("oneOf", "anyOf", "allOf"):
        if choice in schema:
            return _sample(schema[choice][0], document)
    if "enum" in schema:
        return schema["enum"][0]
    if "properties" in schema:
        return {name: _sample(schema["properties"][name], document) for name in schema.get("required", ())}
    kind = schema.get("type", "string")
    return SAMPLES.get(kind if isinstance(kind, str) else kind[0])
