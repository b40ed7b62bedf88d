"""Findings about the dose that is proposed: its size, what it adds up to, its route and its time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from dosing.check import fluids
from dosing.check.case import INTO_THE_BLOOD, Question
from dosing.check.counts import allowed_count, count_text
from dosing.check.findings import Finding
from dosing.check.infusion import starts
from dosing.ground import text, units
from dosing.ground.exact import exact
from dosing.ground.facts import Amount, Proposal
from dosing.ground.language import gettext as _
from dosing.ground.once import once
from dosing.ground.tables import load
from dosing.ground.units import Quantity, WrongUnit
from dosing.rules.plain import source_text
from dosing.rules.rule_set import Figure, Limit, Treatment

Findings = Iterator[Finding]
_LIGHT_ADULT = Amount(load("ground/age_tables")["adult"]["light_kg"], "kg")
_LIGHT = units.quantity(_LIGHT_ADULT)
_ALLOWED = {"total_hard": _("hard limit"), "total": _("standing limit"), "total_guide": _("usual")}


@dataclass(frozen=True, kw_only=True)
class Proposed:
    """A dose put to the question; ``dose`` is what this patient would get, still per kg while the weight is unknown."""

    question: Question
    proposal: Proposal
    dose: Quantity

    @once
    def unit(self) -> str:
        """The unit in which this dose is shown: the treatment's, per kg only where the weight is known."""
        unit, weight = self.question.treatment.unit, self.question.bedside.person.weight
        kinds = self.question.treatment.kinds(self.question.bedside.person.who)
        if units.kind(unit) not in kinds:
            unit = unit.replace("/min", "/kg/min")
        stated = self.proposal.amount.unit
        if units.is_per_kg(self.dose):
            return stated
        if units.kind(stated) in ("bag", "volume", "volume/kg"):
            return stated.replace("/kg", "")
        return unit.replace("/kg", "") if weight is None else unit

    def shown(self, exact: Quantity) -> Amount:
        """An exact amount in the unit of this dose."""
        weight, bag = self.question.bedside.person.weight, self.question.treatment.bag
        if self.unit == "bag" and bag is not None:
            return Amount(float(units.number(exact, "mL") / Fraction(bag.value)), "bag")
        if units.per_kg(self.unit) and not units.is_per_kg(exact) and weight is not None:
            exact = exact / weight
        return units.amount(exact, self.unit)


def proposed(question: Question, proposal: Proposal) -> Proposed:
    """The proposal as an exact dose; raises WrongUnit where its unit is of another kind than the treatment's."""
    treatment, amount = question.treatment, proposal.amount
    kind = units.kind(amount.unit)
    exact = units.quantity(amount)
    for field in ("stock", "concentration"):
        _check_strength(treatment, field, getattr(proposal, field))
    if kind == "volume/min" and treatment.form == "infusion":
        if proposal.concentration is None:
            words = _("{unit} needs the concentration", unit=amount.unit)
            raise WrongUnit(words, code="concentration_missing", field="concentration")
        return Proposed(question=question, proposal=proposal, dose=exact * units.quantity(proposal.concentration))
    if kind not in treatment.kinds(question.bedside.person.who):
        told = {"treatment": treatment.title, "unit": amount.unit, "whom": question.whom}
        raise WrongUnit(_("{treatment} is not given in {unit} to {whom}", **told), code="wrong_kind")
    return Proposed(question=question, proposal=proposal, dose=question.absolute(amount))


def _check_strength(treatment: Treatment, field: str, strength: Amount | None) -> None:
    if strength is None:
        return
    units.quantity(strength)
    base = units.kind(treatment.unit).split("/")[0]
    if units.kind(strength.unit) != f"{base}/volume" and base not in ("volume", "bag"):
        raise WrongUnit(
            _("{unit} is not a strength of {treatment}", unit=strength.unit, treatment=treatment.title),
            code="wrong_kind",
            field=field,
        )


def findings(asked: Proposed) -> list[Finding]:
    """All that the rules find in this dose."""
    checks = (_route, _product, _weight, _size, _light, _least, _far_below, _guide, _totals, _count, _time, _flow)
    return [finding for check in checks for finding in check(asked)]


def _route(asked: Proposed) -> Findings:
    routes = asked.question.treatment.routes
    if asked.proposal.route not in routes:
        allowed = _(" or ").join(text.route_text(route) for route in sorted(routes))
        words = _("not by {route}: {allowed} only", route=text.route_text(asked.proposal.route), allowed=allowed)
        yield asked.question.find("route_not_allowed", words)


