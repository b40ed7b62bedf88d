"""After every write and on every sweep: what the readings complete, what time has brought, which alerts stand."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from msgspec.structs import replace

from consult import events
from consult.case import order_words
from consult.case.arrest import paused_because
from consult.case.decide.asked import ORDER_NOT_GIVEN, Decided, Past, open_alert
from consult.case.decide.order_book import EXPIRED
from consult.case.escalation import escalates_at, next_step
from consult.case.fold.apply import apply
from consult.case.fold.entry import Entry
from consult.events import Event
from consult.state.case import OPEN, CaseState, Presence, facts_of
from consult.state.parts import Alert, Order, Step
from dosing.ground.exact import exact, plain
from dosing.ground.facts import Reassessment
from dosing.ground.kinds import HAPPENINGS, OVERDUE, PAUSED_WITHOUT_PULSE
from dosing.ground.language import gettext as _
from dosing.patient import reassess
from dosing.rules.rule_set import RuleSet
from dosing.watch.causes import Cause, Watched, watch

MOST_ROUNDS = 4  # a transition can bring about another; a case settles in two
# What an order waits for ends with what became of the order, told as such: an order that has run out is no good news.
ABOUT_ORDERS = ("order_waiting", "readback_waiting", "readback_mismatch")
# What these say moves with what is done: their open alert is told anew, and one of high priority wants a person again.
TOLD_ANEW = (OVERDUE, "pressor_running_out", "dose_outside_limits", "vital_sign")
# Of what these say only the words move, with a goal or another rule set: told as it is now, it wants nobody again.
REWORDED = ("low_pressure", "high_pressure", "countersign_waiting")
# What another goal can end, though the pressure is as it was.
BY_GOAL = ("low_pressure", "high_pressure", "falling")


@dataclass(slots=True)
class Settling:
    """A case while it is settled: its state so far, and the entries that brought it there, the state after each."""

    state: CaseState
    rules: RuleSet
    presence: Presence
    now: datetime
    new_id: Callable[[], str]
    became: Callable[[str], Order | None]  # an order that is open no more
    past: Past
    entries: list[Entry] = field(default_factory=list)
    states: list[CaseState] = field(default_factory=list)

    def happens(self, event: Event, at: datetime | None = None) -> None:
        """One thing more has happened: it is folded at once."""
        entry = Entry(event, at or self.now, self.now)
        self.state = apply(self.state, entry)
        self.entries.append(entry)
        self.states.append(self.state)


def settle(case: Settling, decided: Decided) -> datetime | None:
    """Settle the case after what was decided; when it must be looked at again, None: time alone changes nothing."""
    causes = [*decided.happened]
    _complete(case, decided)
    _renew(case)
    for _round in range(MOST_ROUNDS):
        watched = watch(facts_of(case.state, case.presence.last_contact_at), case.rules, case.now)
        causes += _never_given(case, watched)
        if not _move(case, watched):
            break
    opened = {(alert.kind, alert.cause) for alert in case.state.alerts}
    lasting = [each for each in watched.lasting if (each.kind, each.cause) in opened]
    _reconcile(case, [*causes, *watched.causes, *lasting])
    _escalate(case)
    return _earliest(watched.next_at, *(_escalates_at(case, alert) for alert in case.state.alerts))


def tell_arrival(case: Settling, decided: Decided) -> None:
    """While a batch comes in, only what its entries themselves say is told; the rest waits for its last entry.

    Else a dose would be overdue for the moment until its reading, sent after it, is read.
    """
    _complete(case, decided)
    _tell(case, decided.happened)


def _complete(case: Settling, decided: Decided) -> None:
    """Close the reassessments that a reading has completed, and the alerts whose cause the write ended."""
    for each in decided.answered:
        _moved(case, each.asked, "done", each.at, each.at, counted=each.asked.because)
    running = {dose.id for dose in case.state.doses if reassess.is_running_pressor(dose, case.rules)}
    for asked in case.state.reassessments:
        if asked.intervention in running:
            continue  # it goes on asking
        if done_at := reassess.completed_by(asked, case.state.readings):
            _moved(case, asked, "done", done_at, done_at)
    for ended in decided.ended:
        if opened := open_alert(case.state, case.past, ended.kind, ended.cause):
            _clear(case, opened, ended.because)


def _renew(case: Settling) -> None:
    """While a pressor runs it asks for one pressure after the other; what it asks for follows from the newest one."""
    facts = facts_of(case.state)
    asked = {each.intervention: each for each in facts.reassessments}
    for dose in facts.doses:
        due, known = reassess.due_while_it_runs(dose, facts, case.rules), asked.get(dose.id)
        if due is not None and (known is None or (known.counts_from, known.due_at) != (due.counts_from, due.due_at)):
            answered_at = due.counts_from - reassess.JUST_AFTER if reassess.is_renewed(due, dose, case.rules) else None
            case.happens(events.ReassessmentRenewed(reassessment=due, answered_at=answered_at))


def _moved(
    case: Settling,
    asked: Reassessment,
    state: str,
    at: datetime,
    done_at: datetime | None = None,
    counted: str | None = None,
) -> None:
    event = events.ReassessmentMoved(
        reassessment=asked.id, intervention=asked.intervention, state=state, done_at=done_at, counted=counted
    )
    case.happens(event, at)


def _move(case: Settling, watched: Watched) -> bool:
    """Write down what time alone has brought: overdue and unknown reassessments, expired orders."""
    asked = {each.id: each for each in case.state.reassessments}
    for each in watched.overdue:
        _moved(case, asked[each], "overdue", min(asked[each].overdue_at, case.now))
    for each in watched.unknown:
        _moved(case, asked[each], "unknown", case.now)
    for each in watched.expired:
        _expire(case, each)
    return bool(watched.overdue or watched.unknown or watched.expired)


def _expire(case: Settling, order_id: str) -> None:
    """End an order that was not given in time."""
    order = case.state.order(order_id)
    if order is None:
        return
    reason, at = order_words.lack(order), min(order.expires_at or case.now, case.now)
    step = Step(step="expired", at=at, by=None, reason=reason)
    became = replace(order, state=EXPIRED, steps=(*order.steps, step))
    case.happens(events.OrderEnded(order=order_id, state=EXPIRED, reason=reason, became=became), at)


def _never_given(case: Settling, watched: Watched) -> list[Cause]:
    """What was ordered and runs out now with nothing of it given: whoever ordered it must not think that it was.

    A series of which a part was given is a permission not used up, and no failure of the loop.
    """
    orders = [each for each in case.state.orders if each.id in watched.expired and not each.given]
    return [Cause(ORDER_NOT_GIVEN, each.id, "high", order_words.not_given(each), case.now) for each in orders]


def _reconcile(case: Settling, causes: Iterable[Cause]) -> None:
    """Raise what stands and is not open, move priorities, clear what no longer stands."""
    standing = {(cause.kind, cause.cause): cause for cause in causes}
    for alert in case.state.alerts:
        if (alert.kind, alert.cause) not in standing and alert.kind not in HAPPENINGS:
            _clear(case, alert, _because(case, alert))
    _tell(case, standing.values())


def _because(case: Settling, alert: Alert) -> str:
    """Why an alert clears: what became of the order that it is about, that there is no pulse, that the case is over."""
    if alert.kind in ABOUT_ORDERS:
        order = case.state.order(alert.cause) or _ended(case, alert.cause) or case.became(alert.cause)
        return order_words.became(order)[:200] if order else _("the cause is gone")
    if case.state.state != OPEN:
        return _("the case has ended")
    paused = paused_because(case.state) if alert.kind in PAUSED_WITHOUT_PULSE else ""
    return paused or _by_goal(case.state, alert) or _("the cause is gone")


def _by_goal(state: CaseState, alert: Alert) -> str:
    """Where a physician has set the goal since the pressure was taken: not the pressure has changed."""
    goal, taken = state.goal, state.pressure
    if alert.kind not in BY_GOAL or not (goal and goal.since and taken and taken.taken_at <= goal.since):
        return ""
    return _("the goal is now {measure} {floor}", measure=goal.measure.upper(), floor=plain(exact(goal.floor)))


def _ended(case: Settling, order_id: str) -> Order | None:
    """An order that has ended while the case was settled."""
    ends = (each.event.became for each in case.entries if isinstance(each.event, events.OrderEnded))
    return next((order for order in ends if order.id == order_id), None)


def _tell(case: Settling, causes: Iterable[Cause]) -> None:
    """Open an alert for each cause that has none, and tell anew the open one of a cause that says something else."""
    for cause in causes:
        alert = open_alert(case.state, case.past, cause.kind, cause.cause)
        if alert is None:
            _raise(case, cause)
        elif _says_else(alert, cause):
            again = alert.priority != cause.priority or not _words_alone(case, alert, cause)
            event = events.AlertChanged(
                alert=alert.id,
                alert_kind=alert.kind,
                priority=cause.priority,
                text=cause.text,
                again=again,
                back=None if alert in case.state.alerts else alert,
            )
            case.happens(event)


def _words_alone(case: Settling, alert: Alert, cause: Cause) -> bool:
    """Whether nothing has become worse: another goal, or another limit (told in brackets) of the same vital sign.

    One more reading that is overdue wants whoever has taken notice again; what nobody has noticed goes on climbing.
    """
    if cause.kind == OVERDUE:
        moved = (each.event for each in case.entries if isinstance(each.event, events.ReassessmentMoved))
        return alert.acknowledged is None or not any(each.state == "overdue" for each in moved)
    sign, _rest, _end = cause.text.partition(" (")
    return cause.kind in REWORDED or (cause.kind == "vital_sign" and alert.text.startswith(f"{sign} ("))


def _says_else(alert: Alert, cause: Cause) -> bool:
    reworded = cause.kind in (*TOLD_ANEW, *REWORDED) and alert.text != cause.text
    return reworded or alert.priority != cause.priority


def _raise(case: Settling, cause: Cause) -> None:
    event = events.AlertRaised(
        alert=case.new_id(), alert_kind=cause.kind, cause=cause.cause, priority=cause.priority, text=cause.text
    )
    case.happens(event, min(cause.since or case.now, case.now))


def _clear(case: Settling, alert: Alert, because: str) -> None:
    back = None
    if case.state.more_alerts and alert in case.state.alerts:
        told = [each.event.alert for each in case.entries if isinstance(each.event, events.AlertCleared)]
        back = case.past.newest_alert([*told, *(each.id for each in case.state.alerts)])
    case.happens(events.AlertCleared(alert=alert.id, alert_kind=alert.kind, because=because, back=back))


def _escalates_at(case: Settling, alert: Alert) -> datetime | None:
    return escalates_at(alert, case.presence.attended_at)


def _escalate(case: Settling) -> None:
    """Pass on the alerts that nobody has acknowledged in time: to the other physicians, then to the supervisor."""
    for alert in case.state.alerts:
        if (at := _escalates_at(case, alert)) and at <= case.now:
            case.happens(events.AlertEscalated(alert=alert.id, alert_kind=alert.kind, to=next_step(alert)))


def _earliest(*times: datetime | None) -> datetime | None:
    return min((time for time in times if time), default=None)
