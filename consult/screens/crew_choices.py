"""What the crew's forms offer: the API's codes with the words a person reads. Nothing here is chosen beforehand."""

from __future__ import annotations

from itertools import groupby

from consult.case.lost_line import LOST, SWELLING
from consult.render import words
from dosing.ground.language import gettext as _
from dosing.ground.measurements import BY_NAME, MAIN, MEASUREMENTS, METHODS, MORE, PRESSURE
from dosing.patient.unlikely import bounds
from dosing.tell import arrest

LESS_USED = ("manual", "arterial")  # ways to take a pressure that stand further down
WHEN = ((0, _("Now")), (2, _("2 min ago")), (5, _("5 min ago")), (10, _("10 min ago")))
COVERAGE = (5, 10, 15, 20, 30, 45, 60, 90)
GIVEN_BY = (
    ("hospital", _("Hospital")),
    ("bystander", _("Bystander")),
    ("patient", _("Patient")),
    ("other_crew", _("Another crew")),
)
AGE_UNITS = ("years", "months", "days")
AGE_BASES = ("known", "stated", "estimated")
WEIGHT_BASES = (
    ("measured", _("measured")),
    ("stated", _("stated or estimated")),
    ("length", _("by length")),
    ("age", _("by age")),
)
SEXES = (("female", _("female")), ("male", _("male")), ("other", _("other")), ("unknown", _("unknown")))
IMPRESSIONS = (
    ("septic", _("Septic")),
    ("hypovolemic", _("Hypovolemic")),
    ("hemorrhagic", _("Hemorrhagic")),
    ("cardiogenic", _("Cardiogenic")),
    ("anaphylactic", _("Anaphylactic")),
    ("neurogenic", _("Neurogenic")),
    ("obstructive", _("Obstructive")),
    ("undifferentiated", _("Not yet clear")),
)
INJURIES = (("head", _("Head")), ("spinal_cord", _("Spinal cord")), ("torso", _("Torso")), ("limb", _("Limb")))
BLEEDING_CAUSES = (("trauma", _("Trauma")), ("postpartum", _("Postpartum")), ("gut", _("Gut")), ("other", _("Other")))
HISTORY = (
    ("anticoagulant", _("Anticoagulant")),
    ("beta_blocker", _("Beta blocker")),
    ("steroid_dependent", _("Steroid dependent")),
    ("heart_failure", _("Heart failure")),
    ("dialysis", _("Dialysis")),
    ("maoi", _("MAO inhibitor")),
    ("pacemaker", _("Pacemaker")),
    ("transplant", _("Transplant")),
)
CARE_LIMITS = (
    ("full", _("Full treatment")),
    ("no_cpr", _("No CPR")),
    ("no_intubation", _("No intubation")),
    ("comfort", _("Comfort care")),
    ("unknown", _("Unknown")),
)
PREGNANT = (("yes", _("Yes")), ("no", _("No")), ("", _("Unknown")))
ABOUT_ARREST = {
    "no_cpr": _("No CPR is recorded for this patient: ask medical control."),
    "comfort": _("Comfort care is recorded for this patient: ask medical control."),
}
ROUTES = ("IV", "IO", "IM", "IN", "SC", "PO")
PROCEDURES = tuple(words.PROCEDURES.items())
PROCEDURE_OUTCOMES = ("done", "failed", "attempted")
AIRWAYS = tuple(arrest.AIRWAYS)
GAUGES = (14, 16, 18, 20, 22, 24)
CLOSE_OUTCOMES = (
    ("refused", _("Refused care")),
    ("died", _("Died")),
    ("cancelled", _("Cancelled")),
    ("moved", _("Moved to another unit")),
)
TOPICS = (
    ("advice", _("Advice")),
    ("destination", _("Destination")),
    ("refusal", _("Refusal of care")),
    ("end_resuscitation", _("End of resuscitation")),
    ("other", _("Something else")),
)
WHO_REFUSES = (_("patient"), _("parent"), _("guardian"), _("legal representative"))
CAPACITY = (("yes", _("Yes")), ("no", _("No")), ("unsure", _("Not sure")))
RHYTHMS = ("asystole", "PEA", "VF", _("Pulseless VT"), _("unknown"))
WITHDRAW_QUESTION_REASONS = (_("No longer needed"), _("Answered by radio"), _("Asked the wrong thing"))
UNABLE_REASONS = (_("No time"), _("Not available"), _("Patient refused it"), _("Not safe now"))
STRENGTH_UNITS = ("mcg/mL", "mg/mL", "g/mL", "units/mL")
AMOUNT_UNITS = ("mcg", "mg", "g", "mL", "units", "bag", "mcg/min", "mcg/kg/min", "units/min", "mL/h")
RATE_UNITS = tuple(unit for unit in AMOUNT_UNITS if unit.endswith(("/min", "/h")))
OVER_MINUTES = (5, 10, 15, 30)
REQUEST_REASONS = (_("Pressure still low"), _("Limit reached"), _("Starts by order"), _("Weight unknown"))
CHANGE_REASONS = (
    _("Pressure still low"),
    _("Pressure at goal"),
    _("Fast or irregular pulse"),
    _("Limit reached"),
)
OTHER_REASONS = (_("Not in the rules"), _("Asked for by the hospital"))
LINE_REASONS = (LOST, SWELLING)
BAG_CHANGED = _("Bag or pump is being changed")
STOP_REASONS = (
    _("Empty"),
    LOST,
    BAG_CHANGED,
    _("Fast or irregular pulse"),
    SWELLING,
    _("Ordered by voice"),
)
STOP_FLUID_REASONS = (
    _("New crackles or work of breathing"),
    _("Pressure at goal"),
    _("Empty"),
    LOST,
    SWELLING,
    _("Ordered by voice"),
)
WITHDRAW_REASONS = (_("No longer needed"), _("Requested the wrong thing"))
NOT_GIVEN_REASONS = (
    _("Patient better"),
    _("Patient worse"),
    _("No access"),
    _("Not available"),
    _("Patient refused it"),
    _("Handed over"),
)
DISCARD_REASONS = (
    _("Empty"),
    _("Past its discard time"),
    _("Handed over"),
    _("Not needed"),
    _("Mixed wrong"),
    _("Dirty or broken"),
)
CORRECTION_REASONS = (_("Wrong number"), _("Wrong patient"), _("Not done"), _("Entered twice"))

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
    "bounds": bounds(),
}

# Of each measurement what an entry of this phone calls it, which line of the case it is, and how that says a value.
MEASURED = [
    (each.name, each.of.name if each.of else each.name, each.short, each.unit, each.spoken)
    for each in MEASUREMENTS
    if each.name not in PRESSURE
]


def pregnant(weeks: float | None, *, on_record: bool) -> list[tuple[str, str, bool]]:
    """Whether she is, each with whether it is so by what is on record: 0 weeks are told of who is not."""
    stands = "" if weeks is None else "yes" if weeks else "no"
    return [(value, text, on_record and value == stands) for value, text in PREGNANT]


def coverage(most_min: float) -> list[int]:
    """For how many minutes a crew may say that it cannot be heard."""
    return [minutes for minutes in COVERAGE if minutes <= most_min]


def stop_reasons(drug_class: str) -> tuple[str, ...]:
    """Why what runs is ended: fluid and blood burden the lungs, a pressor the heart."""
    return STOP_FLUID_REASONS if drug_class in ("fluid", "blood") else STOP_REASONS
