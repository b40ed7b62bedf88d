"""Holds the book of a shift against the database: what is lost, doubled or missed, and how late alerts came.

How late is the database's word: when the transaction was committed that raised the alert (`track_commit_timestamp`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import psycopg

from tests.faults.book import Book, Sent, Wait, until_answered

LATEST = timedelta(seconds=10)
HEALTHY = timedelta(seconds=2)
NEVER = datetime.max.replace(tzinfo=UTC)
Span = tuple[datetime, datetime]

WRITTEN = """SELECT j.entry::text, c.uid::text, j.answered, j.received_at, pg_xact_commit_timestamp(j.xmin)
    FROM consult_journalentry j LEFT JOIN consult_case c ON c.id = j.case_id WHERE j.entry IS NOT NULL"""
ALERTS = """SELECT c.uid::text, j.data::json->>'alert_kind', a.cause, a.uid::text, j.kind,
    pg_xact_commit_timestamp(j.xmin)
    FROM consult_journalentry j JOIN consult_case c ON c.id = j.case_id
    JOIN consult_alert a ON a.uid = (j.data::json->>'alert')::uuid
    WHERE j.kind IN ('alert.raised', 'alert.cleared') ORDER BY j.case_id, j.seq"""
GAPS = """SELECT count(*) FROM consult_case c, LATERAL (
    SELECT count(*) AS lines, min(seq) AS first, max(seq) AS last FROM consult_journalentry j WHERE j.case_id = c.id) t
    WHERE t.lines <> c.seq OR t.first <> 1 OR t.last <> c.seq"""
TWICE = """SELECT count(*) FROM (SELECT uid FROM consult_{} GROUP BY uid HAVING count(*) > 1) twice"""
DECIDED_TWICE = """SELECT count(*) FROM (SELECT 1 FROM consult_journalentry WHERE kind = 'order.decided'
    AND data::json->>'decision' <> 'ask' GROUP BY data::json->>'order' HAVING count(*) > 1) twice"""
MADE = ("vitals", "intervention", "order", "note", "procedure", "question", "instruction")


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the journal that somebody sent: its case, the number answered, receipt and commit."""

    case: str
    answered: int
    received_at: datetime
    committed_at: datetime


@dataclass(slots=True)
class Delays:
    """Seconds from the moment at which alerts were due to the commit that raised them."""

    seconds: list[float] = field(default_factory=list)

    def at(self, share: float) -> float:
        """The delay that this share of them does not exceed; 0 of none."""
        ordered = sorted(self.seconds)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0

    def __str__(self) -> str:
        figures = ", ".join(
            f"{name} {self.at(share):.2f}" for name, share in (("p50", 0.5), ("p99", 0.99), ("worst", 1))
        )
        return f"{len(self.seconds)} alerts, {figures} s"


@dataclass(slots=True)
class Result:
    """What came of it; `faults` says in words what must not be, `late` what took too long."""

    acknowledged: int = 0
    retried: int = 0
    refused: int = 0
    lost: int = 0
    doubled: int = 0
    due: int = 0
    missed: int = 0
    twice: int = 0
    at_once: int = 0
    healthy: Delays = field(default_factory=Delays)
    through_kills: Delays = field(default_factory=Delays)
    faults: list[str] = field(default_factory=list)
    late: list[str] = field(default_factory=list)


def reckon(url: str, book: Book, kills: Sequence[Span], chance: Random) -> Result:
    """All of it, from the database at this address; a sample of what was answered is sent once more."""
    found = Result(faults=[*book.faults])
    again = _sent_again(book, chance)
    with psycopg.connect(url) as database:
        written: dict[str, list[Line]] = {}
        for entry, *line in database.execute(WRITTEN).fetchall():
            written.setdefault(entry, []).append(Line(*line))
        raised = database.execute(ALERTS).fetchall()
        gaps, decided = (_count(database, each) for each in (GAPS, DECIDED_TWICE))
        rows = sum(_count(database, TWICE.format(table)) for table in MADE)
    writes(found, book, written)
    found.doubled += rows + decided
    found.faults += [f"{rows} rows stand twice"] if rows else []
    found.faults += [f"{gaps} journals have gaps"] if gaps else []
    found.faults += [f"{decided} requests were decided twice"] if decided else []
    found.faults += [f"{each.path} {each.id}: {each.otherwise}" for each in again]
    alerts(found, book, raised, {entry: lines[0] for entry, lines in written.items()}, kills)
    if found.healthy.at(0.99) > HEALTHY.total_seconds():
        found.late.append(f"healthy, but late: {found.healthy}")
    return found


