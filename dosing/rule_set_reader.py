"""Reads a rule set file: every table, every number with its source, all faults at once."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any

from dosing import rule_set_faults
from dosing.rule_set import Figure, GoalRule, PressureRule, RuleSet, Source, WatchRule
from dosing.rule_set_faults import Fault, RuleSetFaults
from dosing.rule_set_table import Book, Table
from dosing.rule_set_treatment import read_treatment

MARKS = frozenset({"read", "second-hand", "memory", "our choice"})


def read(path: Path) -> RuleSet:
    """Read and check the file at ``path``; raises RuleSetFaults."""
    return read_text(path.read_text(encoding="utf-8"), path.name)


def read_text(raw: str, name: str) -> RuleSet:
    """Read and check a rule set file's text; ``name`` stands before each fault. Raises RuleSetFaults."""
    try:
        content = tomllib.loads(raw)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        raise RuleSetFaults([Fault(name, "", int(found[1]) if found else 0, str(error))]) from None
    book = Book(name, raw)
    rules = _rule_set(book, content)
    if rules is not None and not book.faults:
        for entry, text in rule_set_faults.found_in(rules):
            book.fault(entry, text)
    if book.faults or rules is None:
        raise RuleSetFaults(book.faults)
    return rules


def digest(content: dict[str, Any]) -> str:
    """SHA-256 of the content with keys in order: the same rules have the same digest whatever their layout."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _rule_set(book: Book, content: dict[str, Any]) -> RuleSet | None:
    root = Table(book, "", content)
    _sources(book, root.table("sources"))
    names = {key: root.text(key) for key in ("name", "version", "title")}
    findings = root.table("findings")
    tall_man = root.table("tall_man")
    treatments = root.table("treatments")
    tall = {key: tall_man.text(key) for key in tall_man.values}
    rules = RuleSet(
        **names,
        digest=digest(content),
        goals=tuple(_goal(table) for table in root.tables("goals")),
        treatments={slug: read_treatment(slug, treatments.table(slug), tall) for slug in treatments.values},
        pressure=_settings(PressureRule, root.table("pressure")),
        watch=_settings(WatchRule, root.table("watch")),
        findings={code: findings.source(code) for code in findings.values},
        sources=book.sources,
        tall_man=tall,
        flow=_flow(root.table("flow")),
        syringes=tuple((table.need_figure("holds"), table.need_figure("reads")) for table in root.tables("syringes")),
        content=content,
    )
    for table in (findings, tall_man, treatments, root):
        table.close()
    return rules


def _sources(book: Book, table: Table) -> None:
    for key in table.values:
        entry = table.table(key)
        mark = entry.text("mark")
        if mark not in MARKS:
            book.fault(f"sources.{key}", f"the mark is {mark!r}, not one of {', '.join(sorted(MARKS))}")
        book.sources[key] = Source(key, entry.text("text"), mark)
        entry.close()
    table.close()


def _goal(table: Table) -> GoalRule:
    goal = GoalRule(
        name=table.text("name"),
        measure=table.word("measure", {"map", "sbp"}),
        floor=table.need_number("floor"),
        ceiling=table.number("ceiling"),
        because=table.text("because"),
        source=table.source(),
        adult=table.flag("adult"),
        impressions=table.words("impressions"),
        injuries=table.words("injuries"),
        without_injuries=table.words("without_injuries"),
        bleeding_causes=table.words("bleeding_causes"),
        from_years=table.number("from_years"),
        under_years=table.number("under_years"),
    )
    table.close()
    return goal


def _settings(kind: Any, table: Table) -> Any:
    """A dataclass of plain numbers, each read from a table of value and source."""
    names = [item.name for item in fields(kind) if item.name != "sources" and item.default is MISSING]
    figures: dict[str, Figure] = {name: table.need_figure(name) for name in names}
    table.close()
    values = {name: figure.value for name, figure in figures.items()}
    return kind(**values, sources={name: figure.source for name, figure in figures.items()})


def _flow(table: Table) -> dict[str, Figure]:
    found = {key: table.need_figure(key) for key in table.values}
    table.close()
    return found
