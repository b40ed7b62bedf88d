"""Reads: cards, heads, journal and history. Nothing here writes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any, NamedTuple
from uuid import UUID

import msgspec
from django.db.models import Min, Q, QuerySet

from consult import statements
from consult.card_diff import replayed, replayed_from
from consult.clock import stamp
from consult.models import (
    Alert,
    Case,
    Destination,
    JournalEntry,
    Note,
    Notification,
    Order,
    RuleSetRecord,
    Unit,
)
from consult.resources.orders import order_dict
from consult.state.case import CaseState, facts_of
from dosing.ground.facts import Facts
from dosing.load import reader
from dosing.rules.rule_set import RuleSet

PAGE = 200
MAY_WAIT = timedelta(seconds=60)  # what should have been told outside; common practice, no source


class Head(NamedTuple):
    """Where a case stands: `case` is its primary key, `uid` the id that clients use."""

    case: int
    uid: UUID
    agency: UUID
    unit: UUID
    seq: int
    state: str


class CardRow(NamedTuple):
    """A case's head with its card as JSON text, and the time zone of its agency."""

    case: int
    uid: UUID
    agency: UUID
    unit: UUID
    seq: int
    state: str
    card: str
    zone: str


HEAD = ("pk", "uid", "agency_id", "unit_id", "seq", "state")
CARD = (*HEAD, "card", "last_contact_at", "agency__timezone")
_of_cases = statements.Compiled(lambda *cases: Case.objects.filter(pk__in=cases).values_list(*CARD))


@lru_cache(maxsize=32)
def rules_by_record(record_id: UUID) -> RuleSet:
    """The rule set that a record holds; records never change, so each is read once."""
    content = RuleSetRecord.objects.values_list("content", flat=True).get(pk=record_id)
    return reader.loads(content)


def label_of(record: RuleSetRecord) -> dict[str, str]:
    """Name, version and digest of a rule set that was kept."""
    return {"name": record.name, "version": record.version, "digest": record.digest}


def agency_journal(agency: UUID, kind: str = "", limit: int = PAGE) -> list[dict[str, Any]]:
    """The newest lines of the agency's own journal, of one kind or of all, newest first: what happened in no case."""
    rows = JournalEntry.objects.filter(agency=agency, case=None).order_by("-seq")
    return [entry_dict(row) for row in (rows.filter(kind=kind) if kind else rows)[:limit]]


def labels_used(agency: UUID) -> list[dict[str, str]]:
    """Name, version and digest of every rule set that the agency's journal names, the newest first."""
    lines = JournalEntry.objects.filter(agency=agency, case=None, kind="rule_set.adopted").order_by("-seq")
    kept = (msgspec.json.decode(data) for data in lines.values_list("data", flat=True))
    return [label for line in kept for label in (line["rule_set"], line["replaced"]) if label]


def kept_set(agency: UUID, digest: str) -> RuleSetRecord | None:
    """The rule set of this digest that is, or once was, in force in the agency; None where none was."""
    records = RuleSetRecord.objects.filter(digest=digest).select_related("approved_by")
    own = records.filter(Q(approved_by__agency=agency) | Q(agencies=agency)).order_by("approved_at").last()
    if own is None and any(label["digest"] == digest for label in labels_used(agency)):
        own = records.filter(approved_at=None).first()  # one that ships, from before the first adoption
    return own


def rules_of(case: Case) -> RuleSet:
    """The rule set by which a case is judged."""
    return rules_by_record(case.rule_set_id)


def open_cases(agency: UUID | None = None) -> QuerySet[Case]:
    """The open cases, of one agency or of all."""
    cases = Case.objects.filter(state=Case.State.OPEN)
    return cases.filter(agency_id=agency) if agency else cases


def board_cards(agency: UUID) -> list[CardRow]:
    """The cards of an agency's open cases, in one query."""
    return _card_rows(open_cases(agency).order_by("opened_at").values_list(*CARD))


def cards_of(cases: Collection[int]) -> list[CardRow]:
    """The cards of these cases (primary keys, each once), whatever their state, in one query."""
    return _card_rows(_of_cases(*cases)) if cases else []


