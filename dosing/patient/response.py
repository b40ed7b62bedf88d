"""What the pressure did after a treatment. A finding, never a verdict: two treatments that overlap share it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import median

from dosing.ground.exact import exact, shown
from dosing.ground.facts import Dose, Facts, Reading
from dosing.patient.pressure import mean_mmhg
from dosing.patient.reassess import end_of, others_only, started_at
from dosing.rules.rule_set import RuleSet, Treatment

ANSWERING = frozenset({"pressor", "fluid", "blood"})


def response(dose: Dose, facts: Facts, rules: RuleSet) -> dict[str, object] | None:
    """MAP in mmHg before and after a pressor, fluid or blood: the last reading before, the median of the window after.

    ``map_highest`` is the highest of that window where it stands out from the median by as much as a response, else
    None. The pulse pressure likewise, None where it was not measured. None without a MAP on both sides. ``shared``
    says that another such treatment acted at the same time.
    """
    treatment = rules.treatments.get(dose.treatment)
    if treatment is None or treatment.drug_class not in ANSWERING or others_only(dose):
        return None
    start, end = _window(dose, treatment, rules)
    measured = [reading for reading in facts.readings if mean_mmhg(reading) is not None]
    before = [reading for reading in measured if reading.taken_at <= started_at(dose)]
    after = [
        reading for reading in measured if start <= reading.taken_at <= end and reading.taken_at > started_at(dose)
    ]
    if not before or not after:
        return None
    was, now = _mean(before[-1:]), _mean(after)
    highest, counts = max(_means(after)), rules.watch.response_map
    stands_out = highest - now >= counts
    none_seen = (highest if stands_out else now) - was < counts and not _wider(before[-1:], after, rules)
    return {
        "intervention": dose.id,
        "map_before": round(was, 2),
        "map_after": round(now, 2),
        "map_highest": round(highest, 2) if stands_out else None,
        "change": round(now - was, 2),
        "pulse_pressure_before": _pulse_pressure(before[-1:]),
        "pulse_pressure_after": _pulse_pressure(after),
        "shared": any(_overlaps(other, started_at(dose), end, rules) for other in facts.doses if other.id != dose.id),
        "text": f"MAP {_whole(was)} before, {_whole(now)} after"
        f"{f', highest {_whole(highest)}' if stands_out else ''}{': no pressure response' if none_seen else ''}",
    }


def _window(dose: Dose, treatment: Treatment, rules: RuleSet) -> tuple[datetime, datetime]:
    """From when a reading shows the effect until the window's end; a bolus acts from its end on."""
    rule = treatment.reassessment
    begins = end_of(dose) if rule and rule.counts_from_end else started_at(dose)
    lag = rule.counts_from_min if rule and not rule.counts_from_end else 0
    return begins + timedelta(minutes=lag), begins + timedelta(minutes=rules.watch.response_window_min)


def _mean(readings: Sequence[Reading]) -> float:
    return median(_means(readings))


def _means(readings: Sequence[Reading]) -> list[float]:
    return [mean for reading in readings if (mean := mean_mmhg(reading)) is not None]


def _wider(before: Sequence[Reading], after: Sequence[Reading], rules: RuleSet) -> bool:
    """Whether the pulse pressure rose by the part that counts as a response."""
    was, now = _pulse_pressures(before), _pulse_pressures(after)
    if not was or not now:
        return False
    return 100 * median(now) >= median(was) * (100 + rules.watch.response_pulse_pressure_percent)


def _pulse_pressure(readings: Sequence[Reading]) -> float | None:
    found = _pulse_pressures(readings)
    return median(found) if found else None


def _pulse_pressures(readings: Sequence[Reading]) -> list[float]:
    return [reading.sbp - reading.dbp for reading in readings if reading.sbp is not None and reading.dbp is not None]


def _overlaps(other: Dose, start: datetime, end: datetime, rules: RuleSet) -> bool:
    treatment = rules.treatments.get(other.treatment)
    if treatment is None or treatment.drug_class not in ANSWERING:
        return False
    return started_at(other) <= end and _window(other, treatment, rules)[1] >= start


def _whole(mean: float) -> str:
    return shown(exact(mean))
