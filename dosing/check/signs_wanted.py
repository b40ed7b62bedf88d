"""Findings about the signs that a treatment wants, and what else in the patient speaks against it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import cast

from dosing.check import wanted
from dosing.check.case import Question
from dosing.check.findings import LEVELS, Finding
from dosing.ground import language, text
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.measurements import ALERT, BY_NAME
from dosing.ground.patient import completed_years
from dosing.rules.rule_set import Wants

Findings = Iterator[Finding]
_UNMEASURED = {"over_hard_limit": "needs_order"}  # one grade less; of an order a caution is left


def _signs(question: Question) -> Findings:
    """Each sign that is wanted and absent; of one measurement the gravest."""
    absent: dict[str, Finding] = {}
    for wants in question.wants:
        if question.meets(wants):
            continue
        found, name = _absent(question, wants), wants.measurement or wants.text
        if name not in absent or LEVELS.index(found.level) > LEVELS.index(absent[name].level):
            absent[name] = found
    yield from absent.values()


def _absent(question: Question, wants: Wants) -> Finding:
    """That a sign is absent, as gravely as its rule says; one grade less where nobody has measured it."""
    if wants.mother_from_years is not None:
        return _no_mother(question, wants, wants.mother_from_years)
    if wants.airway and question.bedside.airway_told is None:
        words = _("which airway is in place? Record the tube or supraglottic airway by its name")
        return question.find("signs_missing", words, wants.source, level=_UNMEASURED.get(wants.level, "needs_order"))
    if wants.airway:  # told as a phase is: once it is there, this is the dose
        return question.find("phase", wants.text, wants.source, level=wants.level)
    if wants.shock_index_below is not None or wants.etco2_below is not None:
        return question.find("signs_missing", _too_high(question, wants), wants.source, level=wants.level)
    if not wants.measurement:
        return _against(question, wants)
    measured = BY_NAME[wants.measurement]
    unit, (words, limit) = measured.in_rules, _wanted(question, wants)
    told, level = (
        _("{measure} not measured; wanted {range} {unit}", measure=measured.long, range=words, unit=unit),
        _UNMEASURED.get(wants.level, ""),
    )
    if wants.measurement == "gcs":
        told = _("alertness unknown; wanted a GCS of {range}", range=words)
    if (value := _measured(question, wants)) is not None:
        told, level = (
            _("{finding} ({value}; wanted {range})", finding=wants.text, value=value, range=words),
            wants.level,
        )
    return question.find("signs_missing", told, wants.source, Amount(limit, unit), level)


def _too_high(question: Question, wants: Wants) -> str:
    """The EtCO2 with its time, or the shock index, and what it speaks of."""
    etco2 = question.bedside.newest("etco2")
    if wants.etco2_below is not None and etco2 is not None:
        value, time = text.number_text(cast("float", etco2.value)), text.clock(etco2.taken_at)
        return _("EtCO2 {value} mmHg at {time}: {finding}", value=value, time=time, finding=wants.text)
    index = text.number_text(wanted.shock_index(question.bedside) or 0, 2)
    return _("shock index {index}: {finding}", index=index, finding=wants.text)


def _against(question: Question, wants: Wants) -> Finding:
    """That something is there which it must not meet; what was read at some time with that time."""
    seen, code = wanted.seen(question.bedside, wants), "signs_missing"
    words = wants.text
    if seen is not None:
        code = "contraindicated" if wants.level == "over_hard_limit" else code
        name, on_record = seen
        words = _(
            "{finding} ({measure} at {time}: {value})",
            finding=words,
            measure=language.words(name),
            time=text.clock(on_record.taken_at),
            value=language.words(on_record.value),
        )
    return question.find(code, words, wants.source, level=wants.level)


def _no_mother(question: Question, wants: Wants, from_years: float) -> Finding:
    """That no pregnancy or birth is on record: to be recorded, or, where there can be none, why."""
    patient = question.bedside.facts.patient
    young = patient.age is not None and completed_years(patient.age) < from_years
    barred = _("under {years} years", years=text.number_text(from_years)) if young else ""
    barred = _("recorded as male") if patient.sex == "male" else barred
    if barred:
        return question.find("contraindicated", f"{barred}, {wants.text}", wants.source)
    return question.find("signs_missing", wants.text, wants.source)


def _measured(question: Question, wants: Wants) -> str | None:
    """What was measured, or what the meter says instead of a number; None where nobody measured it."""
    value = question.bedside.value(wants.measurement)
    if wants.measurement == "gcs":
        return _responds(question.bedside.response)
    if value is not None:
        return f"{text.number_text(value)} {BY_NAME[wants.measurement].in_rules}"
    flag = question.bedside.latest("glucose_flag") if wants.measurement == "glucose_mg_dl" else None
    return None if flag is None else _("the meter says {flag}", flag=flag)


def _responds(response: int | str | None) -> str | None:
    """``GCS 6``, or ``unresponsive``."""
    return f"GCS {response}" if isinstance(response, int) else ALERT.get(response or "")


def _wanted(question: Question, wants: Wants) -> tuple[str, float]:
    """The range that a sign should be in, in words, and its edge."""
    below = wanted.below(question.bedside, wants)
    if below is not None:
        return _("under {below}", below=text.number_text(below)), below
    least = wants.at_least or 0
    return _("{least} or more", least=text.number_text(least)), least


def _wheeze(question: Question) -> Findings:
    if "wheeze" in question.treatment.flags and question.bedside.latest("lungs") == "wheeze":
        yield question.find(
            "signs_missing", _("wheeze in the lungs: {drug} can close the airways", drug=question.treatment.drug)
        )


def _sedative_first(question: Question) -> Findings:
    """A relaxant before any sedative: paralyzed, and perhaps awake."""
    bedside = question.bedside
    if "sedative_first" not in question.treatment.flags:
        return
    known = (bedside.rules.treatments.get(dose.treatment) for dose in bedside.doses)
    classes = {each.drug_class for each in known if each} | {bedside.class_of(dose) for dose in bedside.doses}
    if "sedative" not in classes:
        yield question.find("signs_missing", _("no sedative has been given yet: paralyzed, the patient may be awake"))


CHECKS: tuple[Callable[[Question], Findings], ...] = (_signs, _wheeze, _sedative_first)
