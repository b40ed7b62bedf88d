"""What became of an order, as pages tell it: its steps, what holds, what was changed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

import msgspec

from consult import zone
from consult.case import order_words
from consult.case.order_words import BEGINS, BY_ITSELF, DONE, TO_DO, WORDS
from consult.clock import when
from consult.state.parts import DECIDE_AGAIN
from consult.state.parts import Order as OrderState
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.ground.titration import Titration
from dosing.tell import titration

Order = Mapping[str, Any]

LOOP = (_("requested"), _("ordered"), _("read back"))
REACHED = {"requested": 1, "approved": 2, "read_back": 3, "given": 4}
AWAITED = {
    "requested": _("awaiting decision"),
    "approved": _("awaiting read-back"),
    "cosign": _("awaiting co-sign"),
}
ENDED = ("given", "declined", "withdrawn", "not_given", "expired", "voided")
MOST_CHANGES = 3  # that lead an order; the whole order stands below
NUMBER = re.compile(r"[\d.,]+")
UNREADY = {
    "requested": _("AWAITING DECISION"),
    "approved": _("NOT READ BACK"),
    "cosign": _("WAITS FOR A SECOND PHYSICIAN"),
}


def _state(order: Order) -> OrderState:
    return msgspec.convert(order, OrderState)


def last_step(order: Order) -> dict[str, Any]:
    """The newest step of an order: what, when, by whom, perhaps why."""
    step: dict[str, Any] = msgspec.to_builtins(order_words.last_step(_state(order)))
    return step


def told(order: Order) -> str:
    """What happened last, by whom and when: ``withdrawn by Dr. Merrin at 05:05:10: pressure came up``."""
    return order_words.told(_state(order), zone.clock_seconds)


def sentence(order: Order) -> str:
    """The same as a whole sentence without its point."""
    return order_words.sentence(_state(order))


def by_itself(order: Order) -> bool:
    """Whether it ended because what it was about did, and nobody withdrew it."""
    return bool(order.get("steps")) and order["steps"][-1]["step"] == BY_ITSELF


def ended_as(order: Order) -> str:
    """How an order ended, for the timeline."""
    return _("Order ended automatically") if by_itself(order) else _("Order {state}", state=words(order["state"]))


def stage(order: Order) -> str:
    """The order's state, or ``cosign`` while it waits for a second physician."""
    return str(order.get("waiting_for") or order["state"]) if order["state"] == "approved" else str(order["state"])


def open_question(order: Order) -> str:
    """What a physician asked the crew about a request and has no answer to; else nothing."""
    asked = order["state"] == "requested" and order.get("answer") is None
    return str(order.get("question") or "") if asked else ""


def known_since(order: Order) -> str:
    """What became known after its decision, for which it is to be decided again; else nothing."""
    again = next((each for each in reversed(order.get("steps") or ()) if each["step"] == DECIDE_AGAIN), None)
    if again is None or order["state"] != "requested":
        return ""
    return zone.here(str(again.get("reason") or ""), when(again["at"]))


def talk(order: Order) -> list[dict[str, Any]]:
    """What was asked and answered about a request, in turn: who, when, which words."""
    said = [each for each in order.get("steps") or () if each["step"] in order_words.SAID]
    return [{**each, "asks": each["step"] == "asked back"} for each in said]


def placed(order: Order) -> bool:
    """Whether a physician ordered it of their own accord."""
    return bool(order.get("steps")) and order["steps"][0]["step"] == "placed"


def says(order: Order) -> list[str]:
    """What physicians say to an order beside it, told wherever the crew is: ``Dr. Merrin says: stop at MAP 80``."""
    said = [
        (order.get("requested_by"), order.get("reason") if placed(order) else None),
        (order.get("decided_by"), order.get("decision_reason") if order["state"] != "declined" else None),
        (order.get("cosigned_by"), order.get("cosign_reason")),
    ]
    return [_("{by} says: {words}", by=by, words=told) for by, told in said if told]


def stepped(order: Order) -> bool:
    """Whether the crew steps up by it what runs already."""
    return bool(order["state"] == "read_back" and order.get("titrate") and order.get("given"))


