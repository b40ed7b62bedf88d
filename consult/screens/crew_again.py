"""The last push once more, or the rest of a bolus that was stopped: the page for giving, with the dose chosen."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from consult.clock import when
from consult.render.lost_lines import is_lost
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.phases import PULSELESS
from dosing.ground.text import amount_text
from dosing.rules.rule_set import RuleSet

Row = Mapping[str, Any]
REPEATED_FOR = timedelta(minutes=30)  # after that it is no repetition: our choice


def last_push(card: Row, rules: RuleSet, now: datetime) -> dict[str, str] | None:
    """What was pushed last by this crew, with the address that offers it again.

    None where that is long ago, was for another phase or went by a line that is lost; an arrest has keys of its own.
    """
    pushed = [dose for dose in card.get("doses") or () if _is_push(dose, rules)]
    dose = max(pushed, key=lambda each: when(each["given_at"]), default=None)
    if dose is None or now - when(dose["given_at"]) > REPEATED_FOR or not _is_for(card["phase"], dose, rules):
        return None
    if is_lost(card, dose):
        return None
    home = reverse("crew-give", args=[card["case"], dose["treatment"]])
    return {"shown": dose["shown"], "href": f"{home}?{urlencode(_as_before(card, dose))}"}


def left_of_a_bolus(card: Row, rules: RuleSet, now: datetime) -> dict[str, str] | None:
    """What is left of the bolus that was stopped last, with the address that offers it as a new one.

    None where a later one was given, nobody said how much went in, or it was stopped long ago.
    """
    boluses = [dose for dose in card.get("doses") or () if _is_given_here(dose, "bolus", rules)]
    dose = max(boluses, key=lambda each: when(each["given_at"]), default=None)
    if dose is None or dose["status"] != "stopped" or now - when(dose["ended_at"]) > REPEATED_FOR:
        return None
    left = _left(dose)
    if left is None or not _is_for(card["phase"], dose, rules):
        return None
    home = reverse("crew-give", args=[card["case"], dose["treatment"]])
    route = "" if is_lost(card, dose) else dose["route"]  # by which line it goes on is asked
    told = {"route": route, "amount": _plain(left), "product": dose["product"], "for": dose["indication"]}
    known = {name: str(value) for name, value in told.items() if value}
    return {"title": dose["title"], "amount": amount_text(Amount(**left)), "href": f"{home}?{urlencode(known)}"}


def _left(dose: Row) -> dict[str, Any] | None:
    whole, infused = dose["amount"], dose.get("infused")
    if not infused or units.kind(whole["unit"]) != "volume":
        return None
    rest, went_in = (
        units.number(units.quantity(Amount(**each)), "mL") if each["value"] else Fraction(0)
        for each in (whole, infused)
    )
    return {"value": float(rest - went_in), "unit": "mL"} if rest > went_in else None


def _is_push(dose: Row, rules: RuleSet) -> bool:
    return _is_given_here(dose, "push", rules)


def _is_given_here(dose: Row, form: str, rules: RuleSet) -> bool:
    known = rules.treatments.get(dose["treatment"])
    done = dose["amount"] and not dose["in_error"] and not dose["prior"]
    return bool(known and known.form == form and done)


def _is_for(phase: str, dose: Row, rules: RuleSet) -> bool:
    phases = rules.treatments[dose["treatment"]].phases
    return phase not in PULSELESS and (not phases or phase in phases)


def _as_before(card: Row, dose: Row) -> dict[str, str]:
    """What the page for giving is told: dose, route, what it is for, from which syringe, by which order."""
    held = _drawn_from(card, dose)
    strength = held["strength"] if held else dose["stock"]
    holds = any(order["id"] == dose["order"] and order["state"] == "read_back" for order in card.get("orders") or ())
    told = {
        "again": held and held["id"],
        "route": dose["route"],
        "amount": _plain(dose["amount"]),
        "for": dose["indication"],
        "from": strength and _plain(strength),
        "order": dose["order"] if holds else None,
    }
    return {name: str(value) for name, value in told.items() if value}


def _drawn_from(card: Row, dose: Row) -> Row | None:
    """The syringe in hand from which it was drawn: the one it names, else the newest that was ready then."""
    held = [each for each in card.get("in_hand") or () if each["treatment"] == dose["treatment"]]
    named = [each for each in held if each["id"] == dose["container"]]
    given_at = when(dose["given_at"])
    then = [each for each in held if each["form"] == "syringe" and when(each["mixed_at"]) <= given_at]
    return next(iter(named or then[-1:]), None)


def _plain(amount: Row) -> str:
    return f"{amount['value']:g} {amount['unit']}"
