"""A rule set as plain values for an answer: every source name is replaced by its text and mark."""

from __future__ import annotations

from typing import Any

from dosing.rules.rule_set import RuleSet, Source
from dosing.rules.words import MARKS_TOLD

AMOUNTS = frozenset({"amount", "at_most", "at_least", "volume", "whole", "above"})


def plain(rules: RuleSet) -> dict[str, object]:
    """All of the rule set: goals, treatments (a list, each with its slug), settings, sources."""
    content = rules.content
    treatments: dict[str, Any] = content["treatments"]
    shown = {
        slug: {"treatment": slug, **_told(entry, rules.sources), "title": rules.treatments[slug].title}
        for slug, entry in treatments.items()
    }
    rest = {key: _told(content[key], rules.sources, key) for key in content if key not in ("treatments", "sources")}
    sources = [source_dict(source) for source in rules.sources.values()]
    return {**rest, "digest": rules.digest, "treatments": list(shown.values()), "sources": sources}


def source_dict(source: Source) -> dict[str, str]:
    """A source as plain values."""
    return {"id": source.id, "text": source.text, "mark": source.mark}


def _told(value: Any, sources: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: _told(item, sources, "source" if key == "findings" else name) for name, item in value.items()}
    if isinstance(value, list):
        return [_told(item, sources) for item in value]
    if key in ("source", "starts_by_order", "cosign") and value in sources:
        return source_dict(sources[value])
    if key in AMOUNTS and isinstance(value, str):
        number, _, unit = value.partition(" ")
        return {"value": float(number), "unit": unit}
    return value


def source_told(source: Source) -> str:
    """A source with its mark in the words of the pages."""
    return f"{source.text} [{MARKS_TOLD.get(source.mark, source.mark)}]"


def source_text(source: Source) -> str:
    """A source with its mark, as a finding names it."""
    return f"{source.text} [{source.mark}]"
