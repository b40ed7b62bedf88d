"""While you were away: what happened in each case between a last look and the return, a line each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from consult.render.journal import line

MOST_LINES = 8  # of each case
# Of more the first kinds go before the others, and the newer before the older.
FIRST = ("phase.changed", "case.moved", "case.handed_over", "case.closed", "case.reopened")
LAST = ("alert.cleared", "case.opened", "case.accepted", "order.ended")
# What changes a case for who decides; readings and what follows from them stand on the card.
TOLD = (
    *("case.opened", "case.accepted", "case.released", "control.offered", "case.moved", "case.handed_over"),
    *("case.closed", "case.reopened", "phase.changed", "alert.raised", "alert.cleared", "order.requested"),
    *("order.placed", "order.decided", "order.answered", "order.ended", "intervention.recorded"),
    "intervention.changed",
)


def away(entries: Iterable[Mapping[str, Any]], cases: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """By case, those with the most to tell first: whose it is, its newest lines, and how many there are."""
    by_case: dict[int, list[dict[str, Any]]] = {}
    for entry in entries:
        by_case.setdefault(entry["case"], []).append(line(entry, {}))
    told = [
        {
            "id": str(case["uid"]),
            "whom": " ".join(filter(None, [case["unit__call_sign"], case["patient"].get("label")])),
            "lines": _foremost(lines),
            "count": len(lines),
            "more": max(len(lines) - MOST_LINES, 0),
        }
        for case in cases
        if (lines := by_case.get(case["pk"]))
    ]
    return sorted(told, key=lambda each: -len(each["lines"]) - each["more"])


def _foremost(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The lines that matter most, in the order in which they happened."""
    places = sorted(range(len(lines)), key=lambda place: (_rank(lines[place]), -place))[:MOST_LINES]
    return [lines[place] for place in sorted(places)]


def _rank(line: Mapping[str, Any]) -> int:
    if line["kind"] in FIRST or (line["kind"] == "alert.raised" and line["lead"] == "High"):
        return 0
    return 2 if line["kind"] in LAST else 1
