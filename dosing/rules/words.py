"""The words that a rule set may use: what is misspelt must be a fault, for else its rule fits nobody."""

from __future__ import annotations

import re

from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME
from dosing.ground.measurements import LUNGS as _LUNGS
from dosing.ground.phases import PHASES as PHASES

# How well a source is known, as a file says it and as it is told; what wants to be looked at first stands first.
MARKS_TOLD = {
    "memory": _("unverified"),
    "second-hand": _("second-hand"),
    "our choice": _("local choice"),
    "read": _("checked"),
}
WEAKEST_FIRST = tuple(MARKS_TOLD)
MARKS = frozenset(MARKS_TOLD)
CLASSES = frozenset({"pressor", "vasodilator", "sedative", "opioid", "fluid", "blood", "other"})
FORMS = frozenset({"push", "bolus", "infusion", "im"})
ROUTES = ("IV", "IO", "IM", "IN", "SC", "PO")  # of those of a treatment the first of these is the usual one
PACED_OR_SHOCKED = ("pacing", "cardioversion", "defibrillation")  # the procedures with settings of a device
FLAGS = frozenset(
    {"pressure_above_goal", "no_fluid_yet", "bleeding_first", "no_pressure_since_last_dose", "crackles"}
    | {"fluid_restricted", "measurable", "pressure_low_is_caution", "airway", "wheeze"}
    | {"sedative_first"}
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
LUNGS = frozenset(_LUNGS)
RHYTHMS = frozenset(
    {"ventricular_tachycardia", "torsades", "irregular_wide", "atrial_fibrillation", "heart_block", "wide", "long_qt"}
    | {"pre_excitation", "preexcited_fibrillation", "not_shockable"}
)
HISTORY = frozenset(
    {"anticoagulant", "beta_blocker", "steroid_dependent", "heart_failure", "dialysis", "maoi", "pacemaker"}
    | {"transplant"}
)
DISEASES = frozenset(
    {"myasthenia"}
)  # told as an allergy, in the complaint or as a rhythm: a history that no crew presses
BLEEDING_CAUSES = frozenset({"trauma", "postpartum", "gut", "other"})
MEASUREMENTS = frozenset(name for name, each in BY_NAME.items() if each.in_rules and not each.of)
WANTS_LEVELS = frozenset({"needs_order", "over_hard_limit"})
READINGS = frozenset(
    {"pressure", "pressure_or_pulses", "alertness", "glucose", "heart_rate", "hr", "lungs", "rr", "spo2"}
    | {"temperature"}
)
# Findings that no number of a treatment stands behind: the rule set says where each comes from.
FINDINGS = frozenset(
    {"weight_unknown", "weight_estimated", "pressure_stale", "pressure_above_goal", "well_above_goal"}
    | {"no_pressure_since_last_dose", "no_fluid_yet", "bleeding_first", "crackles", "fluid_restricted", "allergy"}
    | {"order_not_read_back", "infusion_running", "not_in_rule_set", "unlisted_strength", "strength_not_stated"}
    | {"wrong_stock", "onset_unknown", "age_not_covered", "starts_by_order", "route_not_allowed"}
    | {"volume_not_measurable", "rate_not_deliverable", "care_limits", "refuses_blood"}
)
SLUG = re.compile(r"(?!other$)[a-z][a-z0-9-]{0,59}")
SLUG_TOLD = "small letters, digits and hyphens, and not 'other'"
GAUGES = ("14", "16", "18", "20", "22", "24")
FLOW = dict.fromkeys(GAUGES, "mL/min") | {"countable": "drops per min", "pressure_infuser": "times"}
