"""Findings about what is known of the patient from before: allergies, history, what the patient has refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from dosing.check import allergies
from dosing.check.bands import fits
from dosing.check.case import Question
from dosing.check.findings import Finding
from dosing.ground.language import gettext as _

Findings = Iterator[Finding]
_ASKED_IN_COMFORT = ("pressor", "blood")


def _allergy(question: Question) -> Findings:
    """What bars the treatment; what nobody recognized is told where anything could."""
    rules, treatment = question.bedside.rules, question.treatment
    for text in question.bedside.facts.patient.allergies:
        each_told = allergies.told(text, rules)
        if any(allergies.forbids(each, treatment) for each in each_told):
            yield _never(question, text)
            continue
        if any(allergies.bars(each, treatment) for each in each_told):
            yield question.find(
                "allergy",
                _("allergy on record: {text}; {treatment} needs an order", text=text, treatment=treatment.title),
            )
            continue
        if any(allergies.unsure(each, treatment) for each in each_told):
            yield _perhaps(question, text)
        unknown = ", ".join(each.text for each in each_told if not each.recognized)
        if unknown and treatment.allergens:
            words = _("allergy on record: {unknown}: not recognized, check it yourself", unknown=unknown)
            yield question.find("allergy", words, level="caution")


def _disease(question: Question) -> Findings:
    """What the complaint or the rhythm tells that forbids the treatment."""
    for each in question.bedside.diseases:
        if allergies.forbids(each, question.treatment):
            yield _never(question, each.text)
        elif allergies.unsure(each, question.treatment):
            yield _perhaps(question, each.text)


def _never(question: Question, text: str) -> Finding:
    words = _("on record: {text}; never {treatment}", text=text, treatment=question.treatment.title)
    return question.find("contraindicated", words)


def _perhaps(question: Question, text: str) -> Finding:
    words = _(
        "on record: {text}: how long ago, how grave? It may forbid {treatment}",
        text=text,
        treatment=question.treatment.title,
    )
    return question.find("allergy", words)


def _history(question: Question) -> Findings:
    """What of the history speaks against it: the cautions that are for that history."""
    for caution in question.treatment.cautions:
        if caution.where is not None and caution.where.history and fits(caution.where, question.limits.person):
            yield question.find("history", caution.text, caution.source)


def _care_limits(question: Question) -> Findings:
    """Comfort care asks before what keeps alive; whoever must not be intubated, before what leads there."""
    limits, treatment = question.bedside.facts.patient.care_limits, question.treatment
    if limits == "comfort" and (treatment.drug_class in _ASKED_IN_COMFORT or "airway" in treatment.flags):
        yield question.find(
            "care_limits", _("comfort care on record: {treatment} needs an order", treatment=treatment.title)
        )
    elif limits == "no_intubation" and "airway" in treatment.flags:
        yield question.find(
            "care_limits", _("no intubation on record: {treatment} needs an order", treatment=treatment.title)
        )


def _refused(question: Question) -> Findings:
    if question.bedside.facts.patient.refuses_blood and question.treatment.drug_class == "blood":
        yield question.find("refuses_blood", _("the patient refuses blood: needs an order"))


CHECKS: tuple[Callable[[Question], Findings], ...] = (_allergy, _disease, _history, _care_limits, _refused)