def awaited(order: Order) -> str:
    """What an open order waits for in words, or what it lets the crew do; "" once it has ended."""
    if order["state"] == "read_back":
        return _("may be stepped up by the crew") if stepped(order) else TO_DO.get(action(order), _("to be given"))
    return AWAITED.get(stage(order), "")


def action(order: Order) -> str:
    """What is ordered: to ``give`` a dose, unless another."""
    return str(order.get("action") or "give")


def steps(order: Order) -> list[dict[str, Any]]:
    """The steps of the loop: what is done, the one that is open in words, what is ahead.

    An order that a physician gave of their own accord was never requested; one that ended early has no open step.
    """
    told_by_times = 1 + bool(order.get("approved_at")) + bool(order.get("read_back_at"))
    reached = REACHED.get(order["state"], told_by_times)
    begun = 1 if placed(order) else 0
    waits = awaited(order)
    several = order.get("times", 1) > 1
    done = DONE.get(action(order), _("given"))
    so_far = _("given {count} of {times}", count=order["given"], times=order["times"]) if several else done
    names = [*LOOP, so_far]
    return [
        {
            "name": waits if waits and place == reached else name,
            "done": place < reached,
            "open": bool(waits) and place == reached,
        }
        for place, name in enumerate(names)
    ][begun:]


def held(order: Order) -> str:
    """What a crew is told whose page uses an order that does not hold: ``WITHDRAWN: do not give``."""
    begins = action(order) in BEGINS
    stands = _("SET BACK TO THE PHYSICIAN") if known_since(order) else UNREADY.get(stage(order))
    if order["state"] == "given":
        return _("ALREADY GIVEN: do not give again") if begins else _("ALREADY DONE: do not repeat it")
    if not begins:
        return _("{state}: do not carry it out", state=stands or _ended(order))
    if not stands and order.get("given"):
        return _("{state}: do not give more", state=_ended(order))
    return _("{state}: do not give", state=stands or _ended(order))


def _ended(order: Order) -> str:
    """The state in capitals, for AS in capitals is an ear; nobody has withdrawn what ended by itself."""
    return _("ENDED") if by_itself(order) else WORDS[order["state"]].removeprefix("recorded as ").upper()


def changed(order: Order) -> str:
    """What of an order was changed, each change once beside what was asked: ``25, not 30 mcg; most 0.2, not 0.3 …``."""
    ours, theirs = (_behind(order["title"], order.get(name)) for name in ("shown", "asked_for"))
    if not theirs or ours == theirs:
        return ""
    steps = SequenceMatcher(None, theirs, ours, autojunk=False).get_opcodes()
    told = [
        _difference(ours, ours[to:until], theirs[at:end], until) for act, at, end, to, until in steps if act != "equal"
    ]
    return "; ".join(told[:MOST_CHANGES]) + (_("; and more") if len(told) > MOST_CHANGES else "")


def _behind(title: str, shown: object) -> list[str]:
    """The words of an order behind the drug, all where it does not name it so; a comma between them is one, too."""
    text = str(shown or "")
    return (text.partition(title)[2] if title in text else text).replace(", ", " , ").split()


def _difference(ours: Sequence[str], new: Sequence[str], old: Sequence[str], until: int) -> str:
    """One change; of a number with the word before it and its unit."""
    if not new or not old:
        return _("now {added}", added=_joined(new)) if new else _("no longer {removed}", removed=_joined(old))
    begun, is_number = until - len(new), bool(NUMBER.fullmatch(old[-1]))
    before, unit = (ours[max(begun - 1, 0) : begun], ours[until : until + 1]) if is_number else ([], [])
    if before == ["at"]:  # "call at 0.15", for "at" alone says nothing
        before = ours[max(begun - 2, 0) : begun]
    return _("{to}, not {was}", to=_joined([*before, *new]), was=_joined([*old, *unit]))


def _joined(words: Sequence[str]) -> str:
    return " ".join(words).replace(" , ", ", ").strip(", ")


def apart(order: Order) -> tuple[str, str]:
    """An order as what leads, drug and dose, and the steps by which it may be stepped up; "" without."""
    shown, titrate = str(order.get("shown") or ""), order.get("titrate")
    steps = titration.told(msgspec.convert(titrate, Titration)) if titrate else ""
    return (shown.removesuffix(f", {steps}"), steps) if steps and shown.endswith(f", {steps}") else (shown, "")
