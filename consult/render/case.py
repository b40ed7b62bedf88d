"""A case as its own page shows it: the card's parts, larger, with chart, limits and timeline."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from consult.chart.case import NARROW, WIDE, case_chart
from consult.chart.summary import rows
from consult.render import lost_lines, treatments, vitals
from consult.render.card import card_view
from consult.render.in_hand import in_hand
from consult.render.journal import timeline
from consult.render.orders import finding
from consult.render.running import running, runs_now, with_rate
from consult.render.words import CODE_STATUS, NAMES, PROCEDURES, allergies_text, listed, mark_told, plain, value_text
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.measurements import LANED
from dosing.ground.text import amount_text, route_text

RANGES = {"15": ("15 min", 15.0), "40": ("40 min", 40.0), "all": (_("All"), None)}


def case_view(
    card: Mapping[str, Any], entries: Iterable[Mapping[str, Any]], limits: Mapping[str, Any] | None, window: str
) -> dict[str, Any]:
    """The texts and drawings of the case page; `window` is a key of RANGES, `limits` the guidance or None."""
    minutes = RANGES.get(window, RANGES["40"])[1]
    return {
        **card_view(card),
        "trend": "",
        "allergy": allergies_text(card["patient"]),
        "facts": facts(card),
        "others": vitals.others(card),
        "charts": [case_chart(card, minutes, sheet) for sheet in (WIDE, NARROW)],
        "ranges": [{"key": key, "name": name, "current": key == window} for key, (name, _) in RANGES.items()],
        "rows": rows(card),
        "lanes": LANED,
        "doses": _given(card),
        "every_due": treatments.due(card, most=20),
        "overdue_besides": treatments.overdue_besides(card),
        "fluids": treatments.fluids(card),
        "in_hand": in_hand(card),
        "runs": running(card),
        "limits": limits_view(limits, runs_now(card)),
        "timeline": timeline(entries),
        "open": card["state"] == "open",
    }


def _given(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Everything given; of what runs also what its rate is for the weight on record by now."""
    by_now = {dose["id"]: dose["set_for"] for dose in with_rate(card)}
    return [{**dose, "set_for": by_now.get(dose["id"], "")} for dose in treatments.doses(card)]


def facts(card: Mapping[str, Any]) -> list[dict[str, str]]:
    """What is known of patient and journey, as names and values."""
    patient = card["patient"]
    known = {
        _("History"): listed(patient.get("history") or ()),
        _("Injuries"): listed(patient.get("injuries") or (), none=""),
        _("Bleeding"): _bleeding(patient),
        _("Pregnant"): _pregnant(patient.get("pregnancy_weeks")),
        _("Fluid"): _("restricted") if patient.get("fluid_restricted") else "",
        _("Blood"): _("refused by the patient") if patient.get("refuses_blood") else "",
        _("Code status"): CODE_STATUS.get(patient.get("care_limits") or "unknown", ""),
        _("Access"): _ways_in(card),
        _("Incident"): card.get("incident") or "",
    }
    return [{"name": name, "value": value} for name, value in known.items() if value]


def _pregnant(weeks: float | None) -> str:
    """How far; that she is not, where that was told; nothing where it is not known."""
    if not weeks:
        return "" if weeks is None else _("no")
    return _("{pregnancy_weeks} weeks", pregnancy_weeks=value_text(weeks))


def _bleeding(patient: Mapping[str, Any]) -> str:
    controlled = _("controlled") if patient.get("bleeding_controlled") else ""
    return ", ".join(filter(None, [plain(patient.get("bleeding_cause") or ""), controlled]))


def _ways_in(card: Mapping[str, Any]) -> str:
    """The ways in, those that are lost too: each that is says so, with its time."""
    known = [_with_loss(_access(each), lost) for each, lost in lost_lines.ways_in(card)]
    lost = [_("one lost {time}", time=lost_lines.clock(at)) for at in lost_lines.besides(card)]
    return "; ".join(filter(None, [", ".join(filter(None, known)) or _("none recorded"), *lost]))