def _card_rows(rows: Iterable[tuple[Any, ...]]) -> list[CardRow]:
    return [CardRow._make([*head, with_contact(card, at), zone]) for *head, card, at, zone in rows]


def with_contact(card: str, last_contact_at: datetime) -> str:
    """The card's text with the unit's last contact, which alone makes no entry and so no new card."""
    before, name, after = card.rpartition('"last_contact_at":"')
    return f"{before}{name}{stamp(last_contact_at)}" + after[after.index('"') :] if name else card


def open_heads(agency: UUID | None = None) -> list[Head]:
    """Where the open cases stand."""
    return [Head(*row) for row in open_cases(agency).values_list(*HEAD)]


def facts(case: Case) -> Facts:
    """The case as the rules look at it."""
    return facts_of(msgspec.json.decode(case.folded, type=CaseState), case.last_contact_at)


def card_as_kept(case: Case) -> msgspec.Raw:
    """The JSON of a case's card, with the unit's last contact, which alone makes no entry."""
    return msgspec.Raw(with_contact(case.card, case.last_contact_at).encode())


def card(case: Case) -> dict[str, Any]:
    """The same card as plain values, as pages read it."""
    kept: dict[str, Any] = msgspec.json.decode(case.card)
    return {**kept, "last_contact_at": stamp(case.last_contact_at)}


def journal(case: Case, after: int = 0, limit: int = PAGE) -> list[dict[str, Any]]:
    """The journal's entries after a seq, in order, as plain values."""
    return [entry_dict(row) for row in lines(case, after, limit)]


def notes_that_begin(case: Case, words: str) -> list[str]:
    """The notes of a case that begin with these words and were not entered in error, oldest first."""
    found = Note.objects.filter(case=case, text__startswith=words, in_error=False).order_by("at")
    return list(found.values_list("text", flat=True))


def notes_of_crews(cases: Collection[UUID]) -> dict[str, list[dict[str, Any]]]:
    """By case the notes that crews made and did not take back, oldest first, each with its time."""
    found = Note.objects.filter(case__uid__in=cases, in_error=False, by__role="crew").order_by("at", "id")
    by_case = defaultdict[str, list[dict[str, Any]]](list)
    for case, at, received_at, text in found.values_list("case__uid", "at", "received_at", "text"):
        by_case[str(case)].append({"at": stamp(at), "received_at": received_at, "text": text})
    return by_case


def lines(case: Case, after: int, limit: int) -> QuerySet[JournalEntry]:
    """The journal's lines after a seq, in order."""
    return JournalEntry.objects.filter(case=case, seq__gt=after).order_by("seq")[:limit]


def cases_named(agency: UUID, uids: Iterable[str]) -> list[dict[str, Any]]:
    """The agency's cases with these ids, as the little that tells whose each is."""
    found = Case.objects.filter(agency_id=agency, uid__in=list(uids)).order_by("opened_at")
    return [dict(case) for case in found.values("pk", "uid", "unit__call_sign", "patient")]


def lines_between(
    cases: Iterable[dict[str, Any]],
    spans: Mapping[str, tuple[int, int | None]],
    kinds: Iterable[str],
    *,
    but_by: UUID,
) -> list[dict[str, Any]]:
    """Lines of these kinds, oldest first, of each case those after the one seq and up to the other (None: all).

    But for those that `but_by` made; in one query.
    """
    wanted = Q(pk__in=[])
    for case in cases:
        after, until = spans[str(case["uid"])]
        wanted |= Q(case=case["pk"], seq__gt=after) & (Q(seq__lte=until) if until else Q())
    rows = JournalEntry.objects.filter(wanted, kind__in=list(kinds)).order_by("received_at", "seq")
    return [{**entry_dict(row), "case": row.case_id} for row in rows if row.by_id != but_by]


def entry_dict(row: JournalEntry) -> dict[str, Any]:
    """One journal entry as plain values."""
    return {
        "seq": row.seq,
        "kind": row.kind,
        "at": row.at,
        "received_at": row.received_at,
        "late": row.late,
        "by": {"name": row.by_name, "role": row.by_role} if row.by_name else None,
        "entry": row.entry,
        "data": msgspec.json.decode(row.data),
        "digest": row.digest,
    }


