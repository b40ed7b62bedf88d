"""What the crew's forms offer: the API's codes with the words a person reads. Nothing here is chosen beforehand."""

from __future__ import annotations

from itertools import groupby

from consult.render import words
from dosing.ground.measurements import BY_NAME, MAIN, MEASUREMENTS, METHODS, MORE

LESS_USED = ("manual", "arterial")  # ways to take a pressure that stand further down
WHEN = ((0, "Now"), (2, "2 min ago"), (5, "5 min ago"), (10, "10 min ago"))
COVERAGE = (5, 10, 15, 20, 30, 45, 60, 90)
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
ABOUT_ARREST = {
    "no_cpr": "No CPR is recorded for this patient: ask medical control.",
    "comfort": "Comfort care is recorded for this patient: ask medical control.",
}
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
TOPICS = (
    ("advice", "Advice"),
    ("destination", "Destination"),
    ("refusal", "Refusal of care"),
    ("end_resuscitation", "End of resuscitation"),
    ("other", "Something else"),
)
WHO_REFUSES = ("patient", "parent", "guardian", "legal representative")
CAPACITY = (("yes", "Yes"), ("no", "No"), ("unsure", "Not sure"))
RHYTHMS = ("asystole", "PEA", "VF", "VT without a pulse", "not known")
WITHDRAW_QUESTION_REASONS = ("No longer needed", "Answered by radio", "Asked the wrong thing")
UNABLE_REASONS = ("No time", "Not available", "Patient would not have it", "Not safe now")
STRENGTH_UNITS = ("mcg/mL", "mg/mL", "g/mL", "units/mL")
AMOUNT_UNITS = ("mcg", "mg", "g", "mL", "units", "bag", "mcg/min", "mcg/kg/min", "units/min", "mL/h")
RATE_UNITS = tuple(unit for unit in AMOUNT_UNITS if unit.endswith(("/min", "/h")))
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
_BY_FORM = {place: [each for each in MEASUREMENTS if each.form == place] for place in (MAIN, MORE)}
VITALS_CHOICES = {
    "methods": [each for each in METHODS.items() if each[0] not in LESS_USED],
    "other_methods": [each for each in METHODS.items() if each[0] in LESS_USED],
    "pulses": BY_NAME["pulses"],
    "main_fields": _BY_FORM[MAIN],
    "more_fields": [(numbers, list(each)) for numbers, each in groupby(_BY_FORM[MORE], lambda each: bool(each.range))],
    "in_other_units": [(BY_NAME[each.of.name], each) for each in MEASUREMENTS if each.of],
    "measurements": [(each.name, each.said, each.spoken) for each in MEASUREMENTS],
}


def coverage(most_min: float) -> list[int]:
    """For how many minutes a crew may say that it cannot be heard."""
    return [minutes for minutes in COVERAGE if minutes <= most_min]
