"""Reads a request's body as JSON, strictly: what two programs could read differently is refused."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from typing import IO, Any, NoReturn

from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser

MOST_BYTES = 256 * 1024
MOST_DEPTH = 32
MOST_DIGITS = 30
MOST_CHARACTERS = 60  # of a number with a point or an exponent
LEAST = sys.float_info.min  # below it a double keeps fewer digits, and then none


class TooLarge(APIException):
    """The body is over 256 KiB."""

    status_code = 413
    default_detail = "The body is larger than 256 KiB."
    default_code = "too_large"


class StrictJSONParser(BaseParser):
    """UTF-8 JSON of at most 256 KiB without repeated keys, NaN, infinities, half characters or deep nesting."""

    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The body's value; `ParseError` (400) where it is malformed, `TooLarge` (413) where it is too long."""
        request = (parser_context or {}).get("request")
        stated = request.META.get("CONTENT_LENGTH") if request is not None else None
        if stated and (len(stated) > MOST_DIGITS or int(stated) > MOST_BYTES):
            raise TooLarge
        body = stream.read(MOST_BYTES + 1)
        if len(body) > MOST_BYTES:
            raise TooLarge
        return read(body)


def read(body: bytes) -> Any:
    """The value that a JSON text stands for; `ParseError` says why it is refused."""
    try:
        value = json.loads(
            body.decode("utf-8"),
            object_pairs_hook=_object,
            parse_constant=_constant,
            parse_float=_float,
            parse_int=_integer,
        )
    except UnicodeDecodeError:
        raise ParseError("The body is not UTF-8.") from None
    except RecursionError:
        raise ParseError("The body is nested too deeply.") from None
    except json.JSONDecodeError as fault:
        raise ParseError(f"The body is not JSON: {fault.msg} at character {fault.pos}.") from None
    if body.count(b"[") + body.count(b"{") > MOST_DEPTH and _depth(value) > MOST_DEPTH:
        raise ParseError("The body is nested too deeply.")
    if b"\\ud" in body.lower() and not _whole_characters(value):
        raise ParseError("The body holds an incomplete character.")
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ParseError("An object names the same key twice.")
    return found


def _constant(name: str) -> NoReturn:
    raise ParseError(f"{name} is not a JSON number.")


def _float(text: str) -> float:
    if len(text) > MOST_CHARACTERS:
        raise ParseError("A number has too many digits.")
    value = float(text)
    if not math.isfinite(value):
        raise ParseError("A number is too large.")
    # 1e-400 is not nothing: told as 0 it would be another number than was sent.
    if abs(value) < LEAST and any(digit in "123456789" for digit in text.lower().partition("e")[0]):
        raise ParseError("A number is too small.")
    return value


def _integer(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise ParseError("A number is too large.")
    return int(text)


def _depth(value: Any) -> int:
    """How deep the value nests; not recursive, so that no input can exhaust the stack."""
    deepest, left = 0, [(value, 1)]
    while left:
        item, depth = left.pop()
        if isinstance(item, (dict, list)):
            deepest = max(deepest, depth)
            left.extend((inner, depth + 1) for inner in (item.values() if isinstance(item, dict) else item))
    return deepest


def _whole_characters(value: Any) -> bool:
    """False where a text holds one half of a surrogate pair, which no UTF-8 answer could repeat."""
    try:
        json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True
