"""Readings that are overdue after what was given, and while a pressor runs: one alert a case names them all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from dosing.ground import language
from dosing.ground.facts import Dose, Reassessment
from dosing.ground.kinds import OVERDUE
from dosing.ground.language import gettext as _
from dosing.patient import reassess
from dosing.watch.contact import is_out_of_reach
from dosing.watch.look import HIGH, MEDIUM, Look, clock

MOST_TEXT = 500  # of an alert
URGENT_AFTER = frozenset({"pressor", "sedative", "opioid"})
WORDS = {"hr": _("heart rate"), "heart_rate": _("heart rate"), "rr": _("breathing"), "spo2": _("SpO2")}


@dataclass(frozen=True, slots=True)
class _Missing:
    """A reading that is overdue: after what, in words what is missing, whether that is urgent, since when."""

    because: str
    lacks: str
    urgent: bool
    since: datetime


def reassessments(look: Look) -> None:
    """What is missing for which doses; notes which reassessments are overdue or unknown now."""
    look.doses = {dose.id: dose for dose in look.facts.doses}
    look.pressors = reassess.pressors(look.facts.doses, look.rules)
    first_set = reassess.after_arrest(look.facts, look.rules)
    found = [each for asked in look.facts.reassessments if (each := _missing(look, asked))]
    found += _first_set(look, first_set) if first_set else []
    before = {} if first_set and not look.passed(first_set.overdue_at) else look.facts.unanswered
    counted = Counter({**before}) + Counter(each.because for each in found)
    if not counted:
        return
    newest = {each.because: each.lacks for each in found}  # they are told soonest first
    texts = "; ".join(_told(because, newest.get(because), number) for because, number in sorted(counted.items()))
    urgent = {each.title for each in look.rules.treatments.values() if each.drug_class in URGENT_AFTER}
    high = any(each.urgent for each in found) or not urgent.isdisjoint(before)
    since = min((each.since for each in found), default=look.now)
    look.stands(OVERDUE, "reassessment", HIGH if high else MEDIUM, _sentence(texts)[:MOST_TEXT], since)


def _sentence(texts: str) -> str:
    return f"{texts[:1].upper()}{texts[1:]}"


def _told(because: str, lacks: str | None, number: int) -> str:
    """What was followed by no reading: of many the newest, and how many before it."""
    if lacks is None:
        return _("no reading after {doses}, {count} times", doses=because, count=number)
    return f"{lacks}{_(', and {number} earlier', number=number - 1) if number > 1 else ''}"


def _first_set(look: Look, asked: Reassessment) -> list[_Missing]:
    """The first set after the pulse came back, once it is overdue: nobody knows what pressure that pulse has."""
    if not look.passed(asked.overdue_at) or is_out_of_reach(look, asked):
        return []
    what = _listed(reassess.missing(asked, look.facts.readings))
    told = _(
        "no {measures} since {doses}, due {due_at}", measures=what, doses=asked.because, due_at=clock(asked.due_at)
    )
    return [_Missing(asked.because, told, True, asked.overdue_at)]


def _missing(look: Look, told: Reassessment) -> _Missing | None:
    """What a reading lacks that is overdue; notes what state it must be in now."""
    if told.done_at is not None:
        return None
    asked = reassess.after_pause(told, look.facts, look.rules)
    dose = look.doses.get(asked.intervention)
    renewed = dose is not None and reassess.is_renewed(asked, dose, look.rules)
    paused = asked is not told
    overtaken = None if renewed or paused else _further_pressor(look, dose)
    since = min(asked.overdue_at, overtaken or asked.overdue_at)
    if (paused or asked.state != "overdue") and not look.passed(since):
        return None
    if asked.state != "overdue":
        if not overtaken and is_out_of_reach(look, asked):
            look.states["unknown"] += [asked.id] if asked.state != "unknown" else []
            return None
        look.states["overdue"].append(asked.id)
    early = overtaken is not None and overtaken < asked.due_at
    what = _listed(reassess.missing(asked, look.facts.readings) or asked.needs)
    after = _("while {infusion} runs", infusion=asked.because) if renewed else _("after {doses}", doses=asked.because)
    due = _("before the next pressor") if early else _("due {due_at}", due_at=clock(asked.due_at))
    return _Missing(
        asked.because,
        _("no {measures} {after}, {due}", measures=what, after=after, due=due),
        _is_urgent(look, dose),
        since,
    )


def _listed(needs: Sequence[str]) -> str:
    words = list(dict.fromkeys(WORDS.get(need, language.words(need)) for need in needs))
    return _(" or ").join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _is_urgent(look: Look, dose: Dose | None) -> bool:
    treatment = look.rules.treatments.get(dose.treatment) if dose else None
    return treatment is not None and treatment.drug_class in URGENT_AFTER


def _further_pressor(look: Look, dose: Dose | None) -> datetime | None:
    """When the next pressor was given although the reading after this pressor, or its new rate, is still missing."""
    if dose is None or dose.ended_at or reassess.others_only(dose) or not reassess.is_pressor(dose, look.rules):
        return None
    following = reassess.next_pressor(dose, look.pressors)
    return following.given_at if following else None
