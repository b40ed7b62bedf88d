"""Cardiac arrest in words: a line for the card, and what is said of it when the patient changes hands."""

from __future__ import annotations

from typing import Any

from consult.chart.course import SHOCK
from consult.clock import when
from consult.render.alarms import MARKS
from consult.render.lines import Card, Line, clock, filled
from consult.render.words import PHASES, value_text
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.language import ngettext
from dosing.ground.phases import ARREST, TRANSPORT
from dosing.ground.text import amount_text

SECONDS_UNDER = 120  # what lasted shorter is told in seconds


def in_arrest(card: Card) -> bool:
    """Whether the patient of this card is in cardiac arrest now."""
    return bool(card.get("phase") == ARREST)


def apart(card: Card, taken_at: str | None) -> str:
    """Of what was measured ``before`` the newest arrest, or ``in`` one that is over, which; empty: it is of now."""
    newest = next(reversed((card.get("arrest") or {}).get("spans") or ()), None)
    if newest is None or not taken_at:
        return ""
    if when(taken_at) < when(newest["since"]):
        return "before"
    return "in" if newest["until"] and when(taken_at) < when(newest["until"]) else ""


def apart_words(card: Card, taken_at: str | None) -> str:
    """The same in words, to stand behind a value."""
    return {"before": _("before the arrest"), "in": _("in the arrest"), "": ""}[apart(card, taken_at)]


def arrest(card: Card) -> dict[str, Any] | None:
    """What the card says of an arrest: the phase in words, since when, shocks and doses; None where there was none."""
    told = card.get("arrest")
    if not told or card["phase"] == TRANSPORT:
        return None
    return {
        "now": in_arrest(card),
        "marks": MARKS["high"],
        "word": PHASES[card["phase"]],
        "since": card["phase_since"],
        "lasted": "" if in_arrest(card) else _minutes(told["spans"][-1]),
        "told": [
            *_shocks_in_all(told),
            *_paused_in_all(told),
            *(piece for dose in told["doses"] for piece in [" · ", *_dose(dose)]),
        ],
    }


def spoken(card: Card) -> list[Line]:
    """Each arrest from when to when, each shock with its energy and time, the doses for an arrest alone."""
    told = card.get("arrest")
    if not told:
        return []
    shocks = [
        each
        for each in card.get("procedures") or ()
        if each["procedure"] == SHOCK and each["outcome"] in (None, "done")
    ]
    listed: Line = [
        piece for each in shocks for piece in (f", {_energy(each['settings'])}".rstrip(), " ", {"clock": each["at"]})
    ]
    return [
        *map(_span, told["spans"]),
        *_paused(told),
        [_counted(told["shocks"]), *listed],
        *(_doses(card, dose) for dose in told["doses"] if dose["count"]),
    ]


def _span(span: Card) -> Line:
    arrest, since = PHASES[ARREST], clock(span["since"])
    if not span["until"]:
        return filled(_("{arrest} {since}, ongoing"), arrest=arrest, since=since)
    then = f", {_minutes(span)}, {PHASES[span['then']].lower()}"
    return [*filled(_("{arrest} {since} to {until}"), arrest=arrest, since=since, until=clock(span["until"])), then]


def _minutes(span: Card) -> str:
    seconds = round((when(span["until"]) - when(span["since"])).total_seconds())
    return f"{seconds} s" if seconds < SECONDS_UNDER else f"{round(seconds / 60)} min"


def _shocks_in_all(told: Card) -> Line:
    last = told["last_shock"]
    if not last:
        return [_("no shock")]
    energy = _energy({"joules": last["joules"]})
    words = _("{shocks}, last {energy} {time}") if energy else _("{shocks}, last {time}")
    return filled(words, shocks=_counted(told["shocks"]), energy=energy, time=clock(last["at"]))


def _paused_in_all(told: Card) -> Line:
    """For the card: the pause that lasts, else those of the newest arrest."""
    newest = told["spans"][-1]["compressions"]
    if newest["since"]:
        return [" · ", *filled(_("compressions paused since {time}"), time=clock(newest["since"]))]
    return [f" · {_pauses(newest)}"] if newest["paused"] else []


def _paused(told: Card) -> list[Line]:
    """For the handover: the pauses of each arrest in which some were told, with the compression fraction at its end."""
    found = [each["compressions"] for each in told["spans"] if each["compressions"]["paused"]]
    return [[_pauses(each), _fraction(each)] for each in found]


def _fraction(compressions: Card) -> str:
    share = compressions["fraction"]
    return "" if share is None else _(", compression fraction {share} %", share=share)


def _pauses(compressions: Card) -> str:
    return ngettext(
        "{count} pause in compressions, {seconds} s in all",
        "{count} pauses in compressions, {seconds} s in all",
        compressions["paused"],
        seconds=compressions["seconds"],
    )


def _energy(settings: Card | None) -> str:
    joules = (settings or {}).get("joules")
    return "" if joules is None else f"{value_text(joules)} J"


def _counted(shocks: int) -> str:
    return ngettext("{count} shock", "{count} shocks", shocks) if shocks else _("no shocks")


def _doses(card: Card, dose: Card) -> Line:
    """For the handover: how many doses, of which amount where all are known and alike, the last when."""
    listed = [
        each["amount"]
        for each in card.get("doses") or ()
        if each["treatment"] == dose["treatment"] and not each["in_error"]
    ]
    alike = len(listed) == dose["count"] and all(each and each == listed[0] for each in listed)
    return filled(
        _("{drug}, {doses}{of}, last {time}"),
        drug=_drug(dose),
        doses=ngettext("{count} dose", "{count} doses", dose["count"]),
        of=_(" of {value}", value=amount_text(Amount(**listed[0]))) if alike else "",
        time=clock(dose["last_at"]),
    )


def _drug(dose: Card) -> str:
    return str(dose["title"]).removesuffix(" in cardiac arrest")


def _dose(dose: Card) -> Line:
    counted = f"{_drug(dose)} {dose['count']}"
    return (
        filled(_("{doses}, last {time}"), doses=counted, time=clock(dose["last_at"])) if dose["last_at"] else [counted]
    )
