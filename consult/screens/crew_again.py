"""The last push once more: the page for giving, with the same dose, route and syringe chosen."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from consult.clock import when
from dosing.ground.phases import PULSELESS
from dosing.rules.rule_set import RuleSet

Row = Mapping[str, Any]
REPEATED_FOR = timedelta(minutes=30)  # after that it is no repetition: our choice


def last_push(card: Row, rules: RuleSet, now: datetime) -> dict[str, str] | None:
    """What was pushed last by this crew, with the address that offers it again.

    None where that is long ago or was for another phase; an arrest has keys of its own.
    """
    pushed = [dose for dose in card.get("doses") or () if _is_push(dose, rules)]
    dose = max(pushed, key=lambda each: when(each["given_at"]), default=None)
    if dose is None or now - when(dose["given_at"]) > REPEATED_FOR or not _is_for(card["phase"], dose, rules):
        return None
    home = reverse("crew-give", args=[card["case"], dose["treatment"]])
    return {"shown": dose["shown"], "href": f"{home}?{urlencode(_as_before(card, dose))}"}


def _is_push(dose: Row, rules: RuleSet) -> bool:
    known = rules.treatments.get(dose["treatment"])
    done = dose["amount"] and not dose["in_error"] and not dose["prior"]
    return bool(known and known.form == "push" and done)


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
