"""What a crew is told on whatever page is open: what stands high, what became of its orders, what it is to do.

The banner of an order stays until it is pressed. It is read from the orders as they stand, so that nothing is missed
while there was no link; which of it was pressed already, the phone remembers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.urls import reverse
from django.utils.text import capfirst

from consult import queries, zone
from consult.access import Actor, cases_of
from consult.case.order_words import ACTIONS
from consult.clock import when
from consult.models import Case, Order
from consult.render import alarms, dose_course, words
from consult.render.order_story import apart, changed, held, known_since, last_step, open_question, says, told
from consult.render.orders import headline, how
from consult.resources.orders import order_dict
from consult.screens import crew_control, crew_told
from consult.state.parts import SET_BACK
from dosing.ground.kinds import MEASURED, OVERDUE
from dosing.ground.language import gettext as _

FIRST, TO_DO, TO_KNOW = range(3)  # in which rank news stand
TOLD_FOR = timedelta(minutes=30)  # so long an end is news to a phone that has not told it yet: our choice
ACTS = {"change": _("NEW RATE"), "hold": _("HOLD"), "stop": _("STOP")}
DECIDED = {"approved": _("APPROVED"), "changed": _("CHANGED"), "placed": _("ORDERED"), "cosigned": _("CO-SIGNED")}
DECIDED |= {SET_BACK: _("READ BACK AGAIN")}
ENDED = ("declined", "withdrawn", "expired", "voided")


def open_cases(actor: Actor) -> list[Case]:
    """The unit's open cases."""
    return list(cases_of(actor).filter(state=Case.State.OPEN))


def high(cases: Iterable[Case], own: str) -> dict[str, Any] | None:
    """The first of the high alerts that stand in these cases, with how many more do; None where none does.

    Those of the page's own case come first and name nobody, those of another say whose they are. What is measured is
    told as it stands there; of the others the kind, so that a read-back has nothing to copy.
    """
    found = [
        {
            "text": alert["text"] if alert["kind"] in MEASURED else capfirst(words.plain(alert["kind"])),
            "of_pressure": alert["kind"] == "low_pressure" and str(case.uid) == own,
            "of_readings": alert["kind"] == OVERDUE and str(case.uid) == own,
            "whose": "" if str(case.uid) == own else words.who_text(words.person(case.patient)),
            "raised_at": alert["raised_at"],
            "acknowledged": alert["state"] == "acknowledged",
        }
        for case in sorted(cases, key=lambda case: str(case.uid) != own)
        for alert in alarms.alarms(queries.card(case))
        if alert["priority"] == "high"
    ]
    return {**found[0], "more": len(found) - 1} if found else None


def news(actor: Actor, now: datetime, *, beside: UUID | None = None, own: str = "") -> list[dict[str, Any]]:
    """What others did with this unit's orders: of open cases before ended ones, then by rank, newest first.

    A patient moved here comes first (rank 0), then what the crew is to do or not to do, then what it is to know.

    ``beside`` is the order that the page reads back: nothing may stand there to copy from, of it or of another.
    ``own`` is the page's case: its news name nobody while it is open, for the patient stands above them.
    """
    lately = list(cases_of(actor).filter(Q(state=Case.State.OPEN) | Q(ended_at__gte=now - TOLD_FOR)))
    since = now - TOLD_FOR
    rows = Order.objects.filter(case__in=lately).exclude(state__in=("read_back", "given", "not_given"))
    told_of = [_item(row, order_dict(row)) for row in rows.select_related("case") if _is_news(row, actor, now)]
    told_of += [_moved_here(case) for case in open_cases(actor) if _came_lately(case, now)]
    told_of += crew_told.news(lately, actor, since)
    told_of += [{**item, "rank": TO_KNOW} for item in crew_control.news(lately, actor, since)]
    told_of += [{**item, "rank": TO_KNOW} for item in crew_control.goals(lately, since)]
    told_of += [item for case in lately for item in _denied(case, since)]
    if beside:
        told_of = [_blinded(item) for item in told_of if item["ends"] or item["order"] != beside]
    newest = sorted((_on_page(item, own) for item in told_of), key=lambda item: item["at"], reverse=True)
    return sorted(newest, key=lambda item: (item["over"], item.get("rank", TO_DO)))


def _on_page(item: dict[str, Any], own: str) -> dict[str, Any]:
    """News as a page of the case `own` tells it, and which of its two buttons stands beside it; the other is folded."""
    is_own = item["href"].startswith(f"/crew/{own}/") and not item["over"]
    is_put_away = item.get("says") or item["ends"] or item.get("rank") == TO_KNOW
    return {**item, "who": "" if is_own else item["who"], "stays": bool(item["noted"] and is_put_away)}


def _came_lately(case: Case, now: datetime) -> bool:
    """Whether the patient was moved to this unit and nobody of it has opened the case, or that is not long ago."""
    lately = bool(case.former_units) and when(case.former_units[-1]["until"]) >= now - TOLD_FOR
    return lately or _not_seen(case)


