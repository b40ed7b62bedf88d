"""What is in hand as people read it: what is left, for how many doses, to when it lasts, when to discard it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from consult import zone
from consult.clock import when
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, number_text

Line = Mapping[str, Any]


def in_hand(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The syringes, bags and cylinders of a card, oldest first, each with its texts."""
    return [
        {**line, "discard_first": discard_first(line), **{name: text(line) for name, text in TEXTS.items()}}
        for line in card.get("in_hand") or ()
    ]


def discard_first(line: Line) -> bool:
    """Whether it must be discarded before it is empty: then that time counts."""
    lasts_to, discard_at = line["lasts_to"], line["discard_at"]
    return bool(lasts_to and discard_at and when(discard_at) < when(lasts_to))


def left_text(line: Line) -> str:
    """``6 mL left``, ``empty``; of what runs only what was in it at ``left_at``, which the page says beside it."""
    left = line["left"]
    if not left["value"]:
        return _("empty")
    shown = _amount(left)
    return shown if line["rate"] else _("{shown} left", shown=shown)


def doses_text(line: Line) -> str:
    """``3 doses of 20 mcg`` like the last one; before the first ``5–10 doses of 10–20 mcg``, by the standing limits."""
    doses = line["doses_left"]
    if not doses or not line["left"]["value"]:
        return ""
    fewest, many, least, most = (doses[name] for name in ("fewest", "many", "least", "most"))
    span = number_text(many) if fewest == many else f"{number_text(fewest)}–{number_text(many)}"
    alike = least == most or least["unit"] != most["unit"]
    each = _amount(most) if alike else f"{number_text(least['value'])}–{_amount(most)}"
    told = {"span": span, "each": each}
    if not many:
        return _("less than one dose of {dose}", dose=each)
    return _("{span} dose of {each}", **told) if many <= 1 else _("{span} doses of {each}", **told)


def use_text(line: Line) -> str:
    """At which rate it lasts so long: the pump's, the flow, or that of the last pushes."""
    if not line["lasts_to"]:
        return ""
    return _("at {amount}", amount=_amount(line["rate"])) if line["rate"] else _("at recent pace")


def ready(line: Line, now: datetime) -> bool:
    """Whether a dose can be drawn from this syringe: something is left in it, and its discard time has not come."""
    in_time = not line["discard_at"] or when(line["discard_at"]) > now
    return line["form"] == "syringe" and line["left"]["value"] > 0 and in_time


def empty_text(line: Line) -> str:
    """Since when what runs from it has found it empty, to stand there from that time on."""
    if not line["lasts_to"] or not line["rate"]:
        return ""
    return _("empty since {time}, by its rate", time=zone.clock(when(line["lasts_to"])))


def by_text(line: Line) -> str:
    """Who mixed it and who checked that; a check that is missing, or by the same person, is said for what was mixed."""
    by = _("by {mixed_by}", mixed_by=line["mixed_by"]) if line["mixed_by"] else ""
    second = line["checked_by"] and not same_person(line["checked_by"], line["mixed_by"])
    checked = (
        _("checked by {checked_by}", checked_by=line["checked_by"]) if second else _("not checked by a second person")
    )
    return ", ".join(filter(None, [by, checked if line["strength"] else ""]))


def same_person(one: str, other: str) -> bool:
    """Whether two names are one, whatever the size of the letters and the blanks."""
    return "".join(one.split()).casefold() == "".join(other.split()).casefold()


def spoken(card: Mapping[str, Any]) -> str:
    """What is in hand in one sentence, for the handover."""
    return "; ".join(f"{line['shown']}, {left_text(line)}" for line in card.get("in_hand") or ())


def _amount(amount: Mapping[str, Any]) -> str:
    return amount_text(Amount(amount["value"], amount["unit"]))


TEXTS = {"left_text": left_text, "doses_text": doses_text, "use": use_text, "empty": empty_text, "by": by_text}
