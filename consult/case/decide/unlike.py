"""What was given otherwise than an order says: more, or at a lower rate."""

from __future__ import annotations

from consult.case.decide.asked import Known
from consult.case.dose import Unlike
from consult.case.entries import DoseEntry
from consult.state.parts import Order
from dosing.check.infusion import restated
from dosing.ground import units

ROUNDED = 1.01  # how many times what was ordered still counts as that: common practice, no source


def unlike_ordered(known: Known, order: Order | None, entry: DoseEntry, *, new_rate: bool = False) -> Unlike | None:
    """What was ordered, where this is more, or a rate less; however both are stated: a pump's is rounded by 1 %.

    A new rate by an order with steps may be any up to its most.
    """
    if order is None:
        return None
    stepped = order.titrate if new_rate else None
    ordered = stepped.most if stepped else order.amount
    if ordered is None or entry.amount is None:
        return None
    try:
        comes_to = restated(entry.amount, ordered.unit, known.facts.patient.weight, entry.concentration)
    except units.WrongUnit:
        return None
    if comes_to.value > ordered.value * ROUNDED:
        return Unlike(ordered, more=True)
    is_less = comes_to.value * ROUNDED < ordered.value
    return Unlike(ordered, more=False) if is_less and not stepped and _is_rate(known, entry) else None


def _is_rate(known: Known, entry: DoseEntry) -> bool:
    treatment = known.rules.treatments.get(entry.treatment)
    return bool(treatment and treatment.form == "infusion")
