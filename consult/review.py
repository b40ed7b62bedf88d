"""What a supervisor's pages make of a journal: entries in order with the time between, and how long orders took."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from consult.clock import stamp
from consult.render import journal
from consult.render.words import plain
from dosing.ground.language import gettext as _

Entry = Mapping[str, Any]

# Step of an order: the entries that end it, and what it is called in the replay.
TOOK = (
    (_("Decided"), ("order.decided",)),
    (_("Read back"), ("order.read_back",)),
    (_("Given"), ("intervention.recorded",)),
    (_("Carried out"), ("intervention.changed",)),
)
LACKS = {"order.requested": _("No decision"), "order.placed": _("Never read back")}


def length_text(length: timedelta) -> str:
    """A length of time in words: ``40 s``, ``2 min 05 s``, ``1 h 05 min``."""
    seconds = max(0, int(length.total_seconds()))
    if seconds < 60:
        return f"{seconds} s"
    minutes, rest = divmod(seconds, 60)
    if minutes < 60:
        return f"{minutes} min {rest:02} s" if rest else f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02} min"


def replay_lines(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """The journal by seq, as it arrived: each line with its words and the time since the entry before it."""
    known = list(entries)
    lines = sorted(journal.timeline(known), key=lambda line: line["seq"])
    _name_escalated(known, {line["seq"]: line for line in lines})
    before: datetime | None = None
    for line in lines:
        line["since"] = since_text(line["received"], before)
        line["received_at"] = stamp(line["received"])
        before = line["received"]
    return lines


def _name_escalated(entries: Iterable[Entry], lines: Mapping[int, dict[str, Any]]) -> None:
    """Say of each alert that was escalated what it told: one kind may be about an order or about an instruction."""
    told: dict[str, str] = {}
    for entry in entries:
        line, alert = lines[entry["seq"]], str(entry["data"].get("alert"))
        if entry["kind"] in ("alert.raised", "alert.changed"):
            told[alert] = line["text"]
        elif entry["kind"] == "alert.escalated" and alert in told:
            line["text"] = _("{alert}, to {role}", alert=told[alert], role=plain(entry["data"]["to"]))


def since_text(received: datetime, before: datetime | None) -> str:
    """The time since the entry before; empty for the first and for what came with the one before."""
    if before is None or received - before < timedelta(seconds=1):
        return ""
    return f"+ {length_text(received - before)}"


def order_times(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """Per order how long each step took after the one before it; steps that never came are left out.

    ``none`` says for an order without any which step it lacks: what a physician gave unasked needs no decision.
    """
    known = list(entries)
    return [
        {"shown": _shown(entry, known), "seq": entry["seq"], "steps": _steps(entry, known), "none": lacks}
        for entry in known
        if (lacks := LACKS.get(entry["kind"]))
    ]


def _shown(asked: Entry, entries: list[Entry]) -> str:
    """What was ordered, and beside it what had been asked for where the physician changed it."""
    order = str(asked["data"]["id"])
    decided = [each["data"] for each in entries if each["kind"] == "order.decided" and _of(each, order)]
    if not decided or not decided[-1]["asked_for"]:
        return str(asked["data"]["shown"])
    return _("{shown}, asked for {asked_for}", shown=decided[-1]["shown"], asked_for=decided[-1]["asked_for"])


def _steps(asked: Entry, entries: list[Entry]) -> list[dict[str, str]]:
    order, last, steps = str(asked["data"]["id"]), asked["received_at"], []
    for name, kinds in TOOK:
        entry = next((each for each in entries if each["kind"] in kinds and _of(each, order)), None)
        if entry is None:
            continue
        steps.append({"name": name, "took": length_text(entry["received_at"] - last)})
        last = entry["received_at"]
    return steps


def _of(entry: Entry, order: str) -> bool:
    """Whether an entry carries an order on: decides it (a query does not), reads it back rightly, gives it."""
    data = entry["data"]
    if entry["kind"] == "order.decided" and data["decision"] == "ask":
        return False
    if entry["kind"] == "order.read_back" and not data["matches"]:
        return False
    named = data.get("order") or (data.get("content") or {}).get("order") or (data.get("became") or {}).get("id")
    return str(named) == order


def reviews_of(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """The findings that were written about the case, newest first."""
    found = [entry for entry in entries if entry["kind"] == "review.added"]
    return [
        {
            "text": entry["data"]["text"],
            "outcome": plain(entry["data"]["outcome"]),
            "at": entry["at"],
            "by": entry["by"]["name"],
        }
        for entry in reversed(found)
    ]
