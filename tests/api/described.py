"""Holds an answer against what the API's description says of its method, address and status."""

from __future__ import annotations

import re
from datetime import datetime
from functools import cache
from typing import Any

from django.urls import Resolver404, resolve
from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from api.views.schema import description
from tests.api.fits import Shapes

HELD: set[tuple[str, str, int]] = set()  # method, address and status of what was held against its description
PROBLEM = "#/components/schemas/ProblemDocument"
FORMATS = FormatChecker(("uuid",))
UNDESCRIBED = ("/api/v1/schema/", "/api/v1/docs/")


@FORMATS.checks("date-time", raises=ValueError)
def has_an_offset(value: object) -> bool:
    """Whether a text is a time as RFC 3339 has it."""
    return not isinstance(value, str) or datetime.fromisoformat(value).tzinfo is not None


def told_of(method: str, path: str, answer: Any) -> str:
    """Where the description says what an answer is; fails where it does not tell of it."""
    route = address_of(path)
    operation = description()["paths"].get(route, {}).get(method.lower())
    if operation is None:  # no such address, or not with this method
        assert answer.status_code in (401, 404, 405), f"{method} {path} is not described"
        return PROBLEM
    status = str(answer.status_code)
    assert status in operation["responses"], f"{method} {route} does not tell of {status}"
    content = operation["responses"][status]["content"]
    assert answer["Content-Type"] in content, f"{method} {route} {status}"
    HELD.add((method, route, answer.status_code))
    schema: str = content[answer["Content-Type"]]["schema"]["$ref"]
    return schema


def address_of(path: str) -> str:
    """The address with its placeholders; empty where there is none."""
    try:
        return re.sub(r"<\w+:(\w+)>", r"{\1}", "/" + resolve(path).route)
    except Resolver404:
        return ""


@cache
def validator(schema: str) -> Draft202012Validator:
    """What holds a value against one schema of the description."""
    registry = Registry().with_resource("urn:api", Resource(description(), DRAFT202012))
    return Draft202012Validator({"$ref": f"urn:api{schema}"}, registry=registry, format_checker=FORMATS)


@cache
def shapes() -> Shapes:
    """The same, for a quick yes or no."""
    return Shapes(description(), FORMATS)


def fits(schema: str, value: Any) -> bool:
    """Whether a value is as a schema says."""
    return shapes().named(schema)(value)


def faults(schema: str, value: Any) -> list[str]:
    """What in a value is not as a schema says."""
    return [
        f"{'/'.join(map(str, fault.absolute_path))}: {fault.message}" for fault in validator(schema).iter_errors(value)
    ]


def hold(method: str, path: str, answer: Any) -> None:
    """Fail where an answer is not what the description says."""
    told = method != "OPTIONS" and not path.startswith(UNDESCRIBED)
    if told and answer.headers.get("Content-Type", "").startswith("application/"):
        schema, value = told_of(method, path, answer), answer.json()
        assert fits(schema, value), f"{method} {path}: {faults(schema, value)}"
