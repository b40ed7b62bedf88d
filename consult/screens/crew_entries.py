"""The crew's own entries of a case, for the page that marks one as entered in error."""

from __future__ import annotations

from typing import Any

from consult import queries
from consult.access import Actor
from consult.models import Case
from consult.render import words
from consult.render.journal import happened_at, settings_text
from consult.render.vitals import cuff_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import PRESSURE

NOT_SAID = (*PRESSURE, "source")
NEWEST = 400  # journal entries to look through
KINDS = {
    "vitals.recorded": "vitals",
    "intervention.recorded": "intervention",
    "procedure.recorded": "procedure",
    "note.added": "note",
    "phase.changed": "phase",
    "container.recorded": "container",
}


def own_entries(actor: Actor, case: Case) -> list[dict[str, Any]]:
    """What this crew entered and has not yet marked, newest first: kind, id, when, and what it said."""
    entries = queries.journal(case, after=max(0, case.seq - NEWEST), limit=NEWEST)
    marked = {str(entry["data"]["target"]["id"]) for entry in entries if entry["kind"] == "entry.corrected"}
    own = [entry for entry in entries if entry["kind"] in KINDS and (entry["by"] or {}).get("name") == actor.name]
    return [_line(entry) for entry in reversed(own) if str(entry["data"]["id"]) not in marked]


def _line(entry: dict[str, Any]) -> dict[str, Any]:
    return {
        "kind": KINDS[entry["kind"]],
        "id": str(entry["data"]["id"]),
        "at": happened_at(entry).isoformat(),
        "text": entry_text(entry["kind"], entry["data"]),
    }


def entry_text(kind: str, data: dict[str, Any]) -> str:
    """An entry in a few words."""
    if kind == "vitals.recorded":
        return vitals_text(data["values"])
    if kind in ("intervention.recorded", "container.recorded"):
        return str(data["shown"])
    if kind == "procedure.recorded":
        content = data["content"]
        told = (words.PROCEDURES[content["procedure"]], settings_text(content), content.get("outcome", ""))
        return ", ".join(filter(None, told))
    if kind == "phase.changed":
        return words.PHASES[data["phase"]]
    return _("Note: {text}", text=data["text"][:60])


def vitals_text(values: dict[str, Any]) -> str:
    """A set of vitals on one line: ``74/44 mmHg, HR 128 /min``."""
    pressure = cuff_text({name: {"value": values.get(name)} for name in PRESSURE})
    unit = " mmHg" if pressure[:1].isdigit() else ""
    known = [(name, value) for name, value in values.items() if name not in NOT_SAID and value is not None]
    others = [words.measured_text(name, value) for name, value in known]
    return ", ".join(filter(None, [f"{pressure}{unit}" if pressure else "", *others])) or _("Vitals")
