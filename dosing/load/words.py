"""The words and units that a rule set may use: what is misspelt must be a fault, for else its rule fits nobody."""

from __future__ import annotations

import re

from dosing.ground.measurements import BY_NAME

MARKS = frozenset({"read", "second-hand", "memory", "our choice"})
CLASSES = frozenset({"pressor", "sedative", "opioid", "fluid", "blood", "other"})
FORMS = frozenset({"push", "bolus", "infusion", "im"})
ROUTES = frozenset({"IV", "IO", "IM", "IN", "SC", "PO"})
FLAGS = frozenset(
    {"pressure_above_goal", "no_fluid_yet", "bleeding_first", "no_pressure_since_last_dose", "crackles"}
    | {"fluid_restricted", "measurable", "pressure_low_is_caution"}
)
ACTIONS = frozenset({"add", "expel", "draw", "label", "do"})
VESSELS = frozenset({"syringe", "bag"})
MEASURES = frozenset({"map", "sbp"})
WHO = frozenset({"adult", "child"})
WEIGHT = frozenset({"known", "unknown"})
IMPRESSIONS = frozenset(
    {"septic", "hypovolemic", "hemorrhagic", "cardiogenic", "anaphylactic", "neurogenic", "obstructive"}
    | {"undifferentiated"}
)
INJURIES = frozenset({"head", "spinal_cord", "torso", "limb"})
HISTORY = frozenset(
    {"anticoagulant", "beta_blocker", "steroid_dependent", "heart_failure", "dialysis", "maoi", "pacemaker"}
    | {"transplant"}
)
BLEEDING_CAUSES = frozenset({"trauma", "postpartum", "gut", "other"})
MEASUREMENTS = frozenset(name for name, each in BY_NAME.items() if each.unit)
# Findings that no number of a treatment stands behind: the rule set says where each comes from.
FINDINGS = frozenset(
    {"weight_unknown", "weight_estimated", "pressure_stale", "pressure_above_goal", "well_above_goal"}
    | {"no_pressure_since_last_dose", "no_fluid_yet", "bleeding_first", "crackles", "fluid_restricted", "allergy"}
    | {"order_not_read_back", "infusion_running", "not_in_rule_set", "unlisted_strength", "strength_not_stated"}
    | {"wrong_stock", "onset_unknown", "age_not_covered", "starts_by_order", "route_not_allowed"}
    | {"volume_not_measurable", "rate_not_deliverable"}
)
SLUG = re.compile(r"[a-z][a-z0-9-]{0,59}")
BELOW_ZERO = frozenset({"falling_slope"})
MAY_BE_ZERO = frozenset({"count", "grace_s", "clear_above_goal", "critical_under_goal", "well_above"})
GAUGES = ("14", "16", "18", "20", "22", "24")
FLOW = frozenset({*GAUGES, "pressure_infuser", "countable"})
_UNITS = {
    **dict.fromkeys(("interval", "shortest", "within"), "min"),
    **dict.fromkeys(("bag", "holds", "reads"), "mL"),
    **dict.fromkeys(("critical_map", "critical_sbp", "critical_under_goal"), "mmHg"),
    **dict.fromkeys(("sedation_map", "sedation_sbp"), "mmHg"),
    **dict.fromkeys(("usual_map_floor", "usual_map_ceiling", "well_above", "clear_above_goal"), "mmHg"),
    **dict.fromkeys(("response_map", "after_pressor_sbp_above"), "mmHg"),
    **dict.fromkeys(("after_pressor_rate_above", "after_pressor_rate_below"), "beats per min"),
    "elemental": "mg/mL",
    "drops": "drops per mL",
    "countable": "drops per min",
    "pressure_infuser": "times",
    "falling_share": "of pair slopes",
    "pushes_for_rate": "pushes",
    **dict.fromkeys(("low_in_a_row", "falling_readings"), "readings"),
    **dict.fromkeys(("least", "most", "step"), "mL/h"),  # of a pump: those of a dose are amounts
    **dict.fromkeys(GAUGES, "mL/min"),
    "managed": "mL/min",
    "falling_slope": "mmHg/min",
}
_ENDS = {"_min": "min", "_s": "s", "_h": "h", "_ml": "mL", "_percent": "%"}


def unit_of(name: str) -> str | None:
    """The unit in which the number of this name is read; None where the file's own word is only shown."""
    by_end = (unit for end, unit in _ENDS.items() if name.endswith(end))
    return _UNITS.get(name) or next(by_end, None)
