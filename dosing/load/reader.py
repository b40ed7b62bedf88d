"""Reads a rule set file: every table, every number with its source, all faults at once."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from dosing.load import checks, left_out, size
from dosing.load.book import Book
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.table import Table, read
from dosing.rules.rule_set import RuleSet

SHIPPED = Path(__file__).parents[1] / "rule_sets"


@lru_cache(maxsize=32)
def loads(text: str, name: str = "rule set") -> RuleSet:
    """Read and check a rule set file's text, or the JSON of a whole set, the same text once.

    Raises RuleSetFaults, which names every fault at once by entry and line, with ``name`` before each.
    """
    return read_text(text, name)


@cache
def load_shipped(name: str) -> RuleSet:
    """One of the rule sets that ship with the project: ``demonstration`` or ``conservative``; read once."""
    return read_text((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")


def read_text(raw: str, name: str) -> RuleSet:
    """What ``loads`` gives, read anew."""
    content = _parsed(name, raw)
    if too_large := size.fault_of(content):
        raise RuleSetFaults([Fault(name, "", 0, too_large)])
    base = _base(name, content.pop("extends", None))
    book = Book(name, raw, base)
    whole = _upon(base, content)
    # As JSON where it stands upon another, in the order of its treatments.
    text = json.dumps(whole, separators=(",", ":"), ensure_ascii=False) if base else raw
    all_of_it = left_out.filled(whole)
    rules = read(RuleSet, Table(book, "", all_of_it), digest=digest(whole), content=all_of_it, text=text)
    unread = {fault.entry.split(".")[1] for fault in book.faults if fault.entry.startswith("treatments.")}
    for entry, text in checks.found_in(rules, unread) if rules else ():
        book.fault(entry, text)
    if book.faults or rules is None:
        raise RuleSetFaults(book.faults)
    return rules


def _parsed(name: str, raw: str) -> dict[str, Any]:
    try:
        content: dict[str, Any] = _json(raw) if raw.startswith("{") else tomllib.loads(raw, parse_float=size.read_float)
        return content
    except RecursionError:
        raise RuleSetFaults([Fault(name, "", 0, size.TOO_DEEP)]) from None
    except ValueError as error:
        found = re.search(r"line (\d+)", str(error))
        text = size.TOO_MANY_DIGITS if "integer string conversion" in str(error) else str(error)
        raise RuleSetFaults([Fault(name, "", int(found[1]) if found else 0, text)]) from None


def _json(raw: str) -> Any:
    """JSON of which no entry stands twice, as TOML has it."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            twice = next(key for number, (key, _) in enumerate(pairs) if key in dict(pairs[:number]))
            raise ValueError(f"{twice!r} stands twice")
        return found

    return json.loads(raw, object_pairs_hook=once, parse_float=size.read_float)


def _base(name: str, extends: object) -> dict[str, Any]:
    """The content of the shipped set that a file stands upon, so that it need say only what differs."""
    if extends is None:
        return {}
    below = SHIPPED / f"{extends}.toml"
    if below.name == name or below.parent != SHIPPED or not below.is_file():
        raise RuleSetFaults([Fault(name, "extends", 0, f"there is no rule set {extends!r} to extend")])
    content = _parsed(below.name, below.read_text(encoding="utf-8"))
    whole: dict[str, Any] = _upon(_base(below.name, content.pop("extends", None)), content)
    return whole


def _upon(below: Any, above: Any) -> Any:
    """Tables are merged and lists appended, so that a band that is added decides."""
    if isinstance(below, dict) and isinstance(above, dict):
        extended = {key: _upon(below[key], value) if key in below else value for key, value in above.items()}
        return below | extended
    if isinstance(below, list) and isinstance(above, list):
        return below + above
    return above


def digest(content: dict[str, Any]) -> str:
    """SHA-256 of the content with keys in order: the same rules have the same digest whatever their layout."""
    return hashlib.sha256(canonical(content).encode()).hexdigest()


def canonical(content: dict[str, Any]) -> str:
    """The content as JSON with keys in order."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
