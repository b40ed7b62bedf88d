"""What a crew reads aloud when the patient changes hands, from the card alone.

In the order of ISBAR (identify, situation, background, assessment, requirements), a published order of handover (from
memory). A line is a list of pieces: texts, ``{"age": time}`` for a number's age, ``{"clock": time}`` for a time of day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from consult.render import arrest, in_hand, orders, questions, treatments, vitals
from consult.render.case import facts
from consult.render.journal import settings_text
from consult.render.words import PROCEDURES, person, plain, who_text
from dosing.ground.facts import Amount
from dosing.ground.measurements import BY_NAME
from dosing.ground.text import amount_text

Card = Mapping[str, Any]
Piece = str | dict[str, str]
Line = list[Piece]

LATER = ("Access", "Incident")  # these facts have their place elsewhere, or are not said
ELSEWHERE = ("iv_access", "io_access", "cpr", "defibrillation")
MOST_TIMES = 3
WAITS = {"requested": "asked for", "approved": "ordered, not read back", "read_back": "ordered, not all given"}


def handover(card: Card, consulted: Iterable[Card] = ()) -> list[dict[str, Any]]:
    """The parts of a handover, each with its name and its lines; a part without lines is left out.

    ``consulted`` are the questions without a drug, each with its answer, and the instructions, as ``questions.lines``.
    """
    parts: dict[str, list[Line]] = {
        "Identify": [[f"{card['unit']['call_sign']}: {who_text(person(card['patient']))}"]],
        "Situation": _situation(card),
        "Background": [[_background(card)]],
        "Arrest": arrest.spoken(card),
        "Assessment": _assessment(card),
        "Given": _given(card),
        "Done": _done(card),
        "Running": _running(card),
        "Medical control": [line for each in consulted for line in _consulted(each)],
        "Required": _required(card),
    }
    return [{"name": name, "lines": lines} for name, lines in parts.items() if lines]


def _situation(card: Card) -> list[Line]:
    told = ": ".join(filter(None, [plain(card["impression"]).capitalize(), card["complaint"]]))
    onset = card["patient"].get("onset_at")
    lines: list[Line] = [[told, *_at(", since ", onset)]]
    if card.get("destination"):
        lines.append([f"To {card['destination']}", *_at(", expected ", card.get("eta"))])
    return lines


def _background(card: Card) -> str:
    told = "; ".join(f"{fact['name'].lower()} {fact['value']}" for fact in facts(card) if fact["name"] not in LATER)
    return told[:1].upper() + told[1:]


def _assessment(card: Card) -> list[Line]:
    pressure = vitals.pressure(card)
    cuff = vitals.cuff_text(card["vitals"])
    numbers = " · ".join(filter(None, [pressure["text"], f"{cuff} mmHg" if cuff[:1].isdigit() else cuff]))
    slope, below = pressure["slope"], vitals.below_goal(card)
    course = ", ".join(filter(None, [slope["words"] if slope else "", below["short"] if below else ""]))
    first: Line = [numbers, *_age(pressure["taken_at"])] if pressure["taken_at"] else ["Pressure not taken"]
    return [first, *_sets(card), ["Signs: ", *_signs(card)], *_said(course)]


def _signs(card: Card) -> Line:
    """The signs, each that is older than the pressure with its age; without one nothing is claimed."""
    found = vitals.signs(card)
    present, old = ([_sign(sign) for sign in found[name]] for name in ("present", "old"))
    parts = [_joined(" · ", present), [f"{vitals.NOT_SINCE}: ", *_joined(" · ", old)] if old else []]
    none = "none recorded; pressure is not perfusion" if found["looked_at"] else "not assessed"
    return _joined("; ", [part for part in parts if part]) or [none]


def _sign(sign: Mapping[str, str]) -> Line:
    return [sign["text"], *(_age(sign["taken_at"]) if sign["taken_at"] else [])]


def _joined(between: str, parts: list[Line]) -> Line:
    """Lines behind each other as one."""
    return [piece for place, part in enumerate(parts) for piece in ([between] if place else []) + part]


def _sets(card: Card) -> list[Line]:
    """The other measurements: those of one set on a line, with their age, the newest set first."""
    sets: dict[str, list[str]] = {}
    cells = [*vitals.cells(card)[1:], *(cell for cell in vitals.others(card) if BY_NAME[cell["key"]].handover)]
    for cell in cells:
        if cell["taken_at"]:
            sets.setdefault(cell["taken_at"], []).append(f"{cell['name']} {cell['value']} {cell['unit']}".strip())
    return [[", ".join(told), *_age(at)] for at, told in sorted(sets.items(), reverse=True)]


def _given(card: Card) -> list[Line]:
    """What was given and does not run, alike doses on one line with their times; the fluid in all."""
    over = [dose for dose in card.get("doses") or () if not dose["in_error"] and not treatments.goes_on(dose)]
    alike: dict[str, list[str]] = {}
    for dose in over:
        if not dose["ended_at"]:
            alike.setdefault(_what(dose), []).append(dose["given_at"])
    lines: list[Line] = [[what, *_times(at)] for what, at in alike.items()]
    lines += [_course(dose) for dose in over if dose["ended_at"]]
    fluid = treatments.fluids(card)
    whole = ", what still runs counted whole" if any(map(_is_volume, card.get("running") or ())) else ""
    return [*lines, *_said(f"Fluid in all {fluid}{whole}" if fluid else "")] or [["nothing recorded"]]


def _done(card: Card) -> list[Line]:
    """What else was done, alike on one line with their times; ways in and what belongs to an arrest stand elsewhere."""
    alike: dict[str, list[str]] = {}
    for each in card.get("procedures") or ():
        if each["procedure"] not in ELSEWHERE:
            told = (each["site"] or "", settings_text(each), plain(each["outcome"] or ""))
            alike.setdefault(", ".join(filter(None, [PROCEDURES[each["procedure"]], *told])), []).append(each["at"])
    return [[what, *_times(at)] for what, at in alike.items()]


def _is_volume(dose: Card) -> bool:
    """Whether a dose is stated as a volume, and not as a rate of one."""
    return (dose.get("amount") or {}).get("unit") in ("mL", "L", "mL/kg", "bag")


def _what(dose: Card) -> str:
    return f"{dose['shown']}{', stopped' if dose['status'] == 'stopped' else ''}{_before(dose)}"


def _before(dose: Card) -> str:
    by = f" by {plain(dose['prior_by'])}" if dose.get("prior_by") else ""
    return f", before the crew{by}" if dose["prior"] else ""


def _course(dose: Card) -> Line:
    """What ran: its rates with their times, its end, and how much went in where that was told."""
    first, *later = dose.get("rates") or [None]
    shown = dose["shown"].replace(f" {amount_text(Amount(**dose['amount']))}", "", 1) if first else dose["shown"]
    at = f"{amount_text(Amount(**first['amount']))} from " if first else ""
    changes: list[Line] = [[f", {_rate_text(rate)} from ", {"clock": rate["at"]}] for rate in later]
    end: Line = [f", {dose['status']} ", {"clock": dose["ended_at"]}]
    infused = [f", {amount_text(Amount(**dose['infused']))} went in"] if dose.get("infused") else []
    return [f"{shown}{_before(dose)}, {at}", {"clock": dose["given_at"]}, *_joined("", changes), *end, *infused]


def _rate_text(rate: Card) -> str:
    """A rate, or that there was none."""
    return amount_text(Amount(**rate["amount"])) if rate["amount"] else "held"


def _times(given_at: list[str]) -> Line:
    if len(given_at) > MOST_TIMES:
        return [f", {len(given_at)} times, ", {"clock": given_at[0]}, " to ", {"clock": given_at[-1]}]
    return [piece for at in given_at for piece in (", ", {"clock": at})]


def _running(card: Card) -> list[Line]:
    """Infusions and fluids with their rates, and the ways in."""
    held = {line["id"]: line for line in card.get("in_hand") or () if line["rate"]}
    lines: list[Line] = [
        [
            dose["shown"],
            *_at(", HELD since " if dose["status"] == "held" else ", since ", dose["changed_at"] or dose["given_at"]),
            *_rate(held.pop(_bag_of(dose, held), None)),
        ]
        for dose in card.get("running") or ()
    ]
    lines += [[line["what"], *_rate(line)] for line in held.values()]
    ways_in = next(fact["value"] for fact in facts(card) if fact["name"] == "Access")
    return [*(lines or [["nothing recorded as running"]]), [f"Access: {ways_in}"]]


def _bag_of(dose: Card, held: Mapping[str, Card]) -> str:
    """The bag or syringe that a dose runs from: the one it names or hung itself, else one of the same treatment."""
    named: str = dose["container"] or dose["id"]
    alike = (key for key, line in held.items() if line["treatment"] == dose["treatment"])
    return named if named in held else next(alike, named)


def _rate(line: Card | None) -> Line:
    """The pump's rate or the flow, and to when what is in it lasts."""
    if line is None:
        return []
    return [f", {amount_text(Amount(**line['rate']))}", *_at(", lasts to ", line["lasts_to"])]


