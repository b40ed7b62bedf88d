"""The measurements of a card as texts: each value with its unit and the time it was taken; nothing is computed here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from consult import zone
from consult.chart.course import judging_measure, moment
from consult.render.arrest import apart, apart_words, in_arrest
from consult.render.slope import slope
from consult.render.words import STATES, unit_text, value_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME, MEASUREMENTS, PRESSURE
from dosing.ground.text import minutes_text
from dosing.patient.signs import BEDSIDE
from dosing.watch.vital_signs import CAUSES

CELLS = ("hr", "spo2", "etco2", "rr")
OTHERS = [
    each.name
    for each in sorted(MEASUREMENTS, key=lambda each: each.card)
    if each.name not in (*PRESSURE, "pulses", *CELLS)
]
OTHERS_STALE = timedelta(minutes=10)
UNOBTAINABLE = "unobtainable"
BESIDE_SIGNS = [name for names in CAUSES.values() for name in names if name not in (*CELLS, *BEDSIDE)]
LEVEL_WORDS = {"danger": _("dangerous"), "warning": _("outside its limit")}
ABOVE = {"ceiling": "above_goal", "usual": "above_range"}
NOT_SINCE = _("not measured since")


def pressure(card: Mapping[str, Any]) -> dict[str, Any]:
    """The deciding pressure: its name, number (or the word instead of it), state, goal, slope and when it turns old."""
    derived = card["vitals"].get("derived") or {}
    judged = derived.get("pressure") or {}
    taken = _taken_at(card)
    state = (ABOVE.get(derived.get("above") or "") or judged.get("state") or "unknown") if taken else "none"
    gone = apart(card, taken)
    not_now = bool(taken) and (in_arrest(card) or bool(gone))
    old_word = _old_word(gone, last_word(STATES.get(state, "")), in_it=not_now)
    measure = judging_measure(card)
    number = _number(card, derived, measure, state)
    return {
        "name": "SBP" if measure == "sbp" else "MAP",
        "measure": measure,
        "whole": number.partition(".")[0],
        "part": number.partition(".")[2],
        "is_number": number[:1].isdigit(),
        "beside": _beside(card, derived, measure),
        "how": mean_word(derived, _value(card["vitals"], "map_reported")) if measure == "map" else "",
        "state": "unknown" if not_now else state,
        "word": old_word if not_now else STATES.get(state, _("No pressure yet")),
        "text": judged.get("text") or "",
        "goal": goal_text(card, judged, measure),
        "taken_at": taken,
        "apart": apart_words(card, taken),
        "last_word": last_word(STATES.get(state, "")),
        "old_word": old_word,
        "stale_at": stale_at(card),
        "again": again_text(derived),
        "slope": slope(card),
        "gauge": gauge(card, derived, judged, measure),
    }


def stale_at(card: Mapping[str, Any]) -> str | None:
    """From when on the pressure is told as the last one, no more as the state: after the minutes the card names."""
    taken_at = _taken_at(card)
    minutes = (card["vitals"].get("derived") or {}).get("fresh_min")
    if not taken_at or _silent(card) or apart(card, taken_at) or minutes is None:
        return taken_at
    return (moment(taken_at) + timedelta(minutes=minutes)).isoformat()


def judged_now(card: Mapping[str, Any]) -> str:
    """How the newest pressure stands; empty where that is from before an arrest, and judges nothing now."""
    judged = (card["vitals"].get("derived") or {}).get("pressure") or {}
    return "" if apart(card, _taken_at(card)) else judged.get("state") or ""


def _old_word(gone: str, last: str, *, in_it: bool) -> str:
    """A pressure that is not the state now, in words."""
    if gone == "before":
        return _("Before the arrest: {last_word}", last_word=last)
    return _("Taken in the arrest") if in_it else _("Last: {last_word}", last_word=last)


def again_text(derived: Mapping[str, Any]) -> str:
    """That the pressure is low again and from when on that alarms; empty where it alarms, or is not low."""
    again = derived.get("low_again")
    if not again:
        return ""
    since, alarm_from = (zone.clock(moment(again[name])) for name in ("since", "alarm_from"))
    return _("low again since {since}: alarms at {alarm_from} if it stays low", since=since, alarm_from=alarm_from)


def last_word(word: str) -> str:
    """A state as it is told of the last pressure: ``at goal``."""
    return word[:1].lower() + word[1:]


def cells(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The five measurements under the pressure: systolic over diastolic of one set, HR, SpO2, EtCO2, RR."""
    first = {
        "key": "bp",
        "name": _("Sys/dia"),
        "unit": BY_NAME["sbp"].unit,
        "value": cuff_text(card["vitals"]),
        "taken_at": _taken_at(card),
        "judges": judging_measure(card) == "sbp",
        **_level(card, "sbp", "dbp"),
    }
    found = [first, *(_cell(card, key) for key in CELLS)]
    return [{**cell, "stale_at": _cell_stale_at(cell, card)} for cell in found]


