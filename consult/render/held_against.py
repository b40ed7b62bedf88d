"""What a guided question states, held against the record: what the record says, and where the two differ."""

from __future__ import annotations

from typing import Any

from consult.clock import when
from consult.render.lines import Card, Line, at_time
from consult.render.words import PHASES
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.ground.phases import ARREST, PULSE_BACK

# What is ticked under these names is in the record, too; a rule set may name its criteria otherwise.
NO_SHOCK, NO_PULSE_BACK = "no-shock", "no-pulse-back"


def record(card: Card, told: Card) -> list[tuple[str, Line]]:
    """What the record says beside the form of ending a resuscitation, as names and lines."""
    if told["topic"] != "end_resuscitation":
        return []
    back, mean = _pulse_back(card), _newest_mean(card)
    return [
        (_("Phase"), [PHASES[card["phase"]], *at_time(_(" since "), card.get("phase_since"))]),
        (_("Shocks"), [str(_shocks(card) or _("none"))]),
        (_("Pulse back"), at_time(_("at "), back) or [_("not recorded")]),
        (
            _("Last MAP"),
            [f"{round(mean['map'])} mmHg", *at_time(_(" at "), mean["t"])] if mean else [_("not recorded")],
        ),
    ]


def cautions(card: Card, told: Card) -> list[Line]:
    """Where the form and the record differ, or the form itself lacks what a refusal rests on; a line each."""
    if not told.get("form"):
        return []
    return _of_refusal(told["form"]) if told["topic"] == "refusal" else _of_ending(card, told)


def _of_refusal(form: Card) -> list[Line]:
    found = {
        "Capacity to decide: no": form["capacity"] == "no",
        "Capacity to decide: not sure": form["capacity"] == "unsure",
        "The risks were not told": not form["risks_told"],
        "No witness is named": not form.get("witness"),
    }
    return [[text] for text, is_so in found.items() if is_so]


def _of_ending(card: Card, told: Card) -> list[Line]:
    ticked = {each["slug"] for each in told.get("criteria") or () if each["met"]}
    shocks, back, mean = _shocks(card), _pulse_back(card), _newest_mean(card)
    since = (card.get("arrest") or {}).get("spans") or ()
    lines: list[Line] = []
    if card["phase"] != ARREST:
        lines.append([_("The record holds no cardiac arrest now: {phases}", phases=PHASES[card["phase"]].lower())])
    if shocks and NO_SHOCK in ticked:
        lines.append([ngettext("The record holds {count} shock", "The record holds {count} shocks", shocks)])
    if back and (NO_PULSE_BACK in ticked or card["phase"] == PULSE_BACK):
        lines.append([_("The record holds that the pulse came back"), *at_time(_(" at "), back)])
    if mean and (not since or when(mean["t"]) >= when(since[-1]["since"])):
        lines.append(
            [_("The record holds a MAP of {map} mmHg", map=round(mean["map"])), *at_time(_(" at "), mean["t"])]
        )
    return lines


def _shocks(card: Card) -> int:
    return int((card.get("arrest") or {}).get("shocks") or _told_shocks(card))


def _told_shocks(card: Card) -> int:
    """Shocks of a case in which no arrest was told."""
    done = (each for each in card.get("procedures") or () if each["outcome"] in (None, "done"))
    return sum(each["procedure"] == "defibrillation" for each in done)


def _pulse_back(card: Card) -> str | None:
    """When the pulse came back last, also where it has gone again."""
    spans = (card.get("arrest") or {}).get("spans") or ()
    found = [str(span["until"]) for span in spans if span["then"] == PULSE_BACK]
    since = card.get("phase_since")
    return found[-1] if found else str(since) if card["phase"] == PULSE_BACK and since else None


def _newest_mean(card: Card) -> dict[str, Any] | None:
    taken = [point for point in card.get("trend") or () if point["map"] is not None]
    return taken[-1] if taken else None