def card_at(case: Case, seq: int) -> dict[str, Any] | None:
    """The card as it stood after a journal entry, merged from what its entries changed; None if there is none."""
    if not 1 <= seq <= case.seq:
        return None
    rows = JournalEntry.objects.filter(case=case, seq__range=(replayed_from(seq), seq)).order_by("seq")
    return replayed(map(msgspec.json.decode, rows.values_list("changes", flat=True)))


def left_by(case: Case, unit: UUID | None) -> JournalEntry | None:
    """The line by which the patient last went from this unit to another; None where it never did."""
    moves = JournalEntry.objects.filter(case=case, kind="case.moved").order_by("-seq")
    return next((row for row in moves if msgspec.json.decode(row.data)["left"]["id"] == str(unit)), None)


def entered_after(line: JournalEntry, unit: UUID | None) -> QuerySet[JournalEntry]:
    """What the crew of a unit entered in the same case after a line of its journal, in order."""
    entries = JournalEntry.objects.filter(case=line.case_id, seq__gt=line.seq, by__unit=unit, by_role="crew")
    return entries.exclude(entry=None).order_by("seq")


def alerts(cases: QuerySet[Case], state: str | None = None, case: UUID | None = None) -> QuerySet[Alert]:
    """The alerts of these cases; `state` is raised, acknowledged or cleared."""
    found = Alert.objects.filter(case__in=cases).select_related("case", "acknowledged_by__user")
    found = found.defer("case__card", "case__folded")  # long, and the same for each alert of a case
    if case:
        found = found.filter(case__uid=case)
    states = {
        "raised": Q(cleared_at=None, acknowledged_at=None),
        "acknowledged": Q(cleared_at=None, acknowledged_at__isnull=False),
        "cleared": Q(cleared_at__isnull=False),
    }
    return found.filter(states[state]) if state else found


def to_countersign(membership: UUID) -> QuerySet[Alert]:
    """What a physician ordered by voice in cases that have ended and has not countersigned: no board shows them."""
    waiting = Alert.objects.filter(kind="countersign_waiting", cause=str(membership), cleared_at=None)
    return waiting.exclude(case__state=Case.State.OPEN).select_related("case__unit").order_by("raised_at")


def other_units(case: Case) -> list[dict[str, str]]:
    """The agency's units to which the patient of a case could be moved, by call sign."""
    others = Unit.objects.filter(agency=case.agency_id).exclude(pk=case.unit_id).order_by("call_sign")
    return [{"id": str(pk), "call_sign": call_sign} for pk, call_sign in others.values_list("pk", "call_sign")]


def orders_read_back(case: Case, treatment: str) -> list[dict[str, Any]]:
    """The orders of a treatment that were read back and hold or were carried out, newest first."""
    states = (Order.State.READ_BACK, Order.State.GIVEN)
    rows = Order.objects.filter(case=case, treatment=treatment, state__in=states).select_related("case")
    return [order_dict(row) for row in rows.order_by("-at", "-id")]


def ended_orders(case: Case) -> list[dict[str, Any]]:
    """The orders of a case that have come to an end."""
    rows = Order.objects.filter(case=case, state__in=Order.FINISHED).select_related("case")
    return [order_dict(row) for row in rows]


def destinations(agency: UUID | None = None) -> QuerySet[Destination]:
    """Where an agency, or any, is told that an alert escalates."""
    found = Destination.objects.filter(ended_at=None).order_by("address")
    return found.filter(agency=agency) if agency else found


def untold_since(agency: UUID | None, now: datetime) -> datetime | None:
    """Since when an agency, or any, is not told at one of its addresses; also where nobody sends what waits."""
    failing = destinations(agency).aggregate(since=Min("failing_since"))["since"]
    waiting = Notification.objects.filter(destination__in=destinations(agency), next_try_at__lt=now - MAY_WAIT)
    return min(filter(None, (failing, waiting.aggregate(since=Min("made_at"))["since"])), default=None)