def now_text(card: Mapping[str, Any]) -> list[dict[str, str]]:
    """The vitals on one line, to stand beside a form: ``MAP 54 mmHg, Critical · 74/44 mmHg · HR 128 /min``.

    What was taken at one time is one ``text`` with ``at``, the time; the pressure's first, then the newest.
    """
    shown = pressure(card)
    number = ".".join(filter(None, [shown["whole"], shown["part"]]))
    word = _("last {last_word}", last_word=shown["last_word"]) if shown["apart"] else shown["word"]
    lead = f"{shown['name']} {number} mmHg, {word}" if shown["is_number"] else f"{shown['name']} {number}"
    first = shown["taken_at"] or ""
    sets = {first: [lead]}
    for cell in cells(card):
        if cell["value"] and cell["value"] != UNOBTAINABLE:
            name = cell["name"] if cell["key"] != "bp" else ""
            sets.setdefault(cell["taken_at"], []).append(f"{name} {cell['value']} {cell['unit']}".strip())
    order = [first, *sorted(sets.keys() - {first}, reverse=True)]
    return [{"text": ", ".join(filter(None, [" · ".join(sets[at]), apart_words(card, at)])), "at": at} for at in order]


def others(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The further measurements that were taken, each with unit and time."""
    found = [_cell(card, key) for key in OTHERS if _value(card["vitals"], key) is not None]
    return [{**cell, "name": _rhythm_name(card, cell)} if cell["key"] == "rhythm" else cell for cell in found]


def _rhythm_name(card: Mapping[str, Any], cell: Mapping[str, Any]) -> str:
    """A rhythm from before the newest arrest, or from before the pulse came back, is not the present one."""
    told = {"before": _("Rhythm before the arrest"), "in": _("Rhythm in arrest")}
    return told.get(apart(card, cell["taken_at"])) or str(cell["name"])


def signs(card: Mapping[str, Any]) -> dict[str, Any]:
    """The signs of poor perfusion: those ``present``, and the ``old`` ones that nothing was measured after.

    One older than the pressure has its time. ``alarming`` are measurements beyond their limits that no cell and no sign
    shows. ``looked_at`` is when a bedside sign was last looked for; None: nobody has, which is told as such.
    """
    derived = card["vitals"].get("derived") or {}
    looked = [entry["taken_at"] for key in BEDSIDE if (entry := card["vitals"].get(key)) and entry["value"] is not None]
    return {
        "alarming": [_cell(card, key) for key in BESIDE_SIGNS if key in alarming(card)],
        "present": [_sign(each, derived) for each in derived.get("signs") or ()],
        "old": [_sign(each, derived) for each in derived.get("signs_old") or ()],
        "looked_at": max(looked, key=moment, default=None),
    }


def _sign(told: str, derived: Mapping[str, Any]) -> dict[str, str]:
    text, taken_at = (derived.get("signs_taken") or {}).get(told) or (told, "")
    return {"told": told, "text": text, "taken_at": taken_at}


def alarming(card: Mapping[str, Any]) -> Mapping[str, str]:
    """Which measurements are beyond their limits: ``danger`` or ``warning`` by measurement."""
    return (card["vitals"].get("derived") or {}).get("alarming") or {}


def cuff_text(vitals: Mapping[str, Any]) -> str:
    """Systolic over diastolic; `P` for a palpated one, a word where none could be obtained, empty before the first."""
    sbp, dbp = _value(vitals, "sbp"), _value(vitals, "dbp")
    if _value(vitals, "bp_method") == "unobtainable":
        return UNOBTAINABLE
    if sbp is None:
        return ""
    return f"{value_text(sbp)}/{value_text(dbp) if dbp is not None else 'P'}"


def goal_text(card: Mapping[str, Any], judged: Mapping[str, Any], measure: str) -> str:
    """The goal of the deciding pressure, with its upper end where there is one."""
    goal = card.get("goal") or {}
    own = goal.get("measure") == measure
    floor = judged.get("goal") if judged.get("goal") is not None else (goal.get("floor") if own else None)
    if floor is None:
        return ""
    ceiling = f"–{value_text(goal['ceiling'])}" if own and goal.get("ceiling") else ""
    return f"{_('SBP goal') if measure == 'sbp' else _('goal')} {value_text(floor)}{ceiling}"


def below_goal(card: Mapping[str, Any]) -> dict[str, Any]:
    """How long and how deep the pressure was below its goal so far, in words; empty where it never was.

    ``short`` for a board; ``gap`` says for how long it was not measured, ``goals`` which were in force, where several.
    """
    known = card.get("below_goal") or {}
    if not known.get("minutes"):
        return {}
    low, measured = (minutes_text(known[name]) for name in ("minutes", "measured_min"))
    return {
        "short": _("below goal {low} of {measured}", low=low, measured=measured),
        "depth": _("{mmhg_min} mmHg on average", mmhg_min=value_text(round(known["mmhg_min"] / known["minutes"]))),
        "goals": _(", then ").join(map(value_text, floors)) if len(floors := known.get("floors") or ()) > 1 else "",
        "gap": minutes_text(known["gap_min"]) if known["gap_min"] else "",
        "since": known["since"],
        "until": known.get("until"),
    }


def gauge(
    card: Mapping[str, Any], derived: Mapping[str, Any], judged: Mapping[str, Any], measure: str
) -> dict[str, float] | None:
    """Heights of goal and float (0 the top, 60 the bottom); no float without a value, None without a goal."""
    value = _value(card["vitals"], "sbp") if measure == "sbp" else derived.get("map")
    goal = judged.get("goal")
    if goal is None:
        return None
    if value is None:
        value = goal - 40 if judged.get("state") == "critical" else None
    return {"goal": 22, "float": min(max(22 - (value - goal) * 0.9, 6), 54)} if value is not None else {"goal": 22}


def _number(card: Mapping[str, Any], derived: Mapping[str, Any], measure: str, state: str) -> str:
    if _value(card["vitals"], "bp_method") == "unobtainable":
        return _("Unobtainable")
    if measure == "sbp" and _value(card["vitals"], "sbp") is not None:
        return value_text(_value(card["vitals"], "sbp"))
    if derived.get("map_shown"):
        return str(derived["map_shown"])
    return _("not taken") if state == "none" else "unknown"


def _beside(card: Mapping[str, Any], derived: Mapping[str, Any], measure: str) -> str:
    if measure != "sbp" or _value(card["vitals"], "bp_method") == "unobtainable":
        return ""
    if not derived.get("map_shown"):
        return _("MAP unknown")
    how = mean_word(derived, _value(card["vitals"], "map_reported"))
    return " ".join(filter(None, ["MAP", str(derived["map_shown"]), how]))


def mean_word(derived: Mapping[str, Any], reported: float | None) -> str:
    """Of a set with a mean that was measured, whether it is that one or was computed of systolic and diastolic."""
    if reported is None or not derived.get("map_from"):
        return ""
    return _("measured") if derived["map_from"] == "reported" else _("computed")


def _silent(card: Mapping[str, Any]) -> bool:
    """Whether the unit has gone quiet: then nothing on the card counts as present."""
    return any(alert["kind"] == "no_contact" and not alert.get("cleared_at") for alert in card.get("alerts") or ())


def _cell_stale_at(cell: Mapping[str, Any], card: Mapping[str, Any]) -> str | None:
    taken_at: str | None = cell["taken_at"]
    if cell["key"] == "bp":
        return stale_at(card)
    old = not taken_at or _silent(card) or apart(card, taken_at)
    return taken_at if old or not taken_at else (moment(taken_at) + OTHERS_STALE).isoformat()


def _taken_at(card: Mapping[str, Any]) -> str | None:
    derived = card["vitals"].get("derived") or {}
    if derived.get("taken_at"):
        return str(derived["taken_at"])
    for key in ("sbp", "map_reported", "bp_method"):
        entry = card["vitals"].get(key) or {}
        if entry.get("value") is not None:
            return str(entry["taken_at"])
    return None


def _cell(card: Mapping[str, Any], key: str) -> dict[str, Any]:
    entry = card["vitals"].get(key) or {}
    return {
        **_level(card, key),
        "key": key,
        "name": BY_NAME[key].short,
        "unit": unit_text(BY_NAME[key], entry.get("value")),
        "value": value_text(entry.get("value")),
        "taken_at": entry.get("taken_at"),
    }


def _level(card: Mapping[str, Any], *names: str) -> dict[str, str]:
    """How bad the first of these measurements that alarms is, and the word for it; in cardiac arrest none is judged."""
    known = {} if in_arrest(card) else alarming(card)
    level = next((known[name] for name in names if name in known), "")
    return {"level": level, "level_word": LEVEL_WORDS.get(level, "")}


def _value(vitals: Mapping[str, Any], key: str) -> Any:
    return (vitals.get(key) or {}).get("value")
