"""How what is proposed is made to run: flow, cannula, drops, strokes of a syringe, pump. Nothing here judges it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from dosing.check import fluids, infusion
from dosing.check.case import asked_for, bedside
from dosing.check.dosage import Proposed, proposed
from dosing.check.findings import amount_dict
from dosing.check.fluids import Cannula, Drops, Strokes
from dosing.ground import text, units
from dosing.ground.facts import Amount, Facts, Proposal
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.rules.plain import source_text
from dosing.rules.rule_set import RuleSet, Source

FLUIDS = ("fluid", "blood")
_PUMPED = "mL/h"
_SECONDS = 120  # times below this read in seconds
_TOO_FAST = _("Drops too fast to count: run it open and watch the bag")
_TOO_FAST_FOR_A_CHILD = _("Drops too fast to count: by syringe")
_BY_PUMP = _("Drops cannot be counted at this rate: by pump")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """The flow that is needed, None while the strength is not known, and with what it can be given, also in words.

    Of a bolus ``cannulas``, and a child's ``strokes``; of an infusion ``rates``, its rate in every unit, ``pump``, what
    a pump sets, with the dose that this ``gives``, and ``by_strength``, the pump rate of each standard strength.
    """

    needed: Amount | None = None
    over_min: float | None = None
    cannulas: Sequence[Cannula] = ()
    drops: Sequence[Drops] = ()
    strokes: Sequence[Strokes] = ()
    rates: Sequence[Amount] = ()
    pump: Amount | None = None
    gives: Amount | None = None
    by_strength: Sequence[tuple[Amount, Amount]] = ()
    lines: Sequence[str] = ()
    sources: Sequence[str] = ()

    def as_dict(self) -> dict[str, Any]:
        """As the API answers it."""
        return {
            "needed": self.needed and amount_dict(self.needed),
            "over_min": self.over_min,
            "cannulas": [
                {"gauge": each.gauge, "by_gravity": each.by_gravity, "by_pressure": each.by_pressure}
                for each in self.cannulas
            ],
            "drops": [
                {"per_ml": each.per_ml, "per_min": each.per_min, "exact": float(each.exact), "usable": each.usable}
                for each in self.drops
            ],
            "strokes": [_stroke_dict(each) for each in self.strokes],
            "rates": [amount_dict(each) for each in self.rates],
            "pump": self.pump and {"set": amount_dict(self.pump), "gives": self.gives and amount_dict(self.gives)},
            "by_strength": [
                {"strength": amount_dict(strength), "rate": amount_dict(rate)} for strength, rate in self.by_strength
            ],
            "lines": list(self.lines),
            "sources": list(self.sources),
        }


def flow(proposal: Proposal, facts: Facts, rules: RuleSet) -> Flow | None:
    """The flow of a bolus of fluid that has a time, or of an infusion; None for all else.

    Raises units.WrongUnit as the check does.
    """
    treatment = rules.treatments.get(proposal.treatment)
    if treatment is None or (treatment.form != "infusion" and treatment.drug_class not in FLUIDS):
        return None
    asked = proposed(asked_for(bedside(facts, rules, proposal.at), proposal), proposal)
    if treatment.form == "infusion":
        return _of_infusion(asked)
    minutes = proposal.over_min or fluids.minutes_allowed(asked.question)
    return None if minutes is None or units.is_per_kg(asked.dose) else _of_bolus(asked, minutes)


def _of_bolus(asked: Proposed, minutes: float) -> Flow:
    """The chart and the sets are made for clear fluid: of blood only the flow, and a child's strokes, are said."""
    rules, child = asked.question.bedside.rules, not asked.question.bedside.person.adult
    needed, clear = fluids.flow_needed(asked.dose, minutes), asked.question.treatment.drug_class == "fluid"
    through = fluids.cannulas(needed, rules) if clear and asked.proposal.route != "IO" else []
    drops = fluids.drops(needed, rules) if clear else []
    strokes = [fluids.strokes(asked.dose, minutes, each) for each in rules.push_pull] if child else []
    volume = text.amount_text(units.amount(asked.dose, "mL"))
    lines = [
        _(
            "{volume} in {minutes} is {needed} mL/min",
            volume=volume,
            minutes=text.minutes_text(minutes),
            needed=text.number_text(needed),
        )
    ]
    lines += [_cannula_text(through)] if through else []
    lines += [_drops_text(drops) or (_TOO_FAST_FOR_A_CHILD if child else _TOO_FAST)] if drops else []
    lines += map(_stroke_text, strokes)
    return Flow(
        needed=Amount(float(needed), "mL/min"),
        over_min=minutes,
        cannulas=through,
        drops=drops,
        strokes=strokes,
        lines=lines,
        sources=_sources(rules, cannula=bool(through), drops=bool(drops), child=child),
    )


def _cannula_text(through: Sequence[Cannula]) -> str:
    """The narrowest cannula by gravity, and under pressure where that is another; the widest stand first."""
    gravity = [each.gauge for each in through if each.by_gravity]
    pressure = [each.gauge for each in through if each.by_pressure]
    if not pressure:
        return _("More than any cannula can deliver")
    squeezed = _("{max} G or larger with a pressure infuser", max=max(pressure))
    if not gravity:
        return squeezed
    return _("{max} G or larger by gravity", max=max(gravity)) + (f", {squeezed}" if pressure != gravity else "")


