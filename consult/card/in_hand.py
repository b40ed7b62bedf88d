"""What is in hand: a line for each syringe, bag and cylinder, with what is left and how long that lasts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from fractions import Fraction
from typing import Any

from consult.clock import stamp
from dosing import ledger, text
from dosing.facts import Amount, Facts
from dosing.held import Held
from dosing.rule_set import RuleSet

Kept = Mapping[str, Any]
OXYGEN = "Oxygen"
PER_HOUR = 60


def lines(containers: Iterable[Kept], facts: Facts, rules: RuleSet) -> list[dict[str, Any]]:
    """What is in hand and not used up, oldest first; empty where nothing was recorded."""
    known = {each["id"]: each for each in containers}
    in_hand = ledger.holdings(facts, rules) if known else []
    return [
        _line(each, known[each.container.id], facts, rules) for each in in_hand if ledger.worth_showing(each, in_hand)
    ]


def what(kept: Kept, rules: RuleSet) -> str:
    """What is in it: the treatment's title, the name of what the rule set lacks, or oxygen."""
    if kept["form"] == "cylinder":
        return OXYGEN
    treatment = rules.treatments.get(kept["treatment"] or "")
    return text.drug_text(treatment.title if treatment else kept["name"] or kept["treatment"], rules.tall_man)


def shown(kept: Kept, rules: RuleSet) -> str:
    """A container on one line: ``EPINEPHrine push dose 10 mcg per mL, 10 mL syringe``."""
    if kept["form"] == "cylinder":
        held = kept["cylinder"]
        size = held.get("size") or amount_text(held["factor"])
        return f"{OXYGEN}, {size} cylinder, {amount_text(held['pressure'])}"
    strength = f" {amount_text(kept['strength'])}" if kept["strength"] else ""
    return f"{what(kept, rules)}{strength}, {amount_text(kept['volume'])} {kept['form']}"


def amount_text(amount: Mapping[str, Any]) -> str:
    """An amount of the kept facts as people read it."""
    return text.amount_text(Amount(amount["value"], amount["unit"]))


def _line(held: Held, kept: Kept, facts: Facts, rules: RuleSet) -> dict[str, Any]:
    unit, doses = "L" if kept["form"] == "cylinder" else "mL", ledger.doses_left(held, facts, rules)
    discard = ledger.discard_at(held.container, facts, rules)
    lasts_to = held.lasts_to if held.left or not _pushed(held) else None
    return {
        "id": kept["id"],
        "form": kept["form"],
        "treatment": kept["treatment"],
        "what": what(kept, rules),
        "strength": kept["strength"],
        "strength_text": amount_text(kept["strength"]) if kept["strength"] else "",
        "volume": _amount(held.volume, unit),
        "left": _amount(held.left, unit),
        "left_at": stamp(held.left_at),
        "doses_left": asdict(doses) if doses else None,
        "rate": _rate(held, unit),
        "lasts_to": stamp(lasts_to) if lasts_to else None,
        "mixed_at": stamp(held.container.at),
        "mixed_by": kept["mixed_by"] or "",
        "checked_by": kept["checked_by"] or "",
        "discard_at": stamp(discard) if discard else None,
        "note": ledger.note(held),
        "shown": shown(kept, rules),
    }


def _rate(held: Held, unit: str) -> dict[str, Any] | None:
    """The rate at which it runs, oxygen a minute, all else an hour; pushes have none that a pump would show."""
    if not held.per_min or _pushed(held):
        return None
    return _amount(held.per_min, "L/min") if unit == "L" else _amount(held.per_min * PER_HOUR, "mL/h")


def _pushed(held: Held) -> bool:
    return held.treatment is not None and held.treatment.form == "push"


def _amount(exact: Fraction, unit: str) -> dict[str, Any]:
    return {"value": round(float(exact), 2), "unit": unit}
