"""What a physician's form offers of each treatment: the routes and units that the rule set has for it, no others."""

from __future__ import annotations

from functools import lru_cache
from typing import Any
from uuid import UUID

from consult import queries
from consult.models import Agency
from dosing.ground import units
from dosing.rules.rule_set import Treatment

UNITS = (
    "mcg", "mg", "g", "mcg/kg", "mg/kg", "mL", "L", "mL/kg", "bag", "units", "units/kg",
    "mcg/min", "mcg/kg/min", "units/min", "units/kg/min", "mg/h", "units/h", "units/kg/h",
)  # fmt: skip
PER_ML = ("mcg/mL", "mg/mL", "units/mL")
PUMP = "mL/h"


def offered_in(agency: UUID) -> dict[str, dict[str, Any]]:
    """By treatment of the rule set in force; empty before one was adopted."""
    record = Agency.objects.values_list("rule_set_id", flat=True).get(id=agency)
    return _offered(record) if record else {}


@lru_cache(maxsize=32)
def _offered(record: UUID) -> dict[str, dict[str, Any]]:
    return {slug: offered(treatment) for slug, treatment in queries.rules_by_record(record).treatments.items()}


def offered(treatment: Treatment) -> dict[str, Any]:
    """Routes, what it is for, units of the amount and units of a strength; the treatment's own first."""
    kinds, infusion = treatment.kinds("adult") | treatment.kinds("child"), treatment.form == "infusion"
    hourly = treatment.unit.endswith("/h")  # one or the other, so that a rate is not read for sixty times of it
    alike = (unit for unit in UNITS if units.kind(unit) in kinds and unit.endswith("/h") == hourly)
    stated = [unit for unit in alike if unit != treatment.unit]
    own = next((each.amount.unit for each in treatment.concentrations), "")
    base = units.kind(treatment.unit).split("/")[0]
    per_ml = [unit for unit in PER_ML if units.kind(unit).split("/")[0] == base]
    return {
        "routes": sorted(treatment.routes.union(*(each.routes for each in treatment.indications.values()))),
        "indications": [[slug, each.title] for slug, each in treatment.indications.items()],
        "units": [treatment.unit, *stated, *([PUMP] if infusion else [])],
        "per_ml": sorted((unit for unit in per_ml if infusion), key=lambda unit: unit != own),
        "product": treatment.drug_class in ("fluid", "blood"),
        "rate": infusion,
    }
