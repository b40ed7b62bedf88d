"""Findings about the patient and the moment: they stand before any dose is named."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from dosing.check import apart, background, pressure_state, signs_wanted
from dosing.check.bands import fits
from dosing.check.case import Question
from dosing.check.findings import Finding
from dosing.ground import language, text
from dosing.ground.facts import Amount, Dose
from dosing.ground.language import gettext as _
from dosing.ground.phases import ARREST
from dosing.patient import growth
from dosing.rules.parts import Caution, Limit
from dosing.rules.treatment import titled

Findings = Iterator[Finding]
_TOGETHER = {"opioid": "sedative", "sedative": "opioid"}
_ONSET = {"trauma": _("injury"), "postpartum": _("birth")}  # what the time is counted from


def findings(question: Question) -> list[Finding]:
    """All that stands now for this treatment and patient."""
    checks = [*_ALWAYS, *([] if question.never_gated else _GATES)]
    return [finding for check in checks for finding in check(question)]


def _age(question: Question) -> Findings:
    band = question.limits.band("not_covered")
    if band is not None and (reason := band.not_covered):
        yield question.find("age_not_covered", f"{reason.text} ({question.whom})", reason.source)


def _by_order(question: Question) -> Findings:
    treatment, band = question.treatment, question.limits.band("by_order")
    if band is not None and (reason := band.by_order):
        yield question.find("starts_by_order", reason.text, reason.source)
    elif treatment.starts_by_order and not question.new_rate:
        yield question.find(
            "starts_by_order",
            _("{treatment} needs an order to start", treatment=treatment.title),
            treatment.starts_by_order,
        )


def _contraindicated(question: Question) -> Findings:
    band = question.limits.band("contraindicated")
    if band is not None and (reason := band.contraindicated):
        yield question.find("contraindicated", reason.text, reason.source)


def _phase(question: Question) -> Findings:
    phases, phase = question.treatment.phases, question.bedside.person.phase
    if phases and phase not in phases:
        told = (
            _("only in cardiac arrest")
            if phases == {ARREST}
            else _("only to a patient with a pulse, not in cardiac arrest")
        )
        yield question.find("phase", _("{treatment} is given {told}", treatment=titled(question.treatment), told=told))


def _window(question: Question) -> Findings:
    window, patient = question.treatment.window, question.bedside.facts.patient
    if window is None or (window.causes and patient.bleeding_cause not in (None, *window.causes)):
        return
    limit, onset = Amount(window.minutes, "min"), _ONSET.get(patient.bleeding_cause or "", _("start of the bleeding"))
    if patient.onset_at is None:
        words = _(
            "time of the {onset} unknown; useful only within {time} of it: needs an order",
            onset=onset,
            time=_time(window.minutes),
        )
        yield question.find("onset_unknown", words, window.source, limit)
        return
    since = _minutes(question.bedside.at, patient.onset_at)
    before = question.first_at
    in_time = before is not None and _minutes(before, patient.onset_at) <= window.minutes
    if since > window.minutes and not in_time:  # the first dose must be in time; one after it is a repeat
        words = _(
            "{time} after the {onset}, the window of {window} has closed",
            time=_time(since),
            onset=onset,
            window=_time(window.minutes),
        )
        yield question.find("window_closed", words, window.source, limit)


def _too_soon(question: Question) -> Findings:
    interval, at = question.interval, question.bedside.at
    if interval is None:
        return
    apart = timedelta(minutes=interval.value, seconds=-question.bedside.rules.pressure.grace_s)
    last = question.last
    if last is not None and at - last.given_at < apart:
        limit = Amount(interval.value, "min")
        of_it = question.treatment.slug in question.bedside.counts_as(last)
        waits = of_it or not (question.never_gated or _breathed_for(question))
        level = "" if waits else "caution"  # neither a seizure nor who is awake on a tube waits for another drug
        words = _("{since} after the start{of}, no sooner than {interval}")  # an infusion counts from there
        told = (words if last.rates else _("{since} after the last dose{of}, no sooner than {interval}")).format(
            since=_time(_minutes(at, last.given_at)),
            of=_of(question, last),
            interval=_time(interval.value),
        )
        yield question.find("too_soon", told, interval.source, limit, level)


def _breathed_for(question: Question) -> bool:
    """Whether an airway is in place, so that no sedative or opioid can stop the breathing."""
    return question.bedside.airway_secured and question.treatment.drug_class in _TOGETHER


def _of(question: Question, dose: Dose) -> str:
    """Of which treatment a dose is, where it is another of the class."""
    known = question.bedside.rules.treatments.get(dose.treatment)
    return (
        "" if dose.treatment == question.treatment.slug else _(" of {known}", known=known.title if known else dose.name)
    )


def _opioid_with_sedative(question: Question) -> Findings:
    """The other was given shortly before, or runs."""
    other = _TOGETHER.get(question.treatment.drug_class)
    bedside, rule = question.bedside, question.bedside.rules.pressure
    within = timedelta(minutes=rule.opioid_with_sedative_min)
    for dose in reversed(bedside.doses) if other else ():
        known = bedside.rules.treatments.get(dose.treatment)
        drug_class = known.drug_class if known else bedside.class_of(dose)
        if drug_class != other:
            continue
        runs = (known is None or known.form == "infusion") and bedside.running(dose)
        if runs or bedside.at - dose.given_at <= within:
            given = f"{known.title if known else dose.name} {apart.ago(bedside.at, dose, runs)}"
            words = _("{given}: together they can stop the breathing", given=given)
            limit = Amount(rule.opioid_with_sedative_min, "min")
            source = rule.sources["opioid_with_sedative_min"]
            yield question.find("opioid_with_sedative", words, source, limit)
            return


def _apart(question: Question) -> Findings:
    if not _breathed_for(question):
        yield from apart.findings(question, question.treatment.apart)


def _may_overload(question: Question) -> bool:
    """Whether too much in the vessels is to be feared: not of blood where blood is lost."""
    return not (question.treatment.drug_class == "blood" and question.bedside.person.bleeds)


def _lungs(question: Question) -> Findings:
    heard = question.bedside.latest("lungs") == "crackles"
    if "crackles" in question.treatment.flags and heard and _may_overload(question):
        yield question.find("crackles", _("crackles in the lungs: fluid needs an order"))


def _restricted(question: Question) -> Findings:
    restricted = question.bedside.facts.patient.fluid_restricted
    if "fluid_restricted" in question.treatment.flags and restricted and _may_overload(question):
        yield question.find("fluid_restricted", _("fluid is restricted for this patient: fluid needs an order"))


def _weight(question: Question) -> Findings:
    """What an unknown or guessed weight leaves open: told where nothing may hold the dose back, else by order."""
    weight, limits = question.bedside.facts.patient.weight, question.limits
    if weight is None:
        stated = limits.limit("most") or limits.limit("hard")
        if stated is not None and stated.per_kg:
            words = _("weight unknown: cannot calculate the {amount} limit", amount=text.amount_text(stated.amount))
            level = "caution" if question.never_gated else ""
            yield question.find("weight_unknown", words, limit=stated.amount, level=level)
        elif stated is not None and _of_age(question, stated):
            words = _("weight unknown: the limits are chosen for the age; weigh or measure the child")
            yield question.find("weight_unknown", words, limit=stated.amount, level="caution")
    elif weight.basis in ("length", "age") and question.held_by_weight:
        kilograms = text.amount_text(Amount(weight.value, "kg"))
        yield question.find(
            "weight_estimated",
            _(
                "calculated for {kilograms} (estimated from {basis})",
                kilograms=kilograms,
                basis=language.words(weight.basis),
            ),
        )


def _of_age(question: Question, stated: Limit) -> bool:
    """Whether a child's limit is one that we chose for the age because nobody has weighed the child."""
    person, band = question.limits.person, question.limits.band("most")
    unweighed = band is not None and band.where.weight == "unknown"
    return unweighed and not person.adult and stated.source.mark == "our choice"


