"""What a crew reads aloud when the patient changes hands, from the card alone.

In the order of ISBAR (identify, situation, background, assessment, requirements), a published order of handover (from
memory). A line is a list of pieces: texts, ``{"age": time}`` for a number's age, ``{"clock": time}`` for a time of day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from consult.chart.summary import pressure_text
from consult.render import arrest, handover_doses, in_hand, orders, questions, treatments, vitals
from consult.render.case import facts
from consult.render.journal import settings_text
from consult.render.lines import Card, Line, at_time, clock, filled, joined, said, times
from consult.render.order_story import awaited, says, stage, stepped
from consult.render.words import PROCEDURES, allergies_text, person, plain, who_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME

LATER = (_("Access"), _("Incident"))  # these facts have their place elsewhere, or are not said
ELSEWHERE = ("iv_access", "io_access", "cpr", "cpr_pause", "defibrillation")
MOST_NOTES = 10
MOST_PRESSURES = 5  # that are said besides the newest
WAITS = {
    "requested": _("requested"),
    "approved": _("ordered, not read back"),
    "read_back": _("ordered, not all given"),
} | {"cosign": _("ordered, waits for a second physician")}
DUE = {
    "overdue": _("Overdue, was due {time}: {needs} after {doses}"),
    "unknown": _("Unknown, was due {time}: {needs} after {doses}"),
}


def handover(
    card: Card, now: datetime, consulted: Iterable[Card] = (), notes: Sequence[Card] = ()
) -> list[dict[str, Any]]:
    """The parts of a handover, each with its name and its lines; a part without lines is left out.

    ``consulted`` are the questions without a drug, each with its answer, and the instructions, as ``questions.lines``;
    ``notes`` the crew's, oldest first.
    """
    parts: dict[str, list[Line]] = {
        _("Identify"): [[f"{card['unit']['call_sign']}: {who_text(person(card['patient']))}"]],
        _("Situation"): _situation(card),
        _("Background"): [[allergies_text(card["patient"])], [_background(card)]],
        _("Arrest"): arrest.spoken(card),
        _("Assessment"): _assessment(card),
        _("Given"): handover_doses.given(card),
        _("Done"): done(card),
        _("Running"): handover_doses.running(card),
        _("Medical control"): [line for each in consulted for line in _consulted(each)],
        _("Notes"): _notes(notes),
        _("Required"): _required(card, now),
    }
    return [{"name": name, "lines": lines} for name, lines in parts.items() if lines]


def _situation(card: Card) -> list[Line]:
    told = ": ".join(filter(None, [plain(card["impression"]).capitalize(), card["complaint"]]))
    onset = card["patient"].get("onset_at")
    lines: list[Line] = [[told, *at_time(_(", since {time}"), onset)]]
    if card.get("destination"):
        lines.append(
            [_("To {destination}", destination=card["destination"]), *at_time(_(", expected {time}"), card.get("eta"))]
        )
    return lines


def _background(card: Card) -> str:
    told = "; ".join(f"{fact['name'].lower()} {fact['value']}" for fact in facts(card) if fact["name"] not in LATER)
    return told[:1].upper() + told[1:]


def _assessment(card: Card) -> list[Line]:
    pressure = vitals.pressure(card)
    cuff = vitals.cuff_text(card["vitals"])
    mean, comma, goal = pressure["text"].partition(",")
    judged = " ".join(filter(None, [mean, pressure["how"]])) + comma + goal
    numbers = " · ".join(filter(None, [judged, f"{cuff} mmHg" if cuff[:1].isdigit() else cuff]))
    numbers = ", ".join(filter(None, [numbers, pressure["apart"]]))
    slope, below = pressure["slope"], vitals.below_goal(card)
    course = joined(", ", [*said(slope["words"] if slope else ""), *_below(below)])
    first: Line = [numbers, *_age(pressure["taken_at"])] if pressure["taken_at"] else [_("Pressure not taken")]
    return [
        first,
        *_earlier(card),
        *sets(card),
        filled(_("Signs: {signs}"), signs=_signs(card)),
        *([course] if course else []),
    ]


def _below(below: Card) -> list[Line]:
    """How long the pressure was below its goal, and up to when that counts; nothing is known of the time after."""
    if not below:
        return []
    gap = _(", besides {gap} not measured", gap=below["gap"]) if below["gap"] else ""
    return [[below["short"], *at_time(_(", counted until {time}"), below["until"]), *([gap] if gap else [])]]


def _earlier(card: Card) -> list[Line]:
    """The pressures before the newest, newest first, each with its time."""
    taken = [point for point in card.get("trend") or () if point["sbp"] is not None or point.get("bp_method")]
    parts: list[Line] = [[_pressure(point), " ", {"clock": point["t"]}] for point in taken[-1 - MOST_PRESSURES : -1]]
    return [filled(_("Before: {pressures}"), pressures=joined(", ", parts[::-1]))] if parts else []


def _pressure(point: Card) -> str:
    pressure = pressure_text(point["sbp"], point["dbp"]) or plain(point.get("bp_method") or "")
    if point["map"] is None:
        return pressure
    how = vitals.mean_word(point, point["map"])
    return f"{pressure} (MAP {round(point['map'])}{how and f' {how}'})"


def _signs(card: Card) -> Line:
    """The signs, each that is older than the pressure with its age; without one nothing is claimed."""
    found = vitals.signs(card)
    present, old = ([_sign(sign) for sign in found[name]] for name in ("present", "old"))
    parts = [joined(" · ", present), [f"{vitals.NOT_SINCE}: ", *joined(" · ", old)] if old else []]
    none = _("none recorded; pressure is not perfusion") if found["looked_at"] else _("not assessed")
    return joined("; ", [part for part in parts if part]) or [none]


def _sign(sign: Mapping[str, str]) -> Line:
    return [sign["text"], *(_age(sign["taken_at"]) if sign["taken_at"] else [])]


def sets(card: Card) -> list[Line]:
    """The measurements but the pressure: those of one set on a line, with their age, the newest set first."""
    known: dict[str, dict[str, list[str]]] = {}
    cells = [*vitals.cells(card)[1:], *(cell for cell in vitals.others(card) if BY_NAME[cell["key"]].handover)]
    for cell in cells:
        if cell["taken_at"]:
            told = f"{cell['name']} {cell['value']} {cell['unit']}".strip()
            # The name of a rhythm says it already.
            behind = "" if cell["key"] == "rhythm" else arrest.apart_words(card, cell["taken_at"])
            known.setdefault(cell["taken_at"], {}).setdefault(behind, []).append(told)
    return [[_set(told), *_age(at)] for at, told in sorted(known.items(), reverse=True)]


def _set(told: Mapping[str, list[str]]) -> str:
    return ", ".join(each for behind, values in told.items() for each in filter(None, [*values, behind]))


def done(card: Card) -> list[Line]:
    """What else was done, alike on one line with their times; ways in and what belongs to an arrest stand elsewhere."""
    alike: dict[str, list[str]] = {}
    for each in card.get("procedures") or ():
        if each["procedure"] not in ELSEWHERE:
            told = (each["site"] or "", settings_text(each), plain(each["outcome"] or ""))
            alike.setdefault(", ".join(filter(None, [PROCEDURES[each["procedure"]], *told])), []).append(each["at"])
    return [[what, *times(at)] for what, at in alike.items()]


def _consulted(told: Card) -> list[Line]:
    """What was asked with its form and its answer, or what was told unasked, and what became of it."""
    if told["topic"] is None:
        words = _("Instruction by {by} {time}: {instruction}, {became}")
        text = questions.instructed_text(told)
        return [filled(words, by=told["by"], time=clock(told["at"]), instruction=text, became=_became(told))]
    answer = told.get("answer")
    asked, text = questions.lead(told), questions.asked_text(told)
    put = filled(_("{topic}, asked {time}: {question}"), topic=asked, time=clock(told["at"]), question=text)
    if answer is None:
        return [[*put, "; ", *_became(told)]]
    decision = questions.decided(answer)
    said = filled(
        _("{decision}, decided by {by} {time}: “{answer}”, {became}")
        if decision
        else _("Answered by {by} {time}: “{answer}”, {became}"),
        decision=decision,
        by=answer["by"],
        time=clock(answer["given_at"]),
        answer=answer["text"],
        became=_became(answer),
    )
    return [put, said]


def _became(told: Card) -> Line:
    step = told["steps"][-1]
    why = f": {step['reason']}" if step.get("reason") else ""
    return [f"{questions.STEPS[step['step']]} ", {"clock": step["at"]}, why]


def _notes(notes: Sequence[Card]) -> list[Line]:
    """The newest notes of the crew with their times, and how many came before."""
    left_out = len(notes) - MOST_NOTES
    more = said(_("{count} earlier ones in the record", count=left_out) if left_out > 0 else "")
    return [*more, *([*clock(each["at"]), f" {each['text']}"] for each in notes[-MOST_NOTES:])]


def _required(card: Card, now: datetime) -> list[Line]:
    """What the next team must know to do: reassessments, orders not finished, what is in hand."""
    due = [_due(entry, now) for entry in treatments.due(card, most=20)]
    asked: list[Line] = [
        ["; ".join([f"{orders.headline(order)}: {_waits(order)}", *says(order)])] for order in card.get("orders") or ()
    ]
    held = in_hand.spoken({"in_hand": [line for line in card.get("in_hand") or () if not line["rate"]]})
    more: list[Line] = [[text] for text in treatments.overdue_besides(card)]
    return [*more, *due, *asked, *said(_("In hand: {containers}", containers=held) if held else "")]


def _waits(order: Card) -> str:
    """What an open order waits for; what is stepped up by it goes on."""
    return awaited(order) if stepped(order) else WAITS[stage(order)]


def _due(entry: Card, now: datetime) -> Line:
    words = DUE.get(entry["state"], _("Due {time}: {needs} after {doses}"))
    if treatments.before_its_time(entry, now):
        words = _("Due by {time}: {needs} after {doses}")
    return filled(words, time=clock(entry["due_at"]), needs=entry["needs_text"], doses=entry["because"])


def _age(at: str) -> Line:
    return [" ", {"age": at}]