def _product(asked: Proposed) -> Findings:
    product = asked.proposal.product
    if product is not None and asked.question.treatment.drug_class in ("fluid", "blood"):
        yield from fluids.product(asked.question, product)


def _light(asked: Proposed) -> Findings:
    """A dose per kg that passes a fixed hard limit for even a light adult, while nobody knows the weight."""
    bound = asked.question.limits.bound("hard")
    if not units.is_per_kg(asked.dose) or not asked.question.bedside.person.adult or bound is None:
        return
    stated, exact = bound
    at_least = asked.dose * _LIGHT
    if asked.question.limits.per_kg("hard") is None and at_least.units == exact.units and at_least > exact:
        unit = asked.proposal.amount.unit.replace("/kg", "")
        least, limit = units.amount(at_least, unit), units.amount(exact, unit)
        told = _(
            "{amount} is {least} for an adult of only {light_adult}, above the hard limit of {limit}",
            amount=text.amount_text(asked.proposal.amount),
            least=text.amount_text(least),
            light_adult=text.amount_text(_LIGHT_ADULT),
            limit=text.amount_text(limit),
        )
        yield asked.question.find("above_hard_limit", told, stated.source, limit)


def _weight(asked: Proposed) -> Findings:
    """A dose per kg of an unknown weight, where the limits said nothing, being none per kg."""
    if not units.is_per_kg(asked.dose):
        return
    question = asked.question
    stated = question.limits.limit("most") or question.limits.limit("hard")
    if stated is None or not stated.per_kg:
        words = _("{amount} cannot be computed: weight unknown", amount=text.amount_text(asked.proposal.amount))
        yield question.find("weight_unknown", words, level="caution" if question.never_gated else "")


def _bound(asked: Proposed, name: str) -> tuple[Limit, Quantity] | None:
    """A limit and what it comes to, in the same kind as the dose; None where the two cannot be compared."""
    limits = asked.question.limits
    if units.is_per_kg(asked.dose):
        per_kg = limits.per_kg(name)
        return None if per_kg is None else (per_kg, per_kg.exact)
    return limits.bound(name)


def _size(asked: Proposed) -> Findings:
    hard, standing = _("over the hard limit"), _("over the standing limit")
    for name, code, words in (("hard", "above_hard_limit", hard), ("most", "above_most", standing)):
        bound = _bound(asked, name)
        if bound is not None and asked.dose > bound[1]:
            yield _above(asked, code, words, *bound)
            return


def _guide(asked: Proposed) -> Findings:
    """Above what is usual; of an infusion that does not run yet, above what it starts with, if not said the least."""
    most, start = _bound(asked, "most"), "least" if asked.question.limits.limit("start") is None else "start"
    begins = starts(asked.question) and not asked.proposal.new_rate  # the most that steps lead to is no start
    told = {start: _("above the usual start")} if begins else {}
    for name, words in {**told, "guide": _("above the usual")}.items():
        bound = _bound(asked, name)
        if bound is not None and asked.dose > bound[1] and (most is None or asked.dose <= most[1]):
            yield _above(asked, "above_guide", words, *bound)
            return


def _above(asked: Proposed, code: str, words: str, stated: Limit, exact: Quantity) -> Finding:
    dose, limit = text.apart_text(asked.shown(asked.dose), asked.shown(exact))
    told = _(
        "{dose} is {over_or_under} of {limit}{per_kg} for {whom}",
        dose=dose,
        over_or_under=words,
        limit=limit,
        per_kg=_per_kg(asked, stated, exact),
        whom=asked.question.whom,
    )
    return asked.question.find(code, told, stated.source, asked.shown(exact))


def _per_kg(asked: Proposed, stated: Limit, exact: Quantity) -> str:
    """How a limit came about where that is not seen in it: `` (2 mcg/kg, at most 10 mcg)``."""
    ends = ((_("at most"), stated.at_most, stated.exact_most), (_("at least"), stated.at_least, stated.exact_least))
    held = [f", {words} {text.amount_text(end)}" for words, end, at in ends if end is not None and exact == at]
    person = asked.question.bedside.person
    if not held and person.weight is None and person.likely is not None:
        likely = text.amount_text(units.amount(person.likely, "kg"))
        held = [", " + _("at {likely}, likely for that age", likely=likely)]
    if not stated.per_kg or (not held and asked.shown(exact) == stated.amount):
        return ""
    return f" ({text.amount_text(stated.amount)}{''.join(held)})"


