"""For whom the amounts of a crew's page are made: one made before the patient is known better offers none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult import digest
from consult.render import words
from dosing.check.bands import at_any_weight
from dosing.ground import units
from dosing.ground.facts import Patient
from dosing.ground.patient import is_adult_for_dosing, weight_decides
from dosing.rules.rule_set import Treatment

DECIDES = ("patient", "impression", "rule_set")  # what amounts follow from; phase and doses are counted on by the page


def made_for(card: Mapping[str, Any]) -> dict[str, str]:
    """A digest of all that amounts follow from, and the patient and the weight as every page of the case names them.

    ``but_weight`` is the digest without the weight: for what is the same at any.
    """
    person = words.person(card["patient"])
    patient = {name: value for name, value in card["patient"].items() if name != "label"}  # another case's letter
    light = {name: value for name, value in patient.items() if name != "weight"}
    known = {name: card[name] for name in DECIDES}

    def key(patient: Mapping[str, Any]) -> str:
        return digest.content_digest("made_for", card["case"], {**known, "patient": patient})[:16]

    return {
        "key": key(patient),
        "but_weight": key(light),
        "who": words.who_text(person),
        "weight": words.weight_text(person),
    }


def for_any_weight(treatment: Treatment, patient: Patient, order: Mapping[str, Any] | None) -> bool:
    """Whether what the page of a treatment offers, or was ordered, stays the same when the weight is corrected."""
    ordered = (order or {}).get("amount") or {}
    who = "adult" if is_adult_for_dosing(patient) else "child"
    by_weight = weight_decides(patient) or units.per_kg(ordered.get("unit", ""))
    return not by_weight and at_any_weight(treatment, who)
