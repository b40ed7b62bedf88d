"""What a guided question states, held against the record: what the record says, and where the two differ."""

from __future__ import annotations

from typing import Any

from consult.clock import when
from consult.render import vitals
from consult.render.lines import Card, Line, at_time, clock, filled, joined
from consult.render.words import PHASES, measured_text
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.ground.measurements import PRESSURE
from dosing.ground.phases import ARREST, PULSE_BACK
from dosing.ground.tables import load
from dosing.patient.signs import gcs_total

GCS_FULL = load("ground/age_tables")["perfusion"]["gcs_full"]

# What is ticked under these names is in the record, too; a rule set may name its criteria otherwise.
NO_SHOCK, NO_PULSE_BACK = "no-shock", "no-pulse-back"


def record(card: Card, told: Card) -> list[tuple[str, Line]]:
    """What the record says beside the form of ending a resuscitation, as names and lines."""
    if told["topic"] != "end_resuscitation":
        return []
    back, mean = _pulse_back(card), _newest_mean(card)
    return [
        (_("Phase"), [PHASES[card["phase"]], *at_time(_(" since {time}"), card.get("phase_since"))]),
        (_("Shocks"), [str(_shocks(card) or _("none"))]),
        (_("Pulse back"), at_time(_("at {time}"), back) or [_("not recorded")]),
        (
            _("Last MAP"),
            filled(_("{map} mmHg at {time}"), map=str(round(mean["map"])), time=clock(mean["t"]))
            if mean
            else [_("not recorded")],
        ),
    ]


def cautions(card: Card, told: Card) -> list[Line]:
    """Where the form and the record differ, or the form itself lacks what a refusal rests on; a line each."""
    if not told.get("form"):
        return []
    if told["topic"] != "refusal":
        return _of_ending(card, told)
    return [*_of_refusal(told["form"]), *(doubted_capacity(card) if told["form"]["capacity"] == "yes" else [])]


def doubted_capacity(card: Card) -> list[Line]:
    """What speaks against capacity to decide: a patient not alert, a GCS below 15, or a danger sign; a line or none.

    What else is beyond its limits stands beside it. It asks, and holds nothing up.
    """
    mind, body = _not_alert(card), _beyond(card)
    danger = vitals.pressure(card)["state"] == "critical" or "danger" in vitals.alarming(card).values()
    if not mind and not danger:
        return []
    told = [*mind, *body]
    lines: list[Line] = [
        [text] if place and at == told[place - 1][1] else filled(_("{finding} at {time}"), finding=text, time=clock(at))
        for place, (text, at) in enumerate(told)
    ]
    return [filled(_("Last {findings}: capacity yes?"), findings=joined(", ", lines))]


def _not_alert(card: Card) -> list[tuple[str, str]]:
    """The newest alertness and GCS where they are not full, each with its time; a newer score stands for alertness."""
    alertness, score = (card["vitals"].get(name) or {} for name in ("avpu", "gcs"))
    total = gcs_total(score.get("value"))
    found = []
    scored_since = total is not None and alertness and when(score["taken_at"]) > when(alertness["taken_at"])
    if alertness.get("value") not in (None, "A") and not scored_since:
        found.append((_("alertness {value}", value=alertness["value"]), alertness["taken_at"]))
    if total is not None and total < GCS_FULL:
        found.append((_("GCS {total}", total=total), score["taken_at"]))
    return found


def _beyond(card: Card) -> list[tuple[str, str]]:
    """The pressure where it is below its goal, and what else is beyond its limits, each with its time."""
    pressure = vitals.pressure(card)
    low = pressure["state"] in ("critical", "below_goal") and pressure["taken_at"]
    found = [(f"{pressure['name']} {pressure['whole']}", pressure["taken_at"])] if low else []
    names = [name for name in vitals.alarming(card) if name not in ("avpu", "gcs", *PRESSURE)]
    taken = [(name, card["vitals"].get(name) or {}) for name in names]
    return [*found, *((measured_text(name, each["value"]), each["taken_at"]) for name, each in taken if each)]


def _of_refusal(form: Card) -> list[Line]:
    found = {
        _("Capacity to decide: no"): form["capacity"] == "no",
        _("Capacity to decide: not sure"): form["capacity"] == "unsure",
        _("The risks were not explained"): not form["risks_told"],
        _("No witness is named"): not form.get("witness"),
    }
    return [[text] for text, is_so in found.items() if is_so]


def _of_ending(card: Card, told: Card) -> list[Line]:
    ticked = {each["slug"] for each in told.get("criteria") or () if each["met"]}
    shocks, back, mean = _shocks(card), _pulse_back(card), _newest_mean(card)
    since = (card.get("arrest") or {}).get("spans") or ()
    lines: list[Line] = []
    if card["phase"] != ARREST:
        lines.append([_("No cardiac arrest on record now: {phase}", phase=PHASES[card["phase"]].lower())])
    if shocks and NO_SHOCK in ticked:
        lines.append([ngettext("{count} shock on record", "{count} shocks on record", shocks)])
    if back and (NO_PULSE_BACK in ticked or card["phase"] == PULSE_BACK):
        lines.append(filled(_("On record: the pulse came back at {time}"), time=clock(back)))
    if mean and (not since or when(mean["t"]) >= when(since[-1]["since"])):
        words = _("On record: MAP {map} mmHg at {time}")
        lines.append(filled(words, map=str(round(mean["map"])), time=clock(mean["t"])))
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
