"""What the crew's forms offer: the API's codes with the words a person reads. Nothing here is chosen beforehand."""

from __future__ import annotations

from consult.render import words

METHODS = (("cuff", "Cuff"), ("palpated", "Palpated"), ("unobtainable", "Cannot get one"))
OTHER_METHODS = (("manual", "Manual cuff"), ("arterial", "Arterial line"))
PULSES = (("radial", "Radial"), ("femoral", "Femoral"), ("carotid", "Carotid"), ("none", "None"))
ALERTNESS = (("A", "Alert"), ("V", "Voice"), ("P", "Pain"), ("U", "None"))
LUNGS = (("clear", "Clear"), ("crackles", "Crackles"), ("wheeze", "Wheeze"), ("diminished", "Diminished"))
MAIN_FIELDS = (
    {"name": "sbp", "label": "Systolic", "unit": "mmHg", "least": 20, "most": 300},
    {"name": "dbp", "label": "Diastolic", "unit": "mmHg", "least": 0, "most": 200},
    {"name": "hr", "label": "HR", "unit": "/min", "least": 0, "most": 350},
    {"name": "spo2", "label": "SpO2", "unit": "%", "least": 0, "most": 100},
    {
        "name": "map_reported",
        "label": "Monitor",
        "unit": "MAP",
        "spoken": "Monitor MAP, mmHg",
        "least": 10,
        "most": 250,
    },
    {"name": "rr", "label": "RR", "unit": "/min", "least": 0, "most": 120},
    {"name": "etco2", "label": "EtCO2", "unit": "mmHg", "least": 0, "most": 150},
    {"name": "cap_refill_s", "label": "Refill", "unit": "s", "least": 0, "most": 20},
)
MORE_FIELDS = (
    {"name": "gcs", "label": "GCS total", "unit": "3–15", "keyboard": True, "least": 3, "most": 15},
    {"name": "temp_c", "label": "Temp", "unit": "°C", "keyboard": True, "least": 10, "most": 45},
    {"name": "glucose_mg_dl", "label": "Glucose", "unit": "mg/dL", "keyboard": True, "least": 5, "most": 2000},
    {"name": "lactate_mmol_l", "label": "Lactate", "unit": "mmol/L", "keyboard": True, "least": 0, "most": 30},
    {"name": "hb_g_dl", "label": "Hemoglobin", "unit": "g/dL", "keyboard": True, "least": 0, "most": 30},
    {"name": "oxygen_l_min", "label": "Oxygen", "unit": "L/min", "keyboard": True, "least": 0, "most": 100},
)
WHEN = ((0, "Now"), (2, "2 min ago"), (5, "5 min ago"), (10, "10 min ago"))
GIVEN_BY = (
    ("hospital", "Hospital"),
    ("bystander", "Bystander"),
    ("patient", "Patient"),
    ("other_crew", "Another crew"),
)
AGE_UNITS = ("years", "months", "days")
AGE_BASES = ("known", "stated", "estimated")
WEIGHT_BASES = (("measured", "measured"), ("stated", "stated"), ("length", "by length"), ("age", "by age"))
SEXES = (("female", "female"), ("male", "male"), ("other", "other"), ("unknown", "not known"))
IMPRESSIONS = (
    ("septic", "Septic"),
    ("hypovolemic", "Hypovolemic"),
    ("hemorrhagic", "Hemorrhagic"),
    ("cardiogenic", "Cardiogenic"),
    ("anaphylactic", "Anaphylactic"),
    ("neurogenic", "Neurogenic"),
    ("obstructive", "Obstructive"),
    ("undifferentiated", "Not yet clear"),
)
INJURIES = (("head", "Head"), ("spinal_cord", "Spinal cord"), ("torso", "Torso"), ("limb", "Limb"))
BLEEDING_CAUSES = (("trauma", "Trauma"), ("postpartum", "Postpartum"), ("gut", "Gut"), ("other", "Other"))
HISTORY = (
    ("anticoagulant", "Anticoagulant"),
    ("beta_blocker", "Beta blocker"),
    ("steroid_dependent", "Steroid dependent"),
    ("heart_failure", "Heart failure"),
    ("dialysis", "Dialysis"),
    ("maoi", "MAO inhibitor"),
    ("pacemaker", "Pacemaker"),
    ("transplant", "Transplant"),
)
CARE_LIMITS = (
    ("full", "Full treatment"),
    ("no_cpr", "No CPR"),
    ("no_intubation", "No intubation"),
    ("comfort", "Comfort care"),
    ("unknown", "Not known"),
)
ROUTES = ("IV", "IO", "IM", "IN", "SC", "PO")
PROCEDURES = tuple(words.PROCEDURES.items())
PROCEDURE_OUTCOMES = ("done", "failed", "attempted")
GAUGES = (14, 16, 18, 20, 22, 24)
CLOSE_OUTCOMES = (
    ("refused", "Refused care"),
    ("died", "Died"),
    ("cancelled", "Cancelled"),
    ("moved", "Moved to another unit"),
)
STRENGTH_UNITS = ("mcg/mL", "mg/mL", "g/mL", "units/mL")
AMOUNT_UNITS = ("mcg", "mg", "g", "mL", "units", "bag", "mcg/min", "mcg/kg/min", "units/min", "mL/h")
OVER_MINUTES = (5, 10, 15, 30)
REQUEST_REASONS = ("Pressure still low", "Limit reached", "Starts by order", "Weight unknown")
OTHER_REASONS = ("Not in the rules", "Asked for by the hospital")
WITHDRAW_REASONS = ("No longer needed", "Asked for the wrong thing")
NOT_GIVEN_REASONS = (
    "Patient better",
    "Patient worse",
    "No access",
    "Not available",
    "Refused by patient",
    "Handed over",
)
DISCARD_REASONS = ("Empty", "Time is up", "Handed over", "Not needed", "Mixed wrong", "Dirty or broken")
CORRECTION_REASONS = ("Wrong number", "Wrong patient", "Not done", "Entered twice")

PATIENT_CHOICES = {
    "age_units": AGE_UNITS,
    "age_bases": AGE_BASES,
    "weight_bases": WEIGHT_BASES,
    "sexes": SEXES,
    "impressions": IMPRESSIONS,
    "injuries": INJURIES,
    "bleeding_causes": BLEEDING_CAUSES,
    "history": HISTORY,
    "care_limits": CARE_LIMITS,
}
VITALS_CHOICES = {
    "methods": METHODS,
    "other_methods": OTHER_METHODS,
    "pulses": PULSES,
    "alertness": ALERTNESS,
    "lungs": LUNGS,
    "main_fields": MAIN_FIELDS,
    "more_fields": MORE_FIELDS,
}
