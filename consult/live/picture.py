"""What the hub reads: cards and heads from the database, drawn cards, and whose right to watch has ended.

Every method goes to a thread once, whatever the number of cases or sockets, and gives its connection back.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection
from datetime import datetime
from functools import partial
from typing import TypeVar
from uuid import UUID

import msgspec
from channels.db import database_sync_to_async

from consult import heartbeat, queries, zone
from consult.actions import looks
from consult.actions.looks import Held
from consult.live.auth import Pass
from consult.live.news import News
from consult.models import Case
from consult.queries import CardRow
from consult.render import card_html

Draw = Callable[[dict[str, object]], str]
Answer = TypeVar("Answer")


class Picture:
    """Reads for one process; each card is drawn once and kept while its case stays open."""

    def __init__(self, draw: Draw = card_html) -> None:
        self._draw = draw
        self._drawn: dict[int, tuple[tuple[UUID, int, str, str], str]] = {}
        self._drawing = threading.Lock()

    async def of_agency(self, agency: UUID, *, html: bool) -> list[News]:
        """All open cases of an agency."""
        return await in_thread(partial(self._news, partial(queries.board_cards, agency), lambda _: html))

    async def of_case(self, case: int, *, html: bool) -> list[News]:
        """The one case, or nothing when it is no longer open."""
        found = await in_thread(partial(self._news, partial(queries.cards_of, [case]), lambda _: html))
        return [news for news in found if news.open]

    async def of_cases(self, cases: Collection[int], *, drawn: Callable[[CardRow], bool]) -> list[News]:
        """These cases as they stand, open or not; those for which `drawn` says so with their HTML."""
        return await in_thread(partial(self._news, partial(queries.cards_of, cases), drawn))

    async def heads(self) -> dict[int, int]:
        """How far each open case is: its seq by its key."""
        return {head.case: head.seq for head in await in_thread(queries.open_heads)}

    async def swept_at(self) -> datetime | None:
        """When the sweep last ran to its end."""
        return await in_thread(partial(heartbeat.last, "sweep"))

    async def looked(self, held: list[Held], now: datetime) -> None:
        """Keep how far these people have seen each case."""
        await in_thread(partial(looks.note_heads, held, now))

    async def ended(self, passes: set[Pass], now: datetime) -> set[Pass]:
        """Those that no longer hold."""
        return await in_thread(lambda: {pass_ for pass_ in passes if not pass_.holds(now)})

    def _news(self, read: Callable[[], list[CardRow]], drawn: Callable[[CardRow], bool]) -> list[News]:
        # Asked after the read: a page that joins later still reads a picture at least as new as these rows.
        return [self._of_row(row, html=drawn(row)) for row in read()]

    def _of_row(self, row: CardRow, *, html: bool) -> News:
        is_open = row.state == Case.State.OPEN
        if not is_open:
            self._drawn.pop(row.case, None)
        drawn = self._html(row) if html and is_open else None
        return News(row.case, row.uid, row.agency, row.unit, row.seq, is_open, row.card, drawn)

    def _html(self, row: CardRow) -> str:
        with self._drawing:
            drawn_of, html = self._drawn.get(row.case, (None, ""))
            with zone.of(row.zone):
                drawing = (row.uid, row.seq, row.zone, zone.today())
                if drawn_of != drawing:
                    html = self._draw(msgspec.json.decode(row.card))
                    self._drawn[row.case] = drawing, html
            return html


async def in_thread(work: Callable[[], Answer]) -> Answer:
    """Do database work in a thread, not the one that all sync code shares: a picture must not hold up a card."""
    answer: Answer = await database_sync_to_async(work, thread_sensitive=False)()
    return answer
