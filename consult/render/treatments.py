"""What was given, what answers to it, and what is due next, as lines of a card."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from consult.chart.course import given_doses
from consult.clock import when
from consult.render.dose_course import ended
from consult.render.words import NEEDS, listed, value_text
from dosing.ground.language import gettext as _
from dosing.ground.text import over_text

GOING_ON = {"running": _("running"), "held": _("HELD")}
OUTSIDE = {"needs_order": _("outside limits"), "over_hard_limit": _("over a hard limit")}


def outside(dose: Mapping[str, Any]) -> str:
    """What is told of a crew's dose that needed an order: whose voice it was by, or that it had none."""
    if dose.get("prior"):
        return ""
    beyond, voice = OUTSIDE.get(dose.get("verdict") or "", ""), dose.get("voice_order")
    if not voice:
        return beyond
    said = voice.get("countersigned")
    word = _("to be countersigned") if said is None else _("countersigned") if said["agreed"] else _("denied")
    by = _("ordered by voice of {name}, {word}", name=voice["physician"]["name"], word=word)
    return f"{beyond}, {by}" if dose["verdict"] == "over_hard_limit" or word == "denied" else by


def doses(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Everything given, oldest first, with mark number, amount, times and the MAP before and after."""
    answers = {answer["intervention"]: answer for answer in card.get("responses") or ()}
    return [
        {
            **dose,
            "mark": mark,
            "kind": "span" if dose.get("ended_at") or goes_on(dose) else "pin",
            "running": goes_on(dose),
            "outside": outside(dose),
            "ordered": ordered(dose),
            "answer": answer(answers.get(dose["id"]), dose),
            "ended": ended(card, dose),
        }
        for mark, dose in enumerate(given_doses(card), 1)
    ]


def ordered(dose: Mapping[str, Any]) -> str:
    """Whether a dose is as an order says, or only began by one; nothing where it names none."""
    if not dose.get("order"):
        return ""
    return _("started by order") if outside(dose) or dose.get("not_as_ordered") else _("as ordered")


def goes_on(dose: Mapping[str, Any]) -> bool:
    """Whether it runs or is held, and so has not ended."""
    return dose.get("status") in GOING_ON


def newest_doses(card: Mapping[str, Any], least: int = 2) -> tuple[list[dict[str, Any]], int]:
    """The doses for a board card: all that runs or is held, else the newest so many; and how many were left out."""
    every = doses(card)
    most = max(least, sum(dose["running"] for dose in every))
    chosen = sorted(every, key=lambda dose: (dose["running"], dose["mark"]))[-most:]
    return [_in_short(dose) for dose in sorted(chosen, key=lambda dose: int(dose["mark"]))], len(every) - len(chosen)


def _in_short(dose: dict[str, Any]) -> dict[str, Any]:
    """In how long a dose was to run is no news on a board card once it has ended."""
    over = over_text(dose.get("over_min")) if dose.get("ended_at") else ""
    return {**dose, "shown": str(dose.get("shown") or "").replace(over, "", 1)} if over else dose


def answer(response: Mapping[str, Any] | None, dose: Mapping[str, Any]) -> dict[str, str]:
    """MAP before and after in whole mmHg and the change between these, or the words that stand instead.

    ``highest`` where a reading stands out from the median after; what did not change is no matter of overlapping.
    """
    if goes_on(dose) and not (response and response.get("map_after") is not None):
        return {"words": GOING_ON[dose["status"]]}
    if not response or response.get("map_before") is None or response.get("map_after") is None:
        return {"words": ""}
    before, after = _whole(response["map_before"]), _whole(response["map_after"])
    shared = response.get("shared") and before != after
    note = _("overlapping treatments") if shared else str(response.get("text") or "").partition(": ")[2]
    return {
        "before": before,
        "after": after,
        "change": signed(int(after) - int(before)),
        "highest": "" if response.get("map_highest") is None else _whole(response["map_highest"]),
        "pulse": _pulse(response),
        "words": note,
    }


def _pulse(response: Mapping[str, Any]) -> str:
    """Pulse pressure before and after, where both were measured."""
    was, now = response.get("pulse_pressure_before"), response.get("pulse_pressure_after")
    return (
        ""
        if was is None or now is None
        else _("pulse pressure {before} → {after}", before=_whole(was), after=_whole(now))
    )


def signed(change: int) -> str:
    """A change with its sign."""
    return "0" if change == 0 else f"{'+' if change > 0 else '−'}{abs(change)}"


def due(card: Mapping[str, Any], most: int = 2) -> list[dict[str, Any]]:
    """The reassessments not done, soonest first, with what they need and what they follow.

    Of an infusion that was stopped and runs anew the sooner one alone, while neither is late: one reading is meant.
    """
    marks = {dose["id"]: dose for dose in doses(card)}
    asked = card.get("reassessments") or []
    shown = [entry for place, entry in enumerate(asked) if not _is_meant_before(entry, asked[:place], marks)]
    return [
        {
            **entry,
            "needs_text": listed(NEEDS.get(each, each) for each in entry.get("needs") or ["pressure"]),
            "also_text": listed((NEEDS.get(each, each) for each in entry.get("also") or ()), none=""),
            **{f"dose_{name}": marks.get(entry["intervention"], {}).get(name) for name in ("mark", "kind")},
        }
        for entry in shown[:most]
    ]


def _is_meant_before(
    entry: Mapping[str, Any], sooner: Iterable[Mapping[str, Any]], marks: Mapping[str, Mapping[str, Any]]
) -> bool:
    dose = marks.get(entry["intervention"])
    if dose is None or not dose.get("rates") or entry["state"] != "waiting":
        return False
    before = [(each, marks.get(each["intervention"])) for each in sooner if each["needs"] == entry["needs"]]
    return any(
        other
        and each["state"] == "waiting"
        and other["treatment"] == dose["treatment"]
        and other["running"] != dose["running"]
        for each, other in before
    )


def before_its_time(entry: Mapping[str, Any], now: datetime) -> bool:
    """Whether a reassessment is overdue though its time has not come: another pressor, or an arrest, came between."""
    return entry["state"] == "overdue" and when(entry["due_at"]) > now


def overdue_besides(card: Mapping[str, Any]) -> list[str]:
    """How many reassessments are overdue besides those that are listed."""
    return [
        _("{count} more overdue after {doses}", count=number, doses=because)
        for because, number in (card.get("unanswered") or {}).items()
    ]


def fluids(card: Mapping[str, Any]) -> str:
    """Fluid so far in mL and mL/kg, with what of it may have gone in only in part; nothing before the first."""
    given = card.get("fluids") or {}
    if not given.get("total_ml"):
        return ""
    per_kg = (
        _(", {ml_per_kg} mL/kg", ml_per_kg=value_text(round(given["ml_per_kg"], 1)))
        if given.get("ml_per_kg") is not None
        else ""
    )
    return ", ".join(filter(None, [f"{value_text(given['total_ml'])} mL{per_kg}", given.get("counted_whole")]))


def _whole(value: float) -> str:
    return f"{value:.0f}"