def _consulted(told: Card) -> list[Line]:
    """What was asked with its form and its answer, or what was told unasked, and what became of it."""
    if told["topic"] is None:
        return [
            [f"Told by {told['by']} ", {"clock": told["at"]}, f": {questions.instructed_text(told)}, ", *_became(told)]
        ]
    answer = told.get("answer")
    put: Line = [f"{questions.lead(told)}, asked ", {"clock": told["at"]}, f": {questions.asked_text(told)}"]
    if answer is None:
        return [[*put, "; ", *_became(told)]]
    decision = questions.DECISIONS.get(answer.get("decision") or "", "Answered")
    said: Line = [f"{decision} by {answer['by']} ", {"clock": answer["given_at"]}, f": “{answer['text']}”, "]
    return [put, [*said, *_became(answer)]]


def _became(told: Card) -> Line:
    step = told["steps"][-1]
    why = f": {step['reason']}" if step.get("reason") else ""
    return [f"{questions.STEPS[step['step']]} ", {"clock": step["at"]}, why]


def _required(card: Card) -> list[Line]:
    """What the next team must know to do: reassessments, orders not finished, what is in hand."""
    due = [_due(entry) for entry in treatments.due(card, most=20)]
    asked: list[Line] = [[f"{orders.headline(order)}: {_waits(order)}"] for order in card.get("orders") or ()]
    held = in_hand.spoken({"in_hand": [line for line in card.get("in_hand") or () if not line["rate"]]})
    more: list[Line] = [[text] for text in treatments.overdue_besides(card)]
    return [*more, *due, *asked, *_said(f"In hand: {held}" if held else "")]


def _waits(order: Card) -> str:
    """What an open order waits for; what is stepped up by it goes on."""
    return "stepped up by the crew" if order.get("titrate") and order.get("given") else WAITS[order["state"]]


def _due(entry: Card) -> Line:
    word = {"overdue": "Overdue, was due ", "unknown": "Not known, was due "}.get(entry["state"], "Due ")
    return [word, {"clock": entry["due_at"]}, f": {entry['needs_text']} after {entry['because']}"]


def _said(text: str) -> list[Line]:
    """A line of one text, or none."""
    return [[text]] if text else []


def _at(word: str, at: str | None) -> Line:
    return [word, {"clock": at}] if at else []


def _age(at: str) -> Line:
    return [" ", {"age": at}]
