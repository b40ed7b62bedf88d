"""Alerts of a card as alarm lines: the worst is shown, the others stand behind it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult import zone
from consult.clock import when
from consult.resources import escalates_at, next_step

RANKS = {"high": 0, "medium": 1, "low": 2}
MARKS = {"high": (9.0, 15.8, 22.6), "medium": (12.4, 19.2), "low": (15.8,)}


def alarms(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The open alerts: raised before acknowledged, high before low, oldest first."""
    known = [
        entry for entry in card.get("alerts") or () if not entry.get("cleared_at") and entry["kind"] != "clock_offset"
    ]
    known.sort(key=lambda entry: (entry.get("acknowledged") is not None, RANKS[entry["priority"]], entry["raised_at"]))
    return [
        {
            **entry,
            "text": zone.here(entry["text"], when(entry["raised_at"])),
            "word": entry["priority"].capitalize(),
            "state": "acknowledged" if entry.get("acknowledged") else "raised",
            "marks": MARKS[entry["priority"]],
            "escalates_at": (at := escalates_at(entry)) and at.isoformat(),
            "escalates_to": next_step(entry) if entry.get("escalated_at") else "",
        }
        for entry in known
    ]


def raised(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The open alerts that nobody has acknowledged."""
    return [entry for entry in alarms(card) if entry["state"] == "raised"]