def _drops_text(drops: Sequence[Drops]) -> str:
    """The sets by whose drops the flow can be counted; empty where there is none."""
    usable = [
        _("{per_min} of the {per_ml} per mL set", per_min=each.per_min, per_ml=text.number_text(each.per_ml))
        for each in drops
        if each.usable
    ]
    return _("Drops per min: {drops}", drops=", ".join(usable)) if usable else ""


def _stroke_text(strokes: Strokes) -> str:
    each = f"{text.number_text(strokes.every_s)} s" if strokes.every_s < _SECONDS else _minutes(strokes)
    slow = _(", faster than people managed in a test") if strokes.managed is False else ""
    times = _("once, over") if strokes.count == 1 else _("{count} times, one each", count=strokes.count)
    return _(
        "Push and pull {holds} mL: {times} {each}{slow}",
        holds=text.number_text(strokes.holds),
        times=times,
        each=each,
        slow=slow,
    )


def _minutes(strokes: Strokes) -> str:
    return text.minutes_text(strokes.every_s / 60)


def _stroke_dict(strokes: Strokes) -> dict[str, Any]:
    return {
        "syringe": amount_dict(Amount(strokes.holds, "mL")),
        "count": strokes.count,
        "every_s": float(strokes.every_s),
        "last": amount_dict(Amount(float(strokes.last_ml), "mL")),
        "managed": strokes.managed,
    }


def _of_infusion(asked: Proposed) -> Flow:
    """With a strength that is stated, or the only one listed; else the pump rates of the standard strengths."""
    treatment, weight = asked.question.treatment, asked.question.bedside.person.weight
    listed, stated = treatment.concentrations, asked.proposal.concentration
    strength = stated or (listed[0].amount if len(listed) == 1 else None)
    exact = None if strength is None else units.quantity(strength)
    rates = infusion.every_way(asked.dose, treatment.unit, weight, exact)
    said = " = ".join(text.amount_text(each) if each == asked.proposal.amount else _worked_out(each) for each in rates)
    rate = None if exact is None else infusion.pump_rate(asked.dose, exact, weight)
    if exact is not None and rate is not None:
        return _pumped(asked, rate, exact, rates, said)
    found = _by_strength(asked)
    sources = _named(*(each.source for each in listed))
    return Flow(rates=rates, by_strength=found, lines=[said, *map(_strength_text, found)], sources=sources)


def _pumped(asked: Proposed, rate: Quantity, strength: Quantity, rates: Sequence[Amount], said: str) -> Flow:
    rules = asked.question.bedside.rules
    setting, drops = infusion.pump_setting(rate, rules.pump), fluids.drops(units.number(rate, "mL/min"), rules)
    gives = None if setting is None else asked.shown(units.quantity(setting) * strength)
    return Flow(
        needed=units.amount(rate, "mL/min"),
        drops=drops,
        rates=rates,
        pump=setting,
        gives=gives,
        by_strength=_by_strength(asked),
        lines=[said, *_pump_text(setting, gives), _drops_text(drops) or _BY_PUMP],
        sources=_named(rules.pump.sources["step"], *(each.drops.source for each in rules.drop_sets)),
    )


def _by_strength(asked: Proposed) -> list[tuple[Amount, Amount]]:
    """Each standard strength with the pump rate that gives the dose, where the weight is known."""
    weight, listed = asked.question.bedside.person.weight, asked.question.treatment.concentrations
    found = ((each.amount, infusion.pump_rate(asked.dose, each.exact, weight)) for each in listed)
    return [(strength, units.amount(rate, "mL/h")) for strength, rate in found if rate is not None]


def _strength_text(pair: tuple[Amount, Amount]) -> str:
    return _("{volume} of {cycles}", volume=text.amount_text(pair[1]), cycles=text.amount_text(pair[0]))


def _worked_out(rate: Amount) -> str:
    """A rate that nobody stated in two digits, finer than any that is ordered; a pump's as it is set."""
    if rate.unit == _PUMPED:
        return text.amount_text(rate)
    return f"{text.number_text(rate.value, 2)} {text.unit_text(rate.unit)}"


def _pump_text(setting: Amount | None, gives: Amount | None) -> Iterator[str]:
    if setting is not None and gives is not None:
        yield _("Pump: set {setting}, gives {gives}", setting=text.amount_text(setting), gives=_worked_out(gives))


def _sources(rules: RuleSet, *, cannula: bool, drops: bool, child: bool) -> list[str]:
    chart = [figure.source for name, figure in rules.flow.items() if name != "countable"] if cannula else []
    sets = [each.source for each in (*(one.drops for one in rules.drop_sets), rules.flow["countable"])] if drops else []
    syringes = [(each.managed or each.holds).source for each in rules.push_pull] if child else []
    return _named(*chart, *sets, *syringes)


def _named(*sources: Source) -> list[str]:
    return list(dict.fromkeys(map(source_text, sources)))
