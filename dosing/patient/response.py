"""What the pressure did after a treatment. A finding, never a verdict: two treatments that overlap share it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from statistics import median

from msgspec import Struct

from dosing.ground.exact import exact, shown
from dosing.ground.facts import Dose, Facts, Number, Reading
from dosing.ground.kinds import Id
from dosing.patient.pressure import mean_mmhg
from dosing.patient.reassess import end_of, others_only, started_at
from dosing.rules.rule_set import RuleSet

ANSWERING = frozenset({"pressor", "fluid", "blood"})


class Response(Struct, frozen=True, kw_only=True):
    """MAP in mmHg before and after a pressor, fluid or blood: the last reading before, the median of the window after.

    ``map_highest`` is the highest of that window where it stands out from the median by as much as a response, else
    None. The pulse pressure likewise, None where it was not measured. ``shared`` says that another such treatment acted
    at the same time.
    """

    intervention: Id
    map_before: Number
    map_after: Number
    map_highest: Number | None
    change: Number
    pulse_pressure_before: Number | None
    pulse_pressure_after: Number | None
    shared: bool
    text: str


@dataclass(frozen=True, slots=True)
class _Course:
    """When a treatment began, from when a reading shows its effect, and the end of its window."""

    dose: Dose
    began: datetime
    start: datetime
    end: datetime


def responses(doses: Iterable[Dose], facts: Facts, rules: RuleSet) -> Iterator[Response]:
    """The responses to those of the doses, all in ``facts``, that have one: a MAP on both sides."""
    measured = [reading for reading in facts.readings if mean_mmhg(reading) is not None]
    taken = [reading.taken_at for reading in measured]
    courses = {course.dose.id: course for dose in facts.doses if (course := _course(dose, rules))}
    overlapping = _overlapping(courses.values())
    for dose in doses:
        course = courses.get(dose.id)
        if course is None or others_only(dose):
            continue
        first, last = bisect_right(taken, course.began), bisect_right(taken, course.end)
        after = measured[max(first, bisect_left(taken, course.start)) : last]
        if first and after:
            yield _response(course, measured[first - 1 : first], after, course.dose.id in overlapping, rules)


def _response(
    course: _Course, before: Sequence[Reading], after: Sequence[Reading], shared: bool, rules: RuleSet
) -> Response:
    was, now = _mean(before), _mean(after)
    highest, counts = max(_means(after)), rules.watch.response_map
    stands_out = highest - now >= counts
    none_seen = (highest if stands_out else now) - was < counts and not _wider(before, after, rules)
    return Response(
        intervention=course.dose.id,
        map_before=round(was, 2),
        map_after=round(now, 2),
        map_highest=round(highest, 2) if stands_out else None,
        change=round(now - was, 2),
        pulse_pressure_before=_pulse_pressure(before),
        pulse_pressure_after=_pulse_pressure(after),
        shared=shared,
        text=f"MAP {_whole(was)} before, {_whole(now)} after"
        f"{f', highest {_whole(highest)}' if stands_out else ''}{': no pressure response' if none_seen else ''}",
    )


def _course(dose: Dose, rules: RuleSet) -> _Course | None:
    """From when a reading shows the effect until the window's end; a bolus acts from its end on."""
    treatment = rules.treatments.get(dose.treatment)
    if treatment is None or treatment.drug_class not in ANSWERING:
        return None
    rule, began = treatment.reassessment, started_at(dose)
    begins = end_of(dose) if rule and rule.counts_from_end else began
    lag = rule.counts_from_min if rule and not rule.counts_from_end else 0
    window = timedelta(minutes=rules.watch.response_window_min)
    return _Course(dose, began, begins + timedelta(minutes=lag), begins + window)


def _overlapping(courses: Iterable[_Course]) -> set[str]:
    """The doses that acted while another did."""
    found, longest = set[str](), None
    for course in sorted(courses, key=lambda each: each.began):
        if longest is not None and course.began <= longest.end:
            found |= {course.dose.id, longest.dose.id}
        longest = course if longest is None else max(longest, course, key=lambda each: each.end)
    return found


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


@lru_cache(maxsize=1024)
def _whole(mean: float) -> str:
    return shown(exact(mean))
