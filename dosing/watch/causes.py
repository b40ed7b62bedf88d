"""What in a case asks for a person now, and when time alone could change that answer.

The same facts always give the same causes: nothing is remembered between two looks. A text is stored once, when the
cause is raised, so none holds a number that goes on changing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from dosing.ground.facts import Dose, Facts, Order, Reassessment
from dosing.ground.kinds import OVERDUE
from dosing.held import ledger
from dosing.held.supply import Supply, supplies
from dosing.patient import reassess
from dosing.rules.rule_set import RuleSet
from dosing.watch.pressor import RATES, Seen, after_pressor
from dosing.watch.pressure import falling_since, low_pressure
from dosing.watch.vital_signs import VitalSign, vital_signs

HIGH, MEDIUM = "high", "medium"
MOST_TEXT = 500  # of an alert
URGENT_AFTER = frozenset({"pressor", "sedative", "opioid"})


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that needs a person: an alert's kind, the cause within it, ``high`` or ``medium``, and since when."""

    kind: str
    cause: str
    priority: str
    text: str
    since: datetime


@dataclass(frozen=True, slots=True)
class Watched:
    """The causes that stand; when to look again; ids of reassessments and orders whose state must change now."""

    causes: tuple[Cause, ...] = ()
    next_at: datetime | None = None
    overdue: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    expired: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Missing:
    """A reading that is overdue: after what, what is wrong with it in words, whether that is urgent, since when."""

    because: str
    lacks: str
    urgent: bool
    since: datetime


@dataclass(slots=True)
class _Look:
    """One look at a case while its causes are gathered."""

    facts: Facts
    rules: RuleSet
    now: datetime
    causes: list[Cause] = field(default_factory=list)
    changes: list[datetime] = field(default_factory=list)
    states: dict[str, list[str]] = field(default_factory=lambda: {"overdue": [], "unknown": [], "expired": []})
    doses: dict[str, Dose] = field(default_factory=dict)
    pressors: list[Dose] = field(default_factory=list)

    def passed(self, moment: datetime) -> bool:
        """Whether the moment has come; if not, it is one at which to look again."""
        if moment > self.now:
            self.changes.append(moment)
        return moment <= self.now

    def stands(self, kind: str, cause: str, priority: str, text: str, since: datetime) -> None:
        self.causes.append(Cause(kind, cause, priority, text, since))

    def title(self, treatment: str, told: str) -> str:
        """What a treatment is called; one that the rule set lacks as it was told."""
        known = self.rules.treatments.get(treatment)
        return known.title if known else told or treatment


def watch(facts: Facts, rules: RuleSet, now: datetime) -> Watched:
    """The causes that stand at ``now``.

    A case that is handed over or closed raises nothing any more; only its orders still expire.
    """
    look = _Look(facts, rules, now)
    for order in facts.orders:
        _order(look, order)
    if facts.state == "open":
        _pressure(look)
        _vital_signs(look)
        _running_out(look)
        _reassessments(look)
        _contact(look)
    return Watched(
        causes=tuple(look.causes),
        next_at=min(look.changes, default=None),
        overdue=tuple(look.states["overdue"]),
        unknown=tuple(look.states["unknown"]),
        expired=tuple(look.states["expired"]),
    )


def _pressure(look: _Look) -> None:
    low = low_pressure(look.facts, look.rules)
    if low is not None:
        look.stands("low_pressure", "pressure", HIGH if low.critical else MEDIUM, low.text, low.since)
        return  # one alert for one pressure: what is low needs no forecast
    since = falling_since(look.facts, look.rules)
    if since is not None:
        look.stands("falling", "pressure", MEDIUM, "MAP falling towards the goal", since)


def _vital_signs(look: _Look) -> None:
    """What is dangerous whatever was given, and what a pressor may have done; one reading, one alarm.

    After a pressor always high, as the reading after one is when it is missing: the next push may be a minute away.
    """
    signs, after = _one_each(vital_signs(look.facts, look.rules), after_pressor(look.facts, look.rules))
    for sign in signs:
        look.stands(sign.kind, sign.cause, HIGH if sign.danger else MEDIUM, sign.text, sign.since)
    for seen in after:
        look.stands("after_pressor", seen.cause, HIGH, seen.text, seen.since)


def _one_each(signs: list[VitalSign], after: list[Seen]) -> tuple[list[VitalSign], list[Seen]]:
    """A heart rate is told once: a rhythm speaks for it, then a rate that was in danger, then one after a pressor."""
    rate = next((sign for sign in signs if sign.cause == "hr"), None)
    if rate is None or not any(seen.cause in (*RATES, "rhythm") for seen in after):
        return signs, after
    if rate.was_danger and not any(seen.cause == "rhythm" for seen in after):
        return signs, [seen for seen in after if seen.cause not in RATES]
    return [sign for sign in signs if sign is not rate], after


def _running_out(look: _Look) -> None:
    """What is in hand of a pressor that runs, or is pushed at a rate, will not last to the arrival."""
    for supply in supplies(ledger.holdings(look.facts, look.rules), look.rules):
        used = supply.in_use_to is None or not look.passed(supply.in_use_to)
        if used and supply.treatment.drug_class == "pressor":
            _lasts(look, supply)


