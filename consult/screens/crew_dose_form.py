"""The form of one dose: routes, strengths in hand, amounts to choose from, and what was chosen on the page before."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from math import isfinite
from typing import Any

from consult.render.in_hand import ready
from consult.screens.crew_choices import OVER_MINUTES, ROUTES
from consult.screens.crew_drawn_from import Place
from consult.screens.crew_treatments import amount_of, mixes, prefilled, ways
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, drug_text
from dosing.rules.rule_set import RuleSet, Strength, Treatment

Row = Mapping[str, Any]
CARRIED = ("route", "amount", "strength", "over_min", "product", "indication")  # from giving to asking for an order


def dose_choices(row: Row | None) -> list[dict[str, Any]]:
    """The usual amounts of the guidance to choose from, each with its volume; each is checked when it is chosen."""
    return [_choice(each["amount"], each) for each in (row or {}).get("usual") or ()]


def _choice(amount: Mapping[str, Any], told: Row) -> dict[str, Any]:
    """An amount with its volume: of one strength at once, of several once the page knows which is in hand."""
    volumes = {_key(each["strength"]): _said(each["volume"]) for each in told.get("volumes") or ()}
    per_kg = told.get("per_kg")
    beside = _said({**per_kg, "value": round(per_kg["value"], 1)}) if per_kg else next(iter(volumes.values()), "")
    return {
        "key": _key(amount),
        "text": _said(amount),
        "above": told.get("above_guide", False),
        "beside": beside if len(volumes) < 2 else "",
        "volumes": json.dumps(volumes) if len(volumes) > 1 else "",
    }


def source(held: Sequence[Row], place: Place | None, treatment: Treatment, now: datetime) -> dict[str, Any]:
    """What can be ticked to draw from: every volume on the page is of one strength, that of the place.

    Of another strength than the recipe makes, only the syringes in hand are offered.
    """
    if place is not None:
        by_recipe = {} if place.new else {"recipe": [], "prefilled": ""}
        return {"in_syringe": place.syringes, **by_recipe}
    ready_now = [each for each in held if each.get("strength") and ready(each, now)]
    return {"in_syringe": ready_now if treatment.recipe else []}


def runs(dose: Row) -> str:
    """What runs as a proposal in JSON, but for its rate: the page puts a new one to the rules."""
    known = {name: dose.get(name) for name in ("treatment", "route", "concentration")}
    return json.dumps({name: value for name, value in known.items() if value} | {"new_rate": True})


def as_ordered(order: Row, form: Row) -> dict[str, str]:
    """What was ordered and read back, by which the page tells another dose or strength."""
    amount, strength = amount_of(order.get("amount")), amount_of(order.get("concentration"))
    listed = {each["key"] for each in form["strengths"]}
    key = _key({"value": strength.value, "unit": strength.unit}) if strength else ""
    return {
        "dose": _key({"value": amount.value, "unit": amount.unit}) if amount else "",
        "strength": key if key in listed else "",
        "text": _(" of ").join(amount_text(each) for each in (amount, strength) if each),
    }


def as_read_back(order: Row, form: Row) -> dict[str, str]:
    """Route, dose and strength as they were read back, to be chosen already; nothing while the order does not hold.

    ``whole`` where the form needs no other choice.
    """
    if order["gate"]["hold"]:
        return {}
    said = (order.get("read_back") or {}).get("said") or {}
    read = said.get("concentration") or said.get("strength")
    listed = {each["key"] for each in form["strengths"]}
    known = {
        "dose": _key(order["amount"]) if order.get("amount") else "",
        "route": order["route"] if order["route"] in form["routes"] else "",
        "strength": _key(read) if read and _key(read) in listed else "",
        "over_min": _plain(order["over_min"]) if order.get("over_min") else "",
        "product": order.get("product") or "",
    }
    whole = known["dose"] and known["route"] and (known["strength"] or not listed)
    return {**known, "whole": "yes" if whole else ""}


def route_in_use(card: Row, routes: Collection[str]) -> str:
    """The only route there is, else that of the newest dose by one of them, else of the only access; ``""`` without."""
    given = [dose["route"] for dose in card.get("doses") or () if not dose["in_error"] and dose["route"] in routes]
    ways = {"iv_access": "IV", "io_access": "IO"}
    done = {ways[each["procedure"]] for each in card.get("access") or () if each["outcome"] == "done"} & {*routes}
    return only_route(routes) or (given[-1] if given else done.pop() if len(done) == 1 else "")


def only_route(routes: Collection[str]) -> str:
    """The route where there is but one; ``""`` for several."""
    return next(iter(routes)) if len(routes) == 1 else ""


def strength_in_hand(card: Row, form: Row) -> str:
    """The only strength of the treatment that is in hand, as the form lists it; ``""`` for none or several."""
    listed = {each["key"] for each in form["strengths"]}
    held = [each for each in card.get("in_hand") or () if each["treatment"] == form["item"]["treatment"]]
    keys = {_key(each["strength"]) for each in held if each["strength"] and each["left"]["value"]}
    return keys.pop() if len(keys) == 1 and keys <= listed else ""


def ticked(again: str, order: Row | None, in_syringe: Sequence[Row]) -> str:
    """The one syringe in hand whose label was read: by the read-back, or for the dose before; ``""`` without."""
    if len(in_syringe) != 1:
        return ""
    said: Row = (((order or {}).get("read_back") or {}).get("said") or {}).get("strength") or {}
    read = bool(said) and _key(said) == _key(in_syringe[0]["strength"])
    return str(in_syringe[0]["id"]) if read or again == in_syringe[0]["id"] else ""


def over_choices(row: Row) -> list[dict[str, Any]]:
    """Minutes to choose from, the shortest that the rules leave among them; what is faster can be told, and says so."""
    shortest = float(row["shortest"]["value"]) if row["shortest"] else 0
    every = sorted({*OVER_MINUTES, *([shortest] if shortest else [])})
    return [{"minutes": _plain(each), "fast": each < shortest} for each in every]


def with_amount(choices: list[dict[str, Any]], amount: object) -> list[dict[str, Any]]:
    """The choices with an ordered amount, or one carried here, among them."""
    wanted = amount_of(amount)
    if wanted is None:
        return choices
    choice = _choice({"value": wanted.value, "unit": wanted.unit}, {})
    return [choice, *choices] if choice["text"] not in {each["text"] for each in choices} else choices


def carried(parameters: Mapping[str, str], form: Row) -> dict[str, Any]:
    """What the address brings of a dose that was chosen already; an amount that the form cannot state is left out."""
    found: dict[str, Any] = {name: parameters.get(name, "") for name in CARRIED}
    number, _, unit = found["amount"].partition(" ")
    amount = {"value": _number(number), "unit": unit}
    stated = amount["value"] > 0 and unit in form["units"]
    return {**found, "amount": amount if stated else None, "dose": _key(amount) if stated else ""}


def _number(text: str) -> float:
    """The number in the text, 0 where there is none."""
    try:
        value = float(text)
    except ValueError:
        return 0
    return value if isfinite(value) else 0


def form_facts(treatment: Treatment, rules: RuleSet, row: Row) -> dict[str, Any]:
    """What the form of one treatment offers by the routes of its guidance: strengths in hand for any of them, units."""
    infusion, routes = treatment.form == "infusion", row["routes"]
    stocks = tuple(each for each in treatment.stocks if not each.routes or each.routes.intersection(routes))
    strengths = treatment.concentrations if infusion else () if treatment.recipe else stocks
    return {
        "infusion": infusion,
        "bolus": treatment.form == "bolus",
        "has_product": treatment.drug_class in ("fluid", "blood"),
        "products": _products(treatment, rules),
        "other_product": treatment.drug_class == "fluid",
        "drug": drug_text(treatment.drug, rules.tall_man),
        "routes": sorted(routes, key=ROUTES.index),
        "strengths": _offered_first(row, [_strength(each) for each in strengths]),
        "units": dose_units(treatment),
        "recipe_makes": amount_text(treatment.recipe.makes.amount) if treatment.recipe else "",
        "recipe": ways(treatment.recipe, rules),
        "prefilled": prefilled(treatment.recipe),
        "after": [note.text for note in treatment.recipe.notes] if treatment.recipe else [],
        "mixes": mixes(treatment, rules),
    }


def _products(treatment: Treatment, rules: RuleSet) -> list[str]:
    """The products to choose from: of blood, or the fluids that need no order."""
    if treatment.drug_class == "blood":
        return [each.name for each in rules.products]
    return [each.name for each in treatment.fluids if not (each.barred or each.by_order)]


def _offered_first(row: Row, strengths: list[dict[str, str]]) -> list[dict[str, str]]:
    """Those beside which an amount is offered before those that are barred for this patient."""
    offered = {_key(one["strength"]) for each in row["usual"] for one in each["volumes"]}
    return sorted(strengths, key=lambda each: each["key"] not in offered)


def dose_units(treatment: Treatment) -> list[str]:
    """The units in which a crew states the dose: the rule set's own first, then their like."""
    like = {"mcg": ("mcg", "mg"), "mg": ("mg", "mcg", "g"), "g": ("g", "mg"), "mL": ("mL",), "bag": ("bag", "mL")}
    if treatment.form != "infusion":
        return list(like.get(treatment.unit, (treatment.unit,)))
    others = ("mL/h",) if treatment.unit.endswith("/h") else ("mcg/min", "mL/h")
    return [treatment.unit, *(unit for unit in others if unit != treatment.unit and "units" not in treatment.unit)]


def _strength(strength: Strength) -> dict[str, str]:
    amount = strength.amount
    return {
        "key": _key({"value": amount.value, "unit": amount.unit}),
        "text": amount_text(amount),
        "name": strength.name,
    }


def _key(amount: Mapping[str, Any]) -> str:
    return f"{_plain(amount['value'])} {amount['unit']}"


def _said(amount: Mapping[str, Any]) -> str:
    return amount_text(Amount(amount["value"], amount["unit"]))


def _plain(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(value)
