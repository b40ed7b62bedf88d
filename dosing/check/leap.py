"""A new rate held against the one that runs: many times it, or a small part of it, is more often a slip than a step."""

from __future__ import annotations

from collections.abc import Iterator

from dosing.check.beside import in_force
from dosing.check.case import Question
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding
from dosing.ground import text
from dosing.ground.exact import exact
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity


def findings(asked: Proposed) -> Iterator[Finding]:
    """A rate that leaps from each that runs: up it is more than a crew was allowed, down the pressure can fall."""
    question = asked.question
    alike = _running(question) if question.new_rate else []
    known = [rate for rate in alike if rate is not None and rate.units == asked.dose.units]
    if not known or len(known) < len(alike):
        return
    near = min(known, key=lambda rate: max(asked.dose / rate, rate / asked.dose))
    times, most = max(asked.dose / near, near / asked.dose).magnitude, question.bedside.rules.pump.leap_times
    if times <= exact(most):
        return
    now, dose = asked.shown(near), text.amount_text(asked.shown(asked.dose))
    told = {"now": text.number_text(now.value), "dose": dose, "times": text.number_text(times)}
    if asked.dose > near:
        words, level = _("from {now} to {dose} is {times} times as much: check the number", **told), ""
    else:
        words, level = _("from {now} to {dose} is {times} times less: check the number", **told), "caution"
    source = question.bedside.rules.pump.sources["leap_times"]
    yield question.find("leap", words, source, Amount(most, "times"), level)


def _running(question: Question) -> list[Quantity | None]:
    at_bedside = question.bedside
    runs = (dose for dose in at_bedside.doses if at_bedside.running(dose))
    return [in_force(question, dose) for dose in runs if dose.treatment == question.treatment.slug]