def _least(asked: Proposed) -> Findings:
    if not units.is_per_kg(asked.dose) and asked.question.limits.exact("least") is None:
        return  # the cap of a least per kg is no least for somebody whose weight nobody knows
    bound, most = _bound(asked, "least"), _bound(asked, "most")
    if bound is None or asked.dose >= bound[1] or (most is not None and asked.dose >= most[1]):
        return
    stated, exact = min((bound, most or bound), key=lambda pair: pair[1])  # a fixed least gives way to a most per kg
    yield _above(asked, "below_least", _("below the usual minimum"), stated, exact)


def _far_below(asked: Proposed) -> Findings:
    """So small a part of the standing limit that the point may have slipped, where no least says so."""
    part, most = asked.question.treatment.told_under, _bound(asked, "most")
    if part is None or most is None or _bound(asked, "least") is not None:
        return
    if asked.dose * 100 < most[1] * exact(part.value):
        words = _("less than {part} %", part=text.number_text(part.value))
        yield replace(_above(asked, "below_least", words, *most), source=source_text(part.source))


def _totals(asked: Proposed) -> Findings:
    """Totals pass when what was given and this dose together pass them; an infusion has none."""
    if units.is_per_kg(asked.dose) or asked.question.treatment.form == "infusion":
        return
    used = asked.question.used
    sum_of = asked.dose if used is None else used + asked.dose
    passed = [name for name in ("total_hard", "total", "total_guide") if _passes(asked, name, sum_of)]
    for name in passed[:1]:
        code = {"total_hard": "above_hard_limit", "total": "total_reached", "total_guide": "above_guide"}[name]
        stated, exact = _bound(asked, name) or (None, None)
        if stated is not None and exact is not None:
            whole, limit = text.apart_text(asked.shown(sum_of), asked.shown(exact))
            words = _(
                "cumulative {whole}; {allowed} {limit}{per_kg}",
                whole=whole,
                allowed=_ALLOWED[name],
                limit=limit,
                per_kg=_per_kg(asked, stated, exact),
            )
            yield asked.question.find(code, words, stated.source, asked.shown(exact))


def _passes(asked: Proposed, name: str, sum_of: Quantity) -> bool:
    bound = _bound(asked, name)
    return bound is not None and sum_of > bound[1]


def _count(asked: Proposed) -> Findings:
    count = asked.question.limits.count
    if count is None:
        return
    limit = Amount(allowed_count(asked.question, count), count.unit)
    if asked.question.treatment.count_by_volume:
        most, used = asked.question.limits.exact("most"), asked.question.used
        if most is None or used is None or used.units != most.units or units.is_per_kg(asked.dose):
            return
        if used + asked.dose > most * int(count.value):
            whole, one = text.amount_text(asked.shown(used + asked.dose)), text.amount_text(asked.shown(most))
            words = _(
                "cumulative {doses}; limit {limit} of {dose} without an order",
                doses=whole,
                limit=count_text(count, limit),
                dose=one,
            )
            yield asked.question.find("count_reached", words, count.source, limit)
    elif (number := asked.question.count + 1) > limit.value:
        words = _("this is number {dose}; limit {limit} without an order", dose=number, limit=count_text(count, limit))
        yield asked.question.find("count_reached", words, count.source, limit)


def shortest(asked: Proposed) -> Figure | None:
    """In what time this dose may be given at the fastest: a larger one by what may go in a minute."""
    stated, fastest = asked.question.shortest, asked.question.treatment.fastest
    by_blood = asked.proposal.route in INTO_THE_BLOOD and not units.is_per_kg(asked.dose)
    if fastest is None or not by_blood or asked.dose <= units.quantity(fastest.above):
        return stated
    minutes = float((asked.dose / units.quantity(fastest.amount)).magnitude)
    return stated if stated and stated.value >= minutes else Figure(minutes, "min", fastest.source)


def _time(asked: Proposed) -> Findings:
    least, over_min = shortest(asked), asked.proposal.over_min
    if least is not None and over_min is not None and over_min < least.value:
        words = _(
            "over {over_min}; no faster than {shortest}",
            over_min=text.minutes_text(over_min),
            shortest=text.minutes_text(least.value),
        )
        yield asked.question.find("too_fast", words, least.source, Amount(least.value, "min"))


def _flow(asked: Proposed) -> Findings:
    if asked.question.treatment.drug_class == "fluid" and not units.is_per_kg(asked.dose):
        yield from fluids.deliverable(asked.question, asked.dose, asked.proposal)