def _count(database: psycopg.Connection[Any], query: str) -> int:
    row = database.execute(query).fetchone()  # type: ignore[arg-type]
    return int(row[0]) if row else 0


def _sent_again(book: Book, chance: Random) -> list[Sent]:
    """Send some of what was answered again, as it was: those that are not answered as before."""
    alone = [each for each in book.sent if each.accepted and each.path != "batch/" and not _gone_on(book, each)]
    for each in chance.sample(alone, min(len(alone), 200)):
        answer = until_answered(each.by, each.method, each.path, dict(each.content), [])
        each.answered(answer.status, answer.body.get("seq"))
    return [each for each in book.sent if each.otherwise]


def _gone_on(book: Book, sent: Sent) -> bool:
    return sent.method == "PATCH" and sent.path.split("/")[1] in book.moved


def writes(found: Result, book: Book, written: dict[str, list[Line]]) -> None:
    """Each answered write is there once with the number that was answered; nothing is there that nobody sent."""
    known = {each.id for each in book.sent}
    for each in book.sent:
        lines = written.get(each.id, [])
        found.retried += each.tries > 1
        if each.status and not each.accepted:
            found.refused += 1
            too_late = each.status == 409 and each.path.endswith("/decision/")  # of two physicians one is
            found.faults += [] if too_late else [f"refused with {each.status}: {each.path} {each.content}"]
        if each.accepted:
            found.acknowledged += 1
            right = bool(lines) and each.seq in (None, lines[0].answered)
            found.lost += not right
            found.faults += [] if right else [f"lost: {each.path} {each.id}, answered {each.seq}, there is {lines}"]
        found.doubled += max(0, len(lines) - 1)
        found.faults += [f"doubled: {each.path} {each.id}"] if len(lines) > 1 else []
    strangers = [entry for entry in written if entry not in known]
    found.doubled += len(strangers)
    found.faults += [f"nobody sent {entry}" for entry in strangers]


def alerts(found: Result, book: Book, raised: list[Any], written: dict[str, Line], kills: Sequence[Span]) -> None:
    """Each wait that was not answered in time has its alert; none is raised while the same one is open."""
    open_now: set[tuple[str, str, str]] = set()
    when: dict[tuple[str, str], list[tuple[str, datetime]]] = {}
    for case, kind, cause, alert, what, at in raised:
        key = (case, kind, cause)
        if what == "alert.cleared":
            open_now.discard(key)
            continue
        if key in open_now:
            found.twice += 1
            found.faults.append(f"raised twice: {key}, {alert}")
        open_now.add(key)
        when.setdefault((case, kind), []).append((cause, at))
    for wait in book.waits:
        if wait.entry in written:
            _wait(found, wait, when.get((wait.case, wait.kind), []), written, kills)


def _wait(
    found: Result, wait: Wait, raised: list[tuple[str, datetime]], written: dict[str, Line], kills: Sequence[Span]
) -> None:
    entry = written[wait.entry]
    since = wait.at or entry.received_at
    due = max(since + timedelta(seconds=wait.seconds), entry.committed_at)
    ended = min((written[each].received_at for each in wait.ended if each in written), default=NEVER)
    if ended <= due and wait.seconds:
        return
    found.due += 1
    told_at = [at for cause, at in raised if wait.cause in ("", cause) and at >= min(since, entry.received_at)]
    if not told_at and (ended - due >= LATEST or not wait.seconds):
        found.missed += 1
        found.faults.append(f"missed: {wait}, due {due:%H:%M:%S.%f}, answered {ended}")
        return
    at = min(told_at, default=ended)  # answered before it was raised: so late at least
    late = max(at - due, timedelta())
    if wait.seconds:
        _delays(found, due, at, kills).seconds.append(late.total_seconds())
    else:
        found.at_once += 1
    if late > LATEST:
        found.late.append(f"late by {late.total_seconds():.1f} s: {wait}, due {due:%H:%M:%S.%f}")


def _delays(found: Result, due: datetime, at: datetime, kills: Iterable[Span]) -> Delays:
    """Whether something was dead, or not yet back, between the moment at which the alert was due and its raising."""
    return found.through_kills if any(began <= at and due <= back for began, back in kills) else found.healthy


def told(found: Result) -> Iterator[str]:
    """The figures, a line each."""
    yield f"writes acknowledged   {found.acknowledged} (sent again: {found.retried}, refused: {found.refused})"
    yield f"lost                  {found.lost}"
    yield f"doubled               {found.doubled}"
    yield f"alerts due            {found.due} ({found.at_once} of them told with their entry)"
    yield f"missed                {found.missed}"
    yield f"raised twice          {found.twice}"
    yield f"delays, healthy       {found.healthy}"
    yield f"delays, through kills {found.through_kills}"
