"""What may be given to this patient now: standing limits for every treatment of the rule set, not advice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from fractions import Fraction
from typing import Any

from dosing.check import beside, patient_state
from dosing.check.bands import fits
from dosing.check.case import Bedside, Question, bedside
from dosing.check.findings import Finding, amount_dict
from dosing.check.infusion import starts
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts
from dosing.ground.language import gettext as _
from dosing.ground.phases import TRANSPORT
from dosing.ground.units import Quantity
from dosing.mix import dilution, syringes
from dosing.patient import growth
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet, Treatment
from dosing.rules.treatment import for_what, routes_alike
from dosing.tell import pushes, usual
from dosing.tell.left import left, rest, shown, used_up

Plain = dict[str, Any]
_BOUNDS = ("least", "guide", "start", "most")


def guidance(facts: Facts, rules: RuleSet, now: datetime) -> list[Plain]:
    """The contract's ``treatments`` for this patient at ``now``: those that fit first, of these the first-line one.

    Beside the contract's keys each has ``indications`` (a row like it for each that it has), ``by_route`` (amounts of
    routes with limits of their own), ``findings`` (what stands now), ``by_order``, ``guide``, ``routes``, ``usual``
    (amounts to choose from) and ``limit_sources``; of what is ``held``, for this patient must not get it now, no amount
    is told, nor of what goes by a weight that hardly any child has. ``no_mother``: it is for a pregnancy or after a
    birth, and none is on record. A push ``wears_off``, an infusion ``from_pushes``, the rate that the last pushes of
    its drug come to.
    """
    at_bedside = bedside(facts, rules, now)
    rows = [_of_treatment(at_bedside, known) for known in rules.given_for.values()]
    rows.sort(key=lambda row: (not row[1]["relevant"], *_after(row[0])))
    return [row for _, row in rows]


def _of_treatment(at_bedside: Bedside, known: tuple[Treatment, ...]) -> tuple[Question, Plain]:
    """The row of a treatment, for its usual indication, with one for each of them; that which fits best sorts it."""
    each = [(question, entry(question)) for treatment in known for question in [_asked(at_bedside, treatment)]]
    fits_best, best = min(each, key=lambda pair: (not pair[1]["relevant"], *_after(pair[0])))
    indications = [row for _, row in each if row["indication"]]
    return fits_best, {**each[0][1], "relevant": best["relevant"], "indications": indications}


def _asked(at_bedside: Bedside, treatment: Treatment, route: str = "") -> Question:
    """The question about it; of an infusion that runs, what may be set is its new rate."""
    new_rate = treatment.form == "infusion" and at_bedside.runs(treatment.slug)
    return Question(bedside=at_bedside, treatment=treatment, route=route, new_rate=new_rate)


def _after(question: Question) -> tuple[bool, bool, bool, bool]:
    """Whether it stands after those of the phase, the first-line one, what nothing may hold back, what a sign opens."""
    first = question.treatment.first
    not_first = first is None or not fits(first, question.bedside.person)
    return not _of_phase(question), not_first, not question.never_gated, not _opened(question)


def entry(question: Question) -> Plain:
    """The guidance for one treatment."""
    treatment, unit, still = question.treatment, _unit(question), rest(question)
    remaining = left(question, unit, still)
    standing = (*patient_state.findings(question), *beside.running(question))
    found = [*standing, *used_up(question, unit, remaining)]
    cautions = patient_state.cautions(question)
    closed = [finding.code for finding in found if finding.level == "over_hard_limit"]
    held = any(code != "phase" for code in closed)  # a phase, a tube may be told at any moment: then it is the dose
    return {
        "treatment": treatment.slug,
        "indication": treatment.indication,
        "for_what": for_what(treatment),
        "title": treatment.title,
        **_offered(question, unit, still, held=held or _doubted(question)),
        "held": held,
        "limit_sources": usual.sources(question),
        "recipe": recipe(question),
        "left": remaining,
        "next_at": question.next_at,
        "missing": patient_state.missing(question),
        "cautions": [caution.text for caution in cautions],
        "caution_sources": [source_text(caution.source) for caution in cautions],
        "source": source_text(treatment.source),
        "no_mother": any(wants.mother_from_years and not question.meets(wants) for wants in question.wants),
        "relevant": not closed and not _too_high(question, found) and _relevant(question),
        "findings": [finding.as_dict() for finding in found],
        "by_order": any(finding.level == "needs_order" for finding in found),
        "routes": sorted(treatment.routes),
        "drug_class": treatment.drug_class,
        "form": treatment.form,
        "wears_off": pushes.wears_off(question),
        "from_pushes": pushes.equivalent(question),
    }


def _offered(question: Question, unit: str, still: Quantity | None, *, held: bool) -> Plain:
    """Amounts for the route that is meant, and ``by_route`` where they differ; none of what is held back."""
    if held:
        return {**_amounts(question, unit, dict.fromkeys(_BOUNDS)), "by_route": []}
    by_route = _by_route(question)
    if by_route and not question.route:  # the first of them are those of the usual route
        return {**{name: each for name, each in by_route[0].items() if name != "routes"}, "by_route": by_route}
    return {**_amounts(question, unit, _bounds(question, still)), "by_route": by_route}


def _doubted(question: Question) -> bool:
    """Whether a child can hardly weigh so much, so that no amount may follow from it: weight or age is typed wrong.

    Not of what nothing may hold back.
    """
    return question.held_by_weight and growth.too_heavy(question.bedside.facts.patient)


def _amounts(question: Question, unit: str, bounds: Mapping[str, Quantity | None]) -> Plain:
    """Least, guide, start, most and what is offered, with how long from one to the next and in what time."""
    return {
        **{name: shown(exact, question, unit, up=_goes_up(name, bounds)) for name, exact in bounds.items()},
        "volumes": _volumes(question, bounds),
        "usual": usual.usual(question, unit, bounds),
        "interval": question.interval and amount_dict(Amount(question.interval.value, "min")),
        "shortest": question.shortest and amount_dict(Amount(question.shortest.value, "min")),
    }


def _by_route(question: Question) -> list[Plain]:
    """The amounts of each group of routes that share their limits; empty where all do."""
    groups = routes_alike(question.treatment)
    if len(groups) < 2:
        return []
    asked = [(routes, _asked(question.bedside, question.treatment, routes[0])) for routes in groups]
    bounds = [_bounds(each, rest(each)) for _, each in asked]
    return [
        {"routes": list(routes), **_amounts(each, _unit(each), bound)}
        for (routes, each), bound in zip(asked, bounds, strict=True)
    ]


def _relevant(question: Question) -> bool:
    """Whether the impression, what it stands first for, a phase that it is for, or a sign that opens it is there."""
    treatment, person = question.treatment, question.bedside.person
    first = treatment.first is not None and fits(treatment.first, person)
    suits = first or person.impression in treatment.relevant or _of_phase(question)
    return suits or _opened(question)


def _opened(question: Question) -> bool:
    """Whether a sign that opens it is there."""
    return any(wants.opens and question.meets(wants) for wants in question.wants)


def _too_high(question: Question, found: Iterable[Finding]) -> bool:
    """Whether the pressure is so high that a pressor, fluid or blood is not what the patient needs, whatever suits."""
    now, well_above = question.bedside.pressure, question.bedside.rules.pressure.well_above
    drug_class = question.treatment.drug_class
    if drug_class == "pressor":
        return now is not None and now.above is not None and now.above >= well_above
    return drug_class in ("fluid", "blood") and any(finding.code == "pressure_above_goal" for finding in found)


def _of_phase(question: Question) -> bool:
    """Whether it is for the phase that the case is in, and for no ordinary one."""
    phases = question.treatment.phases
    return question.bedside.person.phase in phases and TRANSPORT not in phases


def _unit(question: Question) -> str:
    """The unit in which this patient's limits are shown; per kg only for a rate and a weight that is known."""
    stated, unit = question.limits.limit("most"), question.treatment.unit
    if stated is not None and units.kind(stated.amount.unit) != units.kind(unit):
        unit = stated.amount.unit
    weighed = question.treatment.form == "infusion" and question.bedside.person.weight is not None
    return unit if weighed else unit.replace("/kg", "")


