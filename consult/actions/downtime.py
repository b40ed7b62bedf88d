"""The downtime sheet: all open cases on paper or in a file, at hand when the board is not.

A file for each agency, `downtime-AGENCY.html` with its style beside it, in the folder of the setting `DOWNTIME_FOLDER`.
Only its owner can read it; the one before is replaced, so that no sheet shows who is a patient no more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

import msgspec
from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

from consult import owner_only, queries, zone
from consult.models import Agency, Instruction, Question
from consult.queries import CardRow
from consult.render import questions
from consult.render.card import sort_key
from consult.render.handover import handover
from consult.render.words import whom
from consult.resources.questions import told_dict

STYLE = "print.css"


def blocks(rows: Iterable[CardRow], now: datetime) -> list[dict[str, object]]:
    """A block for each card, what needs a person first: unit, how it is reached, and the parts of the handover."""
    rows = list(rows)
    asked, told = (_by_case(table, rows) for table in (Question, Instruction))
    notes = queries.notes_of_crews([row.uid for row in rows])
    cards = sorted((msgspec.json.decode(row.card) for row in rows), key=sort_key)
    return [
        {
            "whom": whom(card),
            "physician": (card["physician"] or {}).get("name") or "",
            "call": card["unit"].get("call") or "",
            "parts": handover(card, now, questions.lines(asked[card["case"]], told[card["case"]]), notes[card["case"]]),
        }
        for card in cards
    ]


def _by_case(table: type[Question | Instruction], rows: list[CardRow]) -> dict[str, list[dict[str, object]]]:
    """The questions or instructions of these cases, whatever became of them, in one query."""
    found = table.objects.filter(case__in=[row.case for row in rows]).select_related("case").order_by("id")
    by_case: dict[str, list[dict[str, object]]] = defaultdict(list)
    for row in found:
        by_case[str(row.case.uid)].append(told_dict(row))
    return by_case


def write(now: datetime) -> list[Path]:
    """Write the sheet of each agency; answers the files."""
    folder = Path(settings.DOWNTIME_FOLDER)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _put(folder / STYLE, Path(str(finders.find(STYLE))).read_text(encoding="utf-8"))
    agencies = Agency.objects.select_related("rule_set").order_by("pk")
    return [_put(folder / f"downtime-{agency.pk}.html", _sheet(agency, now)) for agency in agencies]


def _sheet(agency: Agency, now: datetime) -> str:
    record = agency.rule_set
    with zone.of(agency.timezone):
        facts = {
            "agency": agency.name,
            "call_back": agency.call_back,
            "cases": blocks(queries.board_cards(agency.pk), now),
            "as_of": now,
            "rules": record and {"approved": record.approved},
            "style": STYLE,
        }
        return render_to_string("print/downtime_file.html", facts)


def _put(file: Path, text: str) -> Path:
    """Write a file that only its owner can read, in the place of the one before, never half of it."""
    draft = file.with_suffix(f"{file.suffix}.new")
    draft.unlink(missing_ok=True)
    owner_only.make(draft, text)
    draft.replace(file)
    return file
