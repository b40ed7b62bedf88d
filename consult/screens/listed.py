"""By which names a page knows the drugs of the rules while one is typed, also without a link: for `core/names.js`."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from dosing.ground.text import drug_text
from dosing.rules.names import by_name
from dosing.rules.rule_set import RuleSet


@lru_cache(maxsize=32)
def listed(rules: RuleSet) -> dict[str, Any]:
    """The names by their words, the longest first, with the drugs that each stands for; the treatments of each drug."""
    drugs: dict[str, dict[str, Any]] = {}
    for treatment in rules.treatments.values():
        drug = drugs.setdefault(treatment.drug, {"shown": drug_text(treatment.drug, rules.tall_man), "treatments": []})
        drug["treatments"].append({"slug": treatment.slug, "title": treatment.title})
    return {"names": [[words, *called] for words, called in by_name(rules).items()], "drugs": drugs}