def _implausible(question: Question) -> Findings:
    """By order where a limit goes by the weight of a child too heavy to be true; else, or where it must not wait, told.

    Months typed as years make a toddler an adult of 13 kg, with an adult's fixed doses.
    """
    patient = question.bedside.facts.patient
    told = growth.implausible_weight(patient)
    if told is not None:
        held = growth.too_heavy(patient) and question.held_by_weight and not question.treatment.never_gated_in
        yield question.find("weight_unlikely", *told, level="" if held else "caution")


def _fluid_first(question: Question) -> Findings:
    """That no fluid was given: not where fluid itself needs an order."""
    bedside = question.bedside
    by_order = bedside.facts.patient.fluid_restricted or bedside.latest("lungs") == "crackles"
    if "no_fluid_yet" not in question.treatment.flags or by_order:
        return
    known = bedside.rules.treatments
    went_in = (dose for dose in bedside.doses if not dose.none_went_in)
    given = (known[dose.treatment].drug_class for dose in went_in if dose.treatment in known)
    if not any(drug_class in ("fluid", "blood") for drug_class in given):
        yield question.find("no_fluid_yet", _("no fluid has been given yet"))


def _bleeding(question: Question) -> Findings:
    bleeds = (
        question.bedside.person.impression == "hemorrhagic" and not question.bedside.facts.patient.bleeding_controlled
    )
    if "bleeding_first" in question.treatment.flags and bleeds:
        yield question.find("bleeding_first", _("hemorrhage: control bleeding and give volume before pressors"))


def cautions(question: Question) -> list[Caution]:
    """What to show beside the treatment for this patient."""
    return [one for one in question.treatment.cautions if fits(one.where, question.limits.person)]


def missing(question: Question) -> list[str]:
    """What must be known first and is not: ``weight``, ``pressure`` or a measurement."""
    bedside, treatment = question.bedside, question.treatment
    wanted = dict.fromkeys(wants.measurement for wants in question.wants if wants.measurement)
    known = {"gcs": bedside.airway_secured or bedside.response is not None}
    absent = [name for name in wanted if not known.get(name, bedside.value(name) is not None)]
    if bedside.facts.patient.weight is None and question.limits.uses_weight():
        absent.insert(0, "weight")
    if bedside.pressure is None and not question.never_gated and treatment.flags:
        absent.append("pressure")
    if treatment.window is not None and bedside.facts.patient.onset_at is None:
        absent.append("onset")
    return absent


def _minutes(later: datetime, earlier: datetime) -> float:
    return (later - earlier) / timedelta(minutes=1)


def _time(minutes: float) -> str:
    return text.minutes_text(minutes)


_ALWAYS: tuple[Callable[[Question], Findings], ...] = (
    *background.CHECKS,
    _age,
    _by_order,
    _contraindicated,
    _phase,
    _window,
    *signs_wanted.CHECKS,
    _too_soon,
    _opioid_with_sedative,
    _apart,
    _implausible,
    _weight,
    pressure_state.low_is_told,
)
_GATES: tuple[Callable[[Question], Findings], ...] = (
    _lungs,
    _restricted,
    *pressure_state.CHECKS,
    _fluid_first,
    _bleeding,
)
