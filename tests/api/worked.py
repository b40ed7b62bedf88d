"""A patient at the bedside as the API sees one, and a dose put to the rules there."""

from __future__ import annotations

from typing import Any

from consult.actions import rule_sets
from consult.models import Agency
from tests.api.conftest import Program, ago, vitals
from tests.dosing.bedside import usual_route

AGES = {"y": "years", "m": "months", "d": "days"}


def amount(said: str) -> dict[str, Any]:
    """``10 mcg`` as the API takes it: the number as a text, so that nothing is lost on the way."""
    number, unit = said.split(" ", 1)
    return {"value": number, "unit": unit}


def patient(said: str, **more: Any) -> dict[str, Any]:
    """``5 y 18 kg`` as the API takes it; ``?`` for an age or a weight that nobody knows."""
    age, rest = said.split(" ", 1) if said[0] == "?" else (" ".join(said.split(" ")[:2]), said.split(" ", 2)[2])
    number, _, unit = age.partition(" ")
    weight = rest.split(" ")[0]
    return {
        "age": None if age == "?" else {"value": number, "unit": AGES[unit], "basis": "stated"},
        "weight": None if weight == "?" else {"value": weight, "unit": "kg", "basis": "measured"},
        **more,
    }


def bedside(crew: Program, open_case: Any, who: str, rules: str = "demonstration", **known: Any) -> str:
    """A case of this patient, judged by these rules, with low pressure, clear lungs and slow heart unless said."""
    impression = known.pop("impression", "septic")
    signs = {"sbp": 40, "dbp": 20, "lungs": "clear", "hr": 50, "rr": 8, "glucose_mg_dl": 40} | known.pop("signs", {})
    Agency.objects.filter(pk=crew.actor.agency).update(rule_set=rule_sets.shipped(rules))
    case: str = open_case(patient=patient(who, **known), impression=impression)
    sent = {name: value for name, value in signs.items() if value is not None}
    assert crew.post(f"cases/{case}/vitals/", vitals(**sent)).status_code == 201
    return case


def check(crew: Program, case: str, treatment: str, dose: str, **more: Any) -> dict[str, Any]:
    """The answer to a check of this dose by the treatment's usual route."""
    route = more.pop("route", usual_route(treatment))
    strengths = {name: amount(more.pop(name)) for name in ("stock", "concentration") if name in more}
    proposal = {"treatment": treatment, "amount": amount(dose), "route": route, "at": ago(seconds=0), **strengths}
    answer = crew.post(f"cases/{case}/checks/", {**proposal, **more})
    assert answer.status_code == 200, answer.content
    found: dict[str, Any] = answer.json()
    return found