def _with_loss(access: str, lost: str) -> str:
    return _("{access} LOST {time}", access=access, time=lost_lines.clock(lost)) if lost else access


def _access(entry: Mapping[str, Any]) -> str:
    kind = "IO" if entry.get("procedure") == "io_access" else ""
    gauge = f"{value_text(entry['gauge'])} G" if entry.get("gauge") else ""
    return " ".join(filter(None, [kind, gauge, entry.get("site") or ""])) or PROCEDURES.get(
        entry.get("procedure") or "", ""
    )


def limits_view(
    limits: Mapping[str, Any] | None, runs: Mapping[str, list[tuple[str | None, str]]]
) -> list[dict[str, Any]]:
    """The standing-order limits as texts, a row an indication, in the order given; none of it reads as a suggestion.

    What runs says so, and whether by order: its limits are those of a new rate, whoever let it start.
    """
    return [
        {
            **entry,
            "name": entry["title"],
            "runs": [told for what, told in runs.get(entry["treatment"], ()) if (what or first) == entry["indication"]],
            "usual_of_all": entry["indication"] == first,
            "title": _("{title} for {for_what}", title=entry["title"], for_what=entry["for_what"])
            if entry["for_what"]
            else entry["title"],
            **_limits(entry),
            "left_text": left_text(entry.get("left")),
            "passed": passed_text(entry.get("left")),
            "missing_text": listed((NAMES.get(name, name) for name in entry.get("missing") or ()), none=""),
            "warned": [
                *zip(entry.get("cautions") or (), map(mark_told, entry.get("caution_sources") or ()), strict=True)
            ],
            "found": [finding(each) for each in entry.get("findings") or ()],
            "group": "order" if entry.get("by_order") else "open",
        }
        for row in (limits or {}).get("treatments") or ()
        for first in [(row["indications"] or [row])[0]["indication"]]
        for entry in (row["indications"] or [row])
    ]


def _limits(entry: Mapping[str, Any]) -> dict[str, str]:
    """Range and volume; of routes with limits of their own each range with its routes."""
    if entry["held"]:
        return {"range": _("not for this patient now"), "volume": ""}
    if not entry["by_route"]:
        return {"range": _range(entry), "volume": _volume(entry.get("volumes"))}
    ranges = (f"{', '.join(map(route_text, each['routes']))} {_range(each)}" for each in entry["by_route"])
    return {"range": "; ".join(ranges), "volume": ""}


def _range(entry: Mapping[str, Any]) -> str:
    least, start, most = (_amount(entry.get(name)) for name in ("least", "start", "most"))
    if start and start != most:
        begin = _("{least} to {most}", least=least, most=start) if least and least != start else start
        return _("start {start}, step up to {most}", start=begin, most=most)
    return _("{least} to {most}", least=least, most=most) if least and most and least != most else most or least


def _volume(volumes: Mapping[str, Any] | None) -> str:
    if not volumes:
        return ""
    strength = _amount(volumes.get("strength"))
    return _(" of ").join(filter(None, [_range(volumes), strength]))


def left_text(left: Mapping[str, Any] | None) -> str:
    """What is left before an order, ``3 of 5 left, 60 mcg left in all``, and what that counts in full."""
    if not left:
        return ""
    count = _("{count} of {of} left", count=left["count"], of=left["of"]) if left.get("of") is not None else ""
    total = _("{amount} left in all", amount=_amount(left["total"])) if left.get("total") else ""
    return ", ".join(filter(None, [count, total, (count or total) and left.get("counted_whole")]))


def passed_text(left: Mapping[str, Any] | None) -> str:
    """What is told once the interval is over; nothing where it counted from another drug of the class."""
    if left and left.get("of") is not None and left["count"] == left["of"]:
        return ""
    return _("interval passed")


def _amount(value: Mapping[str, Any] | None) -> str:
    return amount_text(Amount(value["value"], value["unit"])) if value else ""
