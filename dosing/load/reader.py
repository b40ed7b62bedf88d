"""Reads a rule set file: every table, every number with its source, all faults at once."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from dataclasses import MISSING, fields
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from dosing.load import checks, size
from dosing.load.book import Book
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.table import Table
from dosing.load.treatment import read_treatment
from dosing.load.vital_signs import read_vital_sign
from dosing.load.words import BLEEDING_CAUSES, FINDINGS, FLOW, IMPRESSIONS, INJURIES, MARKS, MEASURES, SLUG
from dosing.rules.rule_set import (
    Figure,
    GoalRule,
    LedgerRule,
    PressureRule,
    PumpRule,
    PushPull,
    RuleSet,
    Source,
    WatchRule,
)

SHIPPED = Path(__file__).parents[1] / "rule_sets"
LONGEST = {"name": 60, "version": 30, "title": 200}


def load(path: Path | str) -> RuleSet:
    """Read and check a rule set file; raises RuleSetFaults naming every fault at once by entry and line."""
    path = Path(path)
    return read_text(path.read_text(encoding="utf-8"), path.name)


@lru_cache(maxsize=32)
def loads(text: str, name: str = "rule set") -> RuleSet:
    """Read and check a rule set file's text, or the JSON of a whole set, the same text once; raises as ``load`` does.

    ``name`` stands before each fault.
    """
    return read_text(text, name)


@cache
def load_shipped(name: str) -> RuleSet:
    """One of the rule sets that ship with the project: ``demonstration`` or ``conservative``; read once."""
    return load(SHIPPED / f"{name}.toml")


def read_text(raw: str, name: str) -> RuleSet:
    """What ``loads`` gives, read anew."""
    content = _parsed(name, raw)
    if too_large := size.fault_of(content):
        raise RuleSetFaults([Fault(name, "", 0, too_large)])
    base = _base(name, content.pop("extends", None))
    book = Book(name, raw, base)
    rules = _rule_set(book, _upon(base, content), raw if not base else None)
    unread = {fault.entry.split(".")[1] for fault in book.faults if fault.entry.startswith("treatments.")}
    for entry, text in checks.found_in(rules, unread):
        book.fault(entry, text)
    if book.faults:
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
        raise RuleSetFaults([Fault(name, "extends", 0, f"there is no rule set {extends!r} to stand upon")])
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


def _rule_set(book: Book, content: dict[str, Any], raw: str | None) -> RuleSet:
    root = Table(book, "", content)
    _sources(book, root.table("sources"))
    names: dict[str, Any] = {key: root.text(key, longest=most) for key, most in LONGEST.items()}
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
        watch=_watch(root.table("watch")),
        ledger=_settings(LedgerRule, root.table("ledger")),
        findings={code: findings.source(code) for code in findings.values},
        sources=book.sources,
        tall_man=tall,
        **_equipment(root),
        content=content,
        text=raw or json.dumps(content, separators=(",", ":"), ensure_ascii=False),  # in the order of its treatments
    )
    for code in sorted(FINDINGS - rules.findings.keys()):
        findings.fault(code, "is missing: where does this finding come from?")
    for code in sorted(rules.findings.keys() - FINDINGS):
        findings.fault(code, "is no finding that is known here")
    if not treatments.values:
        treatments.fault("", "holds no treatment")
    for slug in sorted(slug for slug in rules.treatments if slug == "other" or not SLUG.fullmatch(slug)):
        treatments.fault(slug, "is no name for a treatment: small letters, digits and hyphens, and not 'other'")
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
        measure=table.word("measure", MEASURES),
        floor=table.need_number("floor"),
        ceiling=table.number("ceiling"),
        because=table.text("because"),
        source=table.source(),
        adult=table.flag("adult"),
        impressions=table.words("impressions", IMPRESSIONS),
        injuries=table.words("injuries", INJURIES),
        without_injuries=table.words("without_injuries", INJURIES),
        bleeding_causes=table.words("bleeding_causes", BLEEDING_CAUSES),
        from_years=table.number("from_years"),
        under_years=table.number("under_years"),
    )
    table.close()
    return goal


def _watch(table: Table) -> WatchRule:
    signs = tuple(read_vital_sign(each) for each in table.tables("vital_signs", at_least_one=True))
    rule: WatchRule = _settings(WatchRule, table, vital_signs=signs)
    return rule


def _settings(kind: Any, table: Table, **more: Any) -> Any:
    """A dataclass of plain numbers, each read from a table of value and source."""
    names = [item.name for item in fields(kind) if item.name != "sources" and item.default is MISSING]
    figures: dict[str, Figure] = {name: table.need_figure(name) for name in names}
    table.close()
    values = {name: figure.value for name, figure in figures.items()}
    return kind(**values, **more, sources={name: figure.source for name, figure in figures.items()})


def _equipment(root: Table) -> dict[str, Any]:
    """What fluids and drugs are given with: cannulas, drip sets, syringes, pump."""
    return {
        "flow": _flow(root.table("flow")),
        "drop_sets": tuple(_drop_set(table) for table in root.tables("drop_sets", at_least_one=True)),
        "push_pull": tuple(_push_pull(table) for table in root.tables("push_pull", at_least_one=True)),
        "pump": _settings(PumpRule, root.table("pump")),
        "syringes": tuple(_syringe(table) for table in root.tables("syringes", at_least_one=True)),
    }


def _flow(table: Table) -> dict[str, Figure]:
    found = {key: table.need_figure(key) for key in sorted(FLOW)}
    table.close()
    return found


def _syringe(table: Table) -> tuple[Figure, Figure]:
    syringe = table.need_figure("holds"), table.need_figure("reads")
    table.close()
    return syringe


def _drop_set(table: Table) -> Figure:
    drops = table.need_figure("drops")
    table.close()
    return drops


def _push_pull(table: Table) -> PushPull:
    syringe = PushPull(holds=table.need_figure("holds"), managed=table.figure("managed"))
    table.close()
    return syringe
