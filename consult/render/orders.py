"""Orders as decision panels: what is asked, with which findings, and which step is next."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from django.utils.text import capfirst

from consult.case.order_words import ACTIONS
from consult.render import running
from consult.render.order_story import known_since, last_step, open_question, stage, steps, talk, told
from consult.render.words import plain, value_text
from dosing.check.infusion import restated
from dosing.ground.facts import Amount, Weight
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text
from dosing.ground.titration import Titration
from dosing.ground.units import WrongUnit
from dosing.tell import titration
from dosing.tell.set_for import PUMP

LEADS = {
    "needs_order": ("order", _("Needs your order")),
    "caution": ("caution", _("Caution")),
    "over_hard_limit": ("over", _("Over a hard limit")),
}
WITHIN = {"mark": "within", "lead": _("Within"), "text": _("the standing limits")}
OTHER = "other"
PROPOSED = ("treatment", "amount", "route", "stock", "concentration", "over_min", "product", "indication", "titrate")
OFF = 1.2  # an edge is told where the true weight may well lie beyond it: our choice, for what is shown alone
SAID = ("amount", "strength", "volume", "concentration", "rate")  # in which a read-back may state the dose
UNITS_LIKE = {
    "mcg": ("mcg", "mg"), "mg": ("mg", "mcg", "g"), "g": ("g", "mg"), "mL": ("mL", "L"), "L": ("L", "mL"),
    "mcg/min": ("mcg/min", "mcg/kg/min"), "mcg/kg/min": ("mcg/kg/min", "mcg/min"), "units/min": ("units/min",),
}  # fmt: skip


def orders(card: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The orders that are not finished: those that wait for a decision first, the longest waiting on top."""
    known = sorted(card.get("orders") or (), key=lambda order: (order["state"] != "requested", order["requested_at"]))
    return [
        {
            **panel(order),
            "stepping": running.stepping(card, order),
            "ends_steps_of": running.ends_steps_of(card, order),
        }
        for order in known
    ]


def panel(order: Mapping[str, Any]) -> dict[str, Any]:
    """One order with its headline, findings, steps, and the units in which another amount may be stated."""
    findings = [finding(entry) for entry in (order.get("check") or {}).get("findings") or ()]
    unit = (order.get("amount") or {}).get("unit", "")
    return {
        **order,
        "what": headline(order),
        "misread": misread(order),
        "how": how(order),
        "weight_range": weight_range(order),
        "findings": findings or ([WITHIN] if order.get("check") else []),
        "over": any(entry["mark"] == "over" for entry in findings),
        **checked(order),
        "proposal": proposal(order),
        "asked": order["state"] == "requested",
        "clock_stopped": order["state"] == "requested" and not order.get("waiting_since"),
        "units": UNITS_LIKE.get(unit, (unit,)),
        "stage": stage(order),
        "query": open_question(order),
        "talk": talk(order),
        "known_since": known_since(order),
        "steps": steps(order),
    }


def checked(order: Mapping[str, Any]) -> dict[str, str]:
    """When the check that stands with a request was made, and with which pressure; it is made anew on an open page."""
    check = order.get("check") or {}
    now = check.get("pressure")
    with_it = str(now.get("measured") or now["text"]) if now else _("no pressure on record")
    at = check.get("at") or (order["requested_at"] if check else "")
    return {"checked_at": str(at or ""), "checked_with": with_it if check.get("at") else ""}


def proposal(order: Mapping[str, Any]) -> str:
    """What is asked as a proposal in JSON, for a page that puts it to the rules anew; empty for an unlisted drug."""
    if not order.get("amount") or order["treatment"] == OTHER:
        return ""
    asked = {name: order[name] for name in PROPOSED if order.get(name) is not None}
    return json.dumps(asked | ({"new_rate": True} if order.get("action") == "change" else {}))


