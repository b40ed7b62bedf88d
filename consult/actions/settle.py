"""After every write and on every sweep: what the readings complete, what time has brought, which alerts stand.

Each step is a journal line of its own, with the card keys that it changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime, timedelta
from uuid import UUID

from consult import events
from consult.actions import reconcile
from consult.card.build import Card, newest, soonest
from consult.card.facts import Kept, by_due, clinical
from consult.clock import stamp
from consult.journal.append import Line
from consult.models import Case, Order, Reassessment
from consult.render.order_story import lack, not_given
from consult.resources import order_content, order_dict
from dosing import reassess
from dosing.facts import Facts
from dosing.rule_set import RuleSet
from dosing.watch import Cause, Watched, watch

MOST_ARRIVAL = timedelta(seconds=5)  # a batch that breaks off is settled by the sweep
_arriving: ContextVar[dict[UUID, None] | None] = ContextVar("arriving", default=None)
MOST_ROUNDS = 4  # a transition can bring about another; a case settles in two


def lines(
    case: Case,
    kept: Kept,
    facts: Facts,
    rules: RuleSet,
    now: datetime,
    card: Card,
    happened: Iterable[Cause] = (),
    ended: Iterable[tuple[str, str, str]] = (),
) -> list[Line]:
    """Settle the case at `now`: changes `kept`, `card` and the rows, sets `wake_at`, and answers the journal lines.

    `happened` are causes that the write itself brought about, `ended` those that it ended.
    """
    done, happened = _completed(case, kept, facts, card), [*happened]
    for kind, cause, because in ended:
        done += reconcile.clear_cause(kept, kind, cause, because, now, card)
    if (changed := _arriving.get()) is not None:
        changed[case.uid] = None
        case.wake_at = now + MOST_ARRIVAL
        return done + reconcile.tell(case, kept, happened, now, card)
    for _ in range(MOST_ROUNDS):
        if done:
            facts = clinical(case, kept)
        watched = watch(facts, rules, now)
        happened += _never_given(kept, watched, now)
        moved = _transitions(case, kept, watched, now, card)
        done += moved
        if not moved:
            break
    done += reconcile.reconcile(case, kept, [*happened, *watched.causes], now, card)
    done += reconcile.escalate(case, kept, now, card)
    case.wake_at = reconcile.earliest(watched.next_at, reconcile.next_escalation(case, kept))
    return done


@contextmanager
def arriving() -> Iterator[dict[UUID, None]]:
    """While a batch comes in, what its readings and the clock say waits for the rest of it.

    Else a dose would be overdue for the moment until its reading, sent after it, is read. Yields the cases that the
    batch changes, in their order.
    """
    changed: dict[UUID, None] = {}
    before = _arriving.set(changed)
    try:
        yield changed
    finally:
        _arriving.reset(before)


def crew_wrote(case: Case, kept: Kept, now: datetime) -> None:
    """The crew has written: a request that was asked back about waits for the physician again."""
    for place, order in enumerate(kept["orders"]):
        if order["state"] == Order.State.REQUESTED and order["waiting_since"] is None:
            kept["orders"][place] = resumed = {**order, "waiting_since": stamp(now)}
            Order.objects.filter(case=case, uid=order["id"]).update(data=order_content(resumed))


def _completed(case: Case, kept: Kept, facts: Facts, card: Card) -> list[Line]:
    """Close the reassessments that a reading has completed."""
    found = ((each, reassess.completed_by(each, facts.readings)) for each in facts.reassessments)
    return [_move(case, kept, card, each.id, Reassessment.State.DONE, at, done_at=at) for each, at in found if at]


def _transitions(case: Case, kept: Kept, watched: Watched, now: datetime, card: Card) -> list[Line]:
    """Write down what time alone has brought: overdue and unknown reassessments, expired orders."""
    due = {each["id"]: each["overdue_at"] for each in kept["reassessments"]}
    overdue = [
        _move(case, kept, card, each, Reassessment.State.OVERDUE, _at_most(due[each], now)) for each in watched.overdue
    ]
    unknown = [_move(case, kept, card, each, Reassessment.State.UNKNOWN, now) for each in watched.unknown]
    return overdue + unknown + [_expire(case, kept, card, each, now) for each in watched.expired]


def _at_most(text: str, now: datetime) -> datetime:
    return min(datetime.fromisoformat(text), now)


def _move(
    case: Case, kept: Kept, card: Card, uid: str, state: str, at: datetime, *, done_at: datetime | None = None
) -> Line:
    """Give a reassessment its new state; one that is done leaves the card."""
    before = next(each for each in kept["reassessments"] if each["id"] == uid)
    Reassessment.objects.filter(case=case, uid=uid).update(state=state, done_at=done_at)
    moved = {**before, "state": str(state), "done_at": stamp(done_at) if done_at else None}
    others = [each for each in kept["reassessments"] if each["id"] != uid]
    kept["reassessments"] = others if done_at else sorted([*others, moved], key=by_due)
    card["reassessments"] = soonest(kept["reassessments"])
    event = events.ReassessmentMoved(
        reassessment=uid,
        intervention=before["intervention"],
        state=state,
        done_at=done_at,
    )
    return Line(event, at, {"reassessments": card["reassessments"]})


def _never_given(kept: Kept, watched: Watched, now: datetime) -> list[Cause]:
    """What was ordered and runs out now with nothing of it given: whoever ordered it must not think that it was.

    A series of which a part was given is a permission not used up, and no failure of the loop.
    """
    orders = [each for each in kept["orders"] if each["id"] in watched.expired and not each["given"]]
    return [Cause("order_not_given", each["id"], "high", not_given(each), now) for each in orders]


def _expire(case: Case, kept: Kept, card: Card, uid: str, now: datetime) -> Line:
    """End an order that was not given in time."""
    row = Order.objects.select_related("case").get(case=case, uid=uid)
    reason = lack(order_dict(row))
    row.state = Order.State.EXPIRED
    at = _at_most(row.data["expires_at"], now)
    row.steps = [*row.steps, {"step": "expired", "at": stamp(at), "by": None, "reason": reason}]
    row.save(update_fields=["state", "steps"])
    kept["orders"] = [each for each in kept["orders"] if each["id"] != uid]
    card["orders"] = newest(kept["orders"])
    event = events.OrderEnded(order=uid, state="expired", reason=reason)
    return Line(event, at, {"orders": card["orders"]})