def _lasts(look: _Look, supply: Supply) -> None:
    """Before the arrival, where that is known and lies ahead; else once it is to be empty within minutes."""
    eta, soon = look.facts.eta, supply.lasts_to - timedelta(minutes=look.rules.ledger.running_out_min)
    known = eta is not None and not look.passed(eta)
    if supply.lasts_to < eta if known and eta else look.passed(soon):
        arrival = f"arrival {_clock(eta)}" if known and eta else "arrival not known"
        text = f"{supply.treatment.title} lasts to {_clock(supply.lasts_to)}, {arrival}"
        since = min(look.now, supply.since if known else soon)
        look.stands("pressor_running_out", supply.treatment.slug, MEDIUM, text, since)


def _reassessments(look: _Look) -> None:
    look.doses = {dose.id: dose for dose in look.facts.doses}
    look.pressors = reassess.pressors(look.facts.doses, look.rules)
    missing = [each for asked in look.facts.reassessments if (each := _missing(look, asked))]
    counted = Counter({**look.facts.unanswered}) + Counter(each.because for each in missing)
    if not counted:
        return
    newest = {each.because: each.lacks for each in missing}  # they are told soonest first
    texts = "; ".join(_after(because, newest.get(because), number) for because, number in sorted(counted.items()))
    urgent = {each.title for each in look.rules.treatments.values() if each.drug_class in URGENT_AFTER}
    high = any(each.urgent for each in missing) or not urgent.isdisjoint(look.facts.unanswered)
    since = min((each.since for each in missing), default=look.now)
    look.stands(OVERDUE, "reassessment", HIGH if high else MEDIUM, f"No reassessment after {texts}"[:MOST_TEXT], since)


def _after(because: str, lacks: str | None, number: int) -> str:
    """What was followed by no reading: of many the newest, and how many before it."""
    if lacks is None:
        return f"{because}, {number} times"
    return f"{because}, {lacks}{f', and {number - 1} earlier' if number > 1 else ''}"


def _missing(look: _Look, reassessment: Reassessment) -> _Missing | None:
    """What a reading lacks that is overdue; notes what state it must be in now."""
    if reassessment.done_at is not None:
        return None
    dose = look.doses.get(reassessment.intervention)
    overtaken = _further_pressor(look, dose)
    since = min(reassessment.overdue_at, overtaken or reassessment.overdue_at)
    if reassessment.state != "overdue":
        if not look.passed(since):
            return None
        if not overtaken and _out_of_reach(look, reassessment):
            look.states["unknown"] += [reassessment.id] if reassessment.state != "unknown" else []
            return None
        look.states["overdue"].append(reassessment.id)
    early = overtaken is not None and overtaken < reassessment.due_at
    lacks = "before the next pressor" if early else f"due {_clock(reassessment.due_at)}"
    return _Missing(reassessment.because, lacks, _is_urgent(look, dose), since)


def _is_urgent(look: _Look, dose: Dose | None) -> bool:
    treatment = look.rules.treatments.get(dose.treatment) if dose else None
    return treatment is not None and treatment.drug_class in URGENT_AFTER


def _further_pressor(look: _Look, dose: Dose | None) -> datetime | None:
    """When the next pressor was given although the reading after this pressor, or its new rate, is still missing."""
    following = reassess.next_pressor(dose, look.pressors) if dose and reassess.is_pressor(dose, look.rules) else None
    return following.given_at if following else None


def _out_of_reach(look: _Look, reassessment: Reassessment) -> bool:
    """Whether the unit has lost contact and sent nothing since the reading was due: perhaps it was taken."""
    return _last_contact(look) <= reassessment.due_at and _contact_lost_at(look) <= look.now


def _contact(look: _Look) -> None:
    if look.passed(_contact_lost_at(look)):
        last = _last_contact(look)
        look.stands("no_contact", "contact", MEDIUM, f"No data from unit since {_clock(last)}", _contact_lost_at(look))


def _last_contact(look: _Look) -> datetime:
    return look.facts.last_contact_at or look.facts.opened_at


def _contact_lost_at(look: _Look) -> datetime:
    return _last_contact(look) + timedelta(minutes=look.rules.watch.no_contact_min)


def _order(look: _Look, order: Order) -> None:
    if order.state in ("approved", "read_back") and order.expires_at is not None and look.passed(order.expires_at):
        look.states["expired"].append(order.id)
    elif look.facts.state == "open":
        for kind, priority, text, since in _asks(look, order):
            if look.passed(since):
                look.stands(kind, order.id, priority, text, since)


def _asks(look: _Look, order: Order) -> Iterator[tuple[str, str, str, datetime]]:
    """What this order waits for: kind, priority, text and the moment from which that is too long."""
    wait, title = timedelta(seconds=look.rules.watch.waiting_s), look.title(order.treatment, order.title)
    if order.state == "requested" and order.waiting_since is not None:
        text = f"Request for {title} waiting since {_clock(order.waiting_since)}"
        yield "order_waiting", MEDIUM, text, order.waiting_since + wait
    elif order.state == "approved" and order.misread_at is not None:
        yield "readback_mismatch", HIGH, f"Read-back of {title} differs from the order", order.misread_at
    elif order.state == "approved" and order.approved_at is not None:
        text = f"Order for {title} not read back since {_clock(order.approved_at)}"
        yield "readback_waiting", MEDIUM, text, order.approved_at + wait


def _clock(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%H:%M} UTC"
