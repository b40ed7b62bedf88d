"""The crew's own entries of a case, for the page that marks one as entered in error."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.text import Truncator

from consult import queries
from consult.access import Actor
from consult.models import Case
from consult.render import dose_course, words
from consult.render.journal import happened_at, settings_text
from consult.render.lines import Card, Line
from consult.render.vitals import cuff_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import PRESSURE

NOT_SAID = (*PRESSURE, "source")
MOST_WORDS = 12  # of a note
NEWEST = 400  # journal entries to look through
KINDS = {
    "vitals.recorded": "vitals",
    "intervention.recorded": "intervention",
    "procedure.recorded": "procedure",
    "note.added": "note",
    "phase.changed": "phase",
    "container.recorded": "container",
}


def own_entries(actor: Actor, case: Case, card: Card) -> list[dict[str, Any]]:
    """What this crew entered and has not yet marked, newest first: kind, id, when, and what it said.

    A dose is told as it went: its rates, pauses and end are taken back with it, none of them alone.
    """
    entries = queries.journal(case, after=max(0, case.seq - NEWEST), limit=NEWEST)
    marked = {str(entry["data"]["target"]["id"]) for entry in entries if entry["kind"] == "entry.corrected"}
    own = [entry for entry in entries if entry["kind"] in KINDS and (entry["by"] or {}).get("name") == actor.name]
    doses = {dose["id"]: dose_course.told(card, dose, dated=False) for dose in card.get("doses") or ()}
    return [_line(entry, doses) for entry in reversed(own) if str(entry["data"]["id"]) not in marked]


def _line(entry: dict[str, Any], doses: Mapping[str, Line]) -> dict[str, Any]:
    entry_id = str(entry["data"]["id"])
    return {
        "kind": KINDS[entry["kind"]],
        "id": entry_id,
        "at": happened_at(entry).isoformat(),
        "line": doses.get(entry_id) or [entry_text(entry["kind"], entry["data"])],
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
    return _("Note: {text}", text=Truncator(data["text"]).words(MOST_WORDS, truncate=" …"))


def vitals_text(values: dict[str, Any]) -> str:
    """A set of vitals on one line: ``74/44 mmHg, HR 128 /min``."""
    pressure = cuff_text({name: {"value": values.get(name)} for name in PRESSURE})
    unit = " mmHg" if pressure[:1].isdigit() else ""
    known = [(name, value) for name, value in values.items() if name not in NOT_SAID and value is not None]
    others = [words.measured_text(name, value) for name, value in known]
    return ", ".join(filter(None, [f"{pressure}{unit}" if pressure else "", *others])) or _("Vitals")
