"""What the pressure did after a treatment. A finding, never a verdict: two treatments that overlap share it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from operator import attrgetter
from statistics import median_low

from msgspec import Struct

from dosing.ground.exact import exact, shown
from dosing.ground.facts import Dose, Facts, Number, Reading
from dosing.ground.kinds import Id
from dosing.ground.language import gettext as _
from dosing.ground.phases import PULSELESS, phase_at
from dosing.patient.pressure import means_mmhg
from dosing.patient.reassess import end_of, others_only, started_at
from dosing.rules.rule_set import RuleSet

ANSWERING = frozenset({"pressor", "fluid", "blood"})
PRESSURES = frozenset({"pressure", "pressure_or_pulses"})  # whose effect a pressure shows, by their own reassessment


class Response(Struct, frozen=True, kw_only=True):
    """MAP in mmHg before and after a pressor, fluid or blood: the last reading before, the median of the window after.

    Of two readings in the middle the lower is the median: each value was measured. What is read after an infusion was
    held or has ended is no response to it.
    ``map_highest`` is the highest of that window if it is above the median by as much as a response, else null. The
    pulse pressure likewise, null if it was not measured. ``shared``: another such treatment acted at the same time.
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


class _Course(Struct, frozen=True):
    """When a treatment began, from when to when a reading shows its effect, and the end of its window.

    One that is not ``answered`` has no response of its own, and shares those of others.
    """

    dose: Dose
    answered: bool
    began: datetime
    start: datetime
    until: datetime
    end: datetime


_Pressure = tuple[float, float | None]  # a mean pressure in mmHg, and the pulse pressure where it was measured


def responses(doses: Iterable[Dose], facts: Facts, rules: RuleSet) -> Iterator[Response]:
    """The responses to those of the doses, all in ``facts``, that have one: a MAP on both sides, no arrest between."""
    courses = {course.dose.id: course for dose in facts.doses if (course := _course(dose, rules))}
    until = max((course.end for course in courses.values()), default=facts.opened_at)
    readings = facts.readings[: bisect_right(facts.readings, until, key=attrgetter("taken_at"))]
    pressures = _pressures(readings)
    if not courses or not pressures:
        return
    taken, measured = [at for at, _ in pressures], [each for _, each in pressures]
    overlapping, watch = _overlapping(courses.values()), rules.watch
    for dose in doses:
        course = courses.get(dose.id)
        if course is None or not course.answered or others_only(dose):
            continue
        first, last = bisect_right(taken, course.began), bisect_right(taken, course.until)
        last = min(last, _with_pulse(facts, taken, first))
        after = tuple(measured[max(first, bisect_left(taken, course.start)) : last])
        if first and after:
            stands_out_by = watch.response_map, watch.response_pulse_pressure_percent
            yield _response(dose.id, measured[first - 1], after, *stands_out_by, shared=dose.id in overlapping)


def _with_pulse(facts: Facts, taken: list[datetime], first: int) -> int:
    """How many readings come before the pulse was lost: one after an arrest is no answer to a dose before it."""
    if not first or not facts.phases:
        return len(taken)
    before = taken[first - 1]
    if phase_at(facts.phases, before) in PULSELESS:
        return first
    lost = (each.at for each in facts.phases if each.phase in PULSELESS and each.at > before)
    return bisect_left(taken, min(lost, default=taken[-1] + timedelta(seconds=1)))


# Each look at a case asks for the same few dozen responses again and again.
@lru_cache(maxsize=4096)
def _response(
    dose_id: str, before: _Pressure, after: tuple[_Pressure, ...], counts: float, percent: float, *, shared: bool
) -> Response:
    """``counts`` mmHg of MAP are a response, as is a pulse pressure wider by ``percent``."""
    was, pulse_before = before
    means, pulses = [mean for mean, _ in after], [pulse for _, pulse in after if pulse is not None]
    now, highest = median_low(means), max(means)  # a mean of two was measured by nobody
    pulse = median_low(pulses) if pulses else None
    wider = bool(pulse_before is not None and pulse and 100 * pulse >= pulse_before * (100 + percent))
    stands_out = highest - now >= counts
    return Response(
        intervention=dose_id,
        map_before=round(was, 2),
        map_after=round(now, 2),
        map_highest=round(highest, 2) if stands_out else None,
        change=round(now - was, 2),
        pulse_pressure_before=pulse_before,
        pulse_pressure_after=pulse,
        shared=shared,
        text=_(
            "MAP {whole} before, {whole2} after{what}{what2}",
            whole=_whole(was),
            whole2=_whole(now),
            what=_(", highest {whole}", whole=_whole(highest)) if stands_out else "",
            what2=_told(now - was, (highest if stands_out else now) - was, counts, wider=wider),
        ),
    )


def _told(change: float, most: float, counts: float, *, wider: bool) -> str:
    """What the numbers mean where they are no answer: lower by as much as would be one, or hardly another."""
    if most >= counts:
        return ""
    if change <= -counts:
        return _(": lower")
    return "" if wider else _(": little change")


def _pressures(readings: Sequence[Reading]) -> list[tuple[datetime, _Pressure]]:
    """The pressures that the readings hold, each with when it was taken."""
    return [
        (each.taken_at, (mean, each.sbp - each.dbp if each.sbp is not None and each.dbp is not None else None))
        for each, mean in zip(readings, means_mmhg(readings), strict=True)
        if mean is not None
    ]


def _course(dose: Dose, rules: RuleSet) -> _Course | None:
    """From when a reading shows the effect until the window's end; a bolus acts from its end on."""
    treatment = rules.treatments.get(dose.treatment)
    if treatment is None:
        return None
    rule, began = treatment.reassessment, started_at(dose)
    answered = treatment.drug_class in ANSWERING
    if not answered and not (rule and dose.route == "IM" and PRESSURES & {*rule.needs}):
        return None
    begins = end_of(dose) if rule and rule.counts_from_end else began
    lag = rule.counts_from_min if rule and not rule.counts_from_end else 0
    end = begins + timedelta(minutes=rules.watch.response_window_min)
    return _Course(dose, answered, began, begins + timedelta(minutes=lag), min(end, _stands_still(dose) or end), end)


def _stands_still(dose: Dose) -> datetime | None:
    """When an infusion was held or has ended; None while it runs, and of what has no rate."""
    if not dose.rates:
        return None
    return dose.changed_at if dose.status == "held" else dose.ended_at


def _overlapping(courses: Iterable[_Course]) -> set[str]:
    """The doses that acted while another did."""
    found, longest = set[str](), None
    for course in sorted(courses, key=lambda each: each.began):
        if longest is not None and course.began <= longest.end:
            found |= {course.dose.id, longest.dose.id}
        longest = course if longest is None else max(longest, course, key=lambda each: each.end)
    return found


def _whole(mean: float) -> str:
    return shown(exact(mean))
