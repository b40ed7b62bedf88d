"""Digests over canonical JSON (RFC 8785), so that the same content always has the same digest."""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec
import rfc8785


def plain(value: object) -> Any:
    """The value as JSON holds it: times, ids and dataclasses as text and dicts."""
    return msgspec.to_builtins(value)


def content_digest(operation: str, target: object, data: dict[str, Any]) -> str:
    """The digest by which a repeated entry is recognized: what was asked, of what, with which content."""
    return hashlib.sha256(rfc8785.dumps([operation, str(target), plain(data)])).hexdigest()
