"""Whether what a treatment wants of the patient is there, and what is there that it must not meet."""

from __future__ import annotations

from dosing.check.at_bedside import Bedside
from dosing.ground.facts import Latest
from dosing.patient import rhythms
from dosing.rules.rule_set import Wants


def meets(bedside: Bedside, wants: Wants) -> bool:
    """Whether a sign that the treatment wants is there; one that was never measured is not."""
    if wants.history and wants.history in bedside.facts.patient.history:
        return True
    if wants.mother_from_years is not None:
        return bedside.person.mother
    if wants.bleeding:
        return bedside.person.bleeds
    if wants.not_impressions:
        return bedside.person.impression not in wants.not_impressions
    if wants.not_rhythms or wants.not_lungs:
        return seen(bedside, wants) is None
    if wants.shock_index_below is not None or wants.etco2_below is not None:
        return _is_below(bedside, wants)
    if wants.given:
        return any(bedside.has_given(drug_class) for drug_class in wants.given)
    if wants.airway:
        return bedside.airway_secured
    return _responds(bedside, wants) if wants.measurement == "gcs" else _in_range(bedside, wants)


def seen(bedside: Bedside, wants: Wants) -> tuple[str, Latest] | None:
    """The ``rhythm`` or ``lungs`` on record that the treatment must not meet, by that name; None where neither is."""
    rhythm, lungs = bedside.newest("rhythm"), bedside.newest("lungs")
    if rhythm is not None and any(rhythms.named(str(rhythm.value), each) for each in wants.not_rhythms):
        return "rhythm", rhythm
    return ("lungs", lungs) if lungs is not None and lungs.value in wants.not_lungs else None


def _is_below(bedside: Bedside, wants: Wants) -> bool:
    """Whether nothing that is known is too high: EtCO2 of a patient without an airway in place, or the shock index."""
    if wants.etco2_below is not None:
        etco2 = None if bedside.airway_secured else bedside.value("etco2")
        return etco2 is None or etco2 < wants.etco2_below
    index = shock_index(bedside)
    return index is None or wants.shock_index_below is None or index < wants.shock_index_below


def shock_index(bedside: Bedside) -> float | None:
    """The newest heart rate over the newest systolic pressure; None where one of them is not known."""
    rate, sbp = bedside.value("hr"), None if bedside.pressure is None else bedside.pressure.reading.sbp
    return None if rate is None or not sbp else rate / float(sbp)


def below(bedside: Bedside, wants: Wants) -> float | None:
    """Under what a measurement should be for this patient, None where the treatment does not say."""
    return wants.below_by_who.get(bedside.person.who, wants.below)


def _in_range(bedside: Bedside, wants: Wants) -> bool:
    value, diastolic = bedside.value(wants.measurement), bedside.value("dbp")
    if wants.or_dbp_at_least is not None and diastolic is not None and diastolic >= wants.or_dbp_at_least:
        return True
    if value is None:
        return _flagged(bedside, wants)
    most = below(bedside, wants)
    return (most is None or value < most) and (wants.at_least is None or value >= wants.at_least)


def _responds(bedside: Bedside, wants: Wants) -> bool:
    """Whether the patient is awake enough, or breathes through an airway that is in place."""
    response = bedside.response
    if bedside.airway_secured or response is None:
        return bedside.airway_secured
    return response != "U" if isinstance(response, str) else response >= (wants.at_least or 0)


def _flagged(bedside: Bedside, wants: Wants) -> bool:
    """Whether the meter said no number, but that it is as wanted: ``low`` or ``high``."""
    sign = "high" if below(bedside, wants) is None else "low"
    return wants.measurement == "glucose_mg_dl" and bedside.latest("glucose_flag") == sign