def _bounds(question: Question, still: Quantity | None) -> dict[str, Quantity | None]:
    """Least, guide, start and most for this patient now: none above the most, nor that above what is left of the total.

    An infusion that does not run yet starts, where nothing else is stated, with the least.
    """
    least, guide, start, most = map(question.limits.exact, _BOUNDS)
    start = (least if start is None else start) if starts(question) else None
    if most is not None and still is not None and still.units == most.units and 0 < still.magnitude < most.magnitude:
        most = still
    if most is not None:
        least, guide, start = (None if each is None else min(each, most) for each in (least, guide, start))
    return {"least": least, "guide": guide, "start": start, "most": most}


def _goes_up(name: str, bounds: Mapping[str, Quantity | None]) -> bool:
    """Whether an amount is shown as the float above it: a least, where the most leaves room for it."""
    least, most = bounds["least"], bounds["most"]
    return name == "least" and least is not None and (most is None or least < most)


def _volumes(question: Question, known: Mapping[str, Quantity | None]) -> Plain | None:
    """Least and most as volumes (for infusions pump rates) where there is one strength, with that strength.

    ``syringe`` is the smallest that holds and reads both.
    """
    if len(question.strengths) != 1 or known["most"] is None:
        return None
    (strength,) = question.strengths
    is_rate = question.treatment.form == "infusion"
    unit = "mL/h" if is_rate else "mL"
    bounds = {name: known[name] for name in ("least", "most")}
    volumes = {
        name: exact if exact is None else units.quotient(exact, strength.exact, unit) for name, exact in bounds.items()
    }
    return {
        **{name: each if each is None else amount_dict(Amount(float(each), unit)) for name, each in volumes.items()},
        "strength": amount_dict(strength.amount),
        "syringe": None if is_rate else _syringe(question, volumes.values()),
    }


def _syringe(question: Question, volumes: Iterable[Fraction | None]) -> Plain | None:
    found = syringes.smallest([each for each in volumes if each is not None], question.bedside.rules)
    return None if found is None else amount_dict(found)


def recipe(question: Question) -> list[str]:
    """The recipe step by step, or the strengths that are stocked; empty where there is nothing to prepare."""
    steps = dilution.recipe_steps(question.bedside.rules)[question.treatment.slug]
    if not question.shortest:
        return list(steps)
    return [*steps, _("Give{shortest}", shortest=text.over_text(question.shortest.value, _("at least ")))]