def _not_seen(case: Case) -> bool:
    return bool(case.former_units) and queries.card(case).get("moved_not_seen_since") is not None


def _moved_here(case: Case) -> dict[str, Any]:
    """A patient whom another unit had before."""
    before = case.former_units[-1]
    return {
        "key": f"{case.uid}-moved-{len(case.former_units)}",
        "rank": FIRST,
        "ends": False,
        "over": False,
        "lead": _("MOVED TO YOU"),
        "order": None,
        "what": _("from {call_sign}", call_sign=before["call_sign"]),
        "who": words.who_text(words.person(case.patient)),
        "why": _("You have this patient now"),
        "blind": {},
        "noted": "" if _not_seen(case) else _("Noted, stay here"),
        "go": _("Open the case"),
        "href": reverse("crew-case", args=[case.uid]),
        "at": before["until"],
    }


def _denied(case: Case, since: datetime) -> list[dict[str, Any]]:
    """Doses of which the physician who was named says that there was no such order by voice."""
    return [
        {
            "key": f"{dose['id']}-denied",
            "rank": TO_KNOW,
            "ends": False,
            "over": case.state != Case.State.OPEN,
            "lead": _("ORDER DENIED:"),
            "order": None,
            "what": dose["shown"],
            "who": words.who_text(words.person(case.patient)),
            "why": _("{by} says that this was not their order: {reason}", by=said["by"], reason=said["reason"]),
            "blind": {"what": _("a dose ordered by voice"), "why": ""},
            "noted": _("Noted, stay here"),
            "go": _("See the case"),
            "href": reverse("crew-case", args=[case.uid]),
            "at": said["at"],
        }
        for dose in queries.card(case)["doses"]
        if (said := dose_course.denied(dose)) and not dose["in_error"] and when(said["at"]) >= since
    ]


def _blinded(item: dict[str, Any]) -> dict[str, Any]:
    """News without what was ordered or told; of what ended the drug is named, for it must not be given."""
    return {**item, **item["blind"]}


def _is_news(row: Order, actor: Actor, now: datetime) -> bool:
    order = order_dict(row)
    step = last_step(order)
    if row.state in ENDED:
        own = step.get("by") == actor.name and row.state != "voided"
        theirs = crew_told.never_had(row.case, actor, row.steps)
        return not own and not theirs and when(step["at"]) >= now - TOLD_FOR
    if row.state == "requested":
        return bool(open_question(order) or known_since(order))
    return step["step"] in DECIDED


def _decided(order: Mapping[str, Any], step: str) -> tuple[str, str]:
    """What was decided with what is to be done, and of what: ``STOP`` and ``norepinephrine infusion``."""
    action = order.get("action") or "give"
    act, other = ACTS.get(action), changed(order)
    what = f"{order['title']}: {other}" if other else apart(order)[0]
    if not act:
        return DECIDED[step], what
    lead = act if step == "placed" else f"{DECIDED[step]}: {act}"
    return lead, " ".join(filter(None, [what if other else headline(order).removeprefix(ACTIONS[action]), how(order)]))


def _quietly(order: Mapping[str, Any]) -> list[str]:
    """What stands beside what leads: the whole order where that is what was changed in it, else its steps."""
    whole = order["shown"] if changed(order) else apart(order)[1]
    return [capfirst(whole)] if whole else []


def _which(order: Mapping[str, Any]) -> str:
    """Which order has ended: a newer one may say the same, so it is named by the time of its decision."""
    if not order.get("approved_at"):
        return str(order["shown"])
    return _("{what}, ordered {time}", what=order["shown"], time=zone.clock_seconds(when(order["approved_at"])))


def _item(row: Order, order: Mapping[str, Any]) -> dict[str, Any]:
    step, where = last_step(order), [row.case.uid, row.uid]
    ends, over, quiet = row.state in ENDED, row.case.state != Case.State.OPEN, list[str]()
    if ends or (row.state == "requested" and not open_question(order)):
        lead, what, go, page = held(order), _which(order), _("See the order"), "crew-order"
    elif row.state == "requested":
        lead, what, go, page = _("QUERY"), order["question"], _("Answer it"), "crew-answer"
    elif row.data.get("waiting_for"):
        lead, what, go, page = held(order), order["shown"], _("See the order"), "crew-order"
    else:
        lead, what, go, page = *_decided(order, step["step"]), _("Read it back"), "crew-readback"
        quiet = _quietly(order)
    return {
        "key": f"{row.uid}-{len(row.steps)}",
        "rank": TO_KNOW if row.state == "declined" or row.data.get("waiting_for") else TO_DO,
        "ends": ends,
        "over": over,
        "lead": lead,
        "order": row.uid,
        "what": what,
        "who": words.who_text(words.person(row.case.patient)) + (_(", a case that has ended") if over else ""),
        "words": [] if ends else says(order),
        "why": " · ".join([*quiet, capfirst(told(order))]),
        "blind": {"what": order["title"] if ends else _("another order"), "why": "", "words": []},
        "noted": _("Noted, stay here"),
        "go": go,
        "href": reverse(page, args=where),
        "at": step["at"],
    }