def ended(found: Iterable[Mapping[str, Any]]) -> list[dict[str, str]]:
    """Orders that have ended, the newest end first, each with what became of it; what was given stands elsewhere."""
    known = sorted(found, key=lambda order: str(last_step(order)["at"]), reverse=True)
    return [{"what": headline(order), "became": capfirst(told(order))} for order in known if order["state"] != "given"]


def headline(order: Mapping[str, Any]) -> str:
    """Drug, dose and route on one line, with the product of blood, and what is to be done where that is not to give."""
    strength = order.get("concentration")
    of = _(" of {value}", value=amount_text(Amount(strength["value"], strength["unit"]))) if strength else ""
    dose = str(order.get("shown") or order["title"])
    parts = [dose.replace(of, "") if how(order) else dose]
    if order.get("product"):
        parts.append(f"({plain(order['product'])})")
    return " ".join(parts)


def how(order: Mapping[str, Any]) -> str:
    """Volume or rate that the amount comes to, and a repeat where one is asked."""
    check = order.get("check") or {}
    give = check.get("give") or {}
    comes_to = str(give.get("shown") or "").partition(" = ")[2]
    again = order.get("repeat") or {}
    every = (
        _(", at least {every_min} min apart", every_min=value_text(again["every_min"]))
        if again.get("every_min")
        else ""
    )
    repeat = _("up to {times} doses{every}", times=again["times"], every=every) if again.get("times") else ""
    return " · ".join(filter(None, [f"= {comes_to}" if comes_to else "", repeat, _steps(order, check)]))


def _steps(order: Mapping[str, Any], check: Mapping[str, Any]) -> str:
    """The steps of a titration as the pump shows them: ``steps of 15 mL/h to at most 60 mL/h``."""
    titrate, give = order.get("titrate"), check.get("give") or {}
    if not titrate or not give.get("rate"):
        return ""
    weight, strength = msgspec.convert((check["weight_used"], give["strength"]), tuple[Weight | None, Amount | None])
    rates = (Amount(**titrate[name]) for name in ("step", "most"))
    try:
        step, most = (amount_text(restated(rate, PUMP, weight, strength)) for rate in rates)
    except WrongUnit:
        return ""
    return _("steps of {step} to at most {most}", step=step, most=most)


def said(content: Mapping[str, Any], came_to: Mapping[str, Any] | None = None) -> str:
    """What was repeated, in words: ``epinephrine push dose 100 mcg IV``, or what is in the hand and comes to."""
    parts = {name: amount_text(Amount(**content[name])) for name in SAID if content.get(name)}
    of = parts.get("strength") or parts.get("concentration")
    steps = content.get("titrate")
    comes = f"= {amount_text(Amount(**came_to))}" if came_to else ""
    amount = parts.get("amount") or parts.get("volume") or parts.get("rate") or ""
    return " ".join(
        filter(
            None,
            [
                ACTIONS.get(content.get("action") or "give", "").strip(),
                content.get("name") or content["treatment"].replace("-", " "),
                amount,
                _("of {of}", of=of) if of else "",
                comes,
                str(content.get("route") or ""),
                titration.told(msgspec.convert(steps, Titration)) if steps else "",
            ],
        )
    )


def misread(order: Mapping[str, Any]) -> str:
    """What the crew repeated where that differs from the order and stands so; else nothing."""
    told = order.get("read_back") or {}
    return said(told["said"], told["came_to"]) if told and order.get("mismatch") else ""


def weight_range(order: Mapping[str, Any]) -> str:
    """The true weights at which the verdict would be another one, where one of them lies near the guess."""
    check = order.get("check") or {}
    held, guess = check.get("weight_range"), check.get("weight_used")
    if not held or not guess:
        return ""
    near = [bound for bound in (held["least"], held["most"]) if bound and 1 / OFF <= bound / guess["value"] <= OFF]
    return str(held["beyond"]) if near else ""


def finding(entry: Mapping[str, Any]) -> dict[str, Any]:
    """A finding of a check with the mark and the words that lead it."""
    mark, lead = LEADS.get(entry["level"], ("within", _("Within")))
    return {"mark": mark, "lead": lead, "text": entry["text"]}
