"""For whom the amounts of a crew's page are made: one made before the patient is known better offers none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from consult import digest
from consult.render import words

DECIDES = ("patient", "impression", "rule_set")  # what amounts follow from; phase and doses are counted on by the page


def made_for(card: Mapping[str, Any]) -> dict[str, str]:
    """A digest of all that amounts follow from, and the patient and the weight as every page of the case names them."""
    person = words.person(card["patient"])
    patient = {name: value for name, value in card["patient"].items() if name != "label"}  # another case's letter
    known = {name: card[name] for name in DECIDES}
    key = digest.content_digest("made_for", card["case"], {**known, "patient": patient})[:16]
    return {"key": key, "who": words.who_text(person), "weight": words.weight_text(person)}
