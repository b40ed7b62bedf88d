"""Digests over canonical JSON (RFC 8785), so that the same content always has the same digest."""

from __future__ import annotations

import hashlib
from typing import Any

import msgspec
import rfc8785

LEAF = b"\x00"  # RFC 6962, section 2.1: a leaf's prefix keeps an entry from being taken for a node


def plain(value: object) -> Any:
    """The value as JSON holds it: times, ids and dataclasses as text and dicts."""
    return msgspec.to_builtins(value)


def content_digest(operation: str, target: object, data: dict[str, Any]) -> str:
    """The digest by which a repeated entry is recognised: what was asked, of what, with which content."""
    return hashlib.sha256(rfc8785.dumps([operation, str(target), plain(data)])).hexdigest()


def chained_digest(before: str, line: dict[str, Any]) -> str:
    """The digest of a journal line that also covers the digest `before` it (hex, empty for the first)."""
    return hashlib.sha256(LEAF + bytes.fromhex(before) + rfc8785.dumps(line)).hexdigest()
