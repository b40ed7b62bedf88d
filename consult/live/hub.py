"""The process hub: reads each changed case once and tells it to all of this process's sockets.

Note [Join before the picture]: a socket is seated first, then its picture is read, then it is told what is newer.
News that come in between wait in its outbox, so nothing falls between the two; what the picture holds is dropped there.

Note [Hints heal]: Redis only hints that a case has moved on. Each second the hub also asks the database how far all
open cases are, and reads those that it has not told, and those that are no longer open.
"""

from __future__ import annotations

import asyncio
import time
from collections import defaultdict
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass

from consult import clock
from consult.live.auth import Pass
from consult.live.feed import hints
from consult.live.looking import Looking, looks_of, messages
from consult.live.news import News, Tick
from consult.live.outage import Outage
from consult.live.picture import Picture
from consult.live.seat import GOING_AWAY, NOT_SIGNED_IN, TRY_AGAIN, Room, Seat, rooms_of
from consult.queries import CardRow


@dataclass(frozen=True, slots=True)
class Pace:
    """How often the hub does what, and how long a socket may stay, in seconds; how many one membership may have."""

    heal: float = 1.0
    tick: float = 5.0
    looking: float = 5.0
    looked: float = 5.0
    check: float = 2.0
    patience: float = 5.0
    longest: float = 8 * 60 * 60
    most: int = 20
    # A tick says that the board is live: it is withheld when the database has not answered for so long.
    trust: float = 5.0


class Hub:
    """All sockets of one process and the tasks that serve them; these run while there is a socket."""

    def __init__(self, pace: Pace | None = None, picture: Picture | None = None) -> None:
        self.pace = pace or Pace()
        self.picture = picture or Picture()
        self.looking = Looking()
        self._rooms: defaultdict[Room, set[Seat]] = defaultdict(set)
        self._tasks: list[asyncio.Task[None]] = []

    @property
    def seats(self) -> list[Seat]:
        """Every open socket's seat."""
        return [seat for room in self._rooms.values() for seat in room]

    def join(self, seat: Seat) -> None:
        """Seat a socket; the first one starts the hub. Note [Join before the picture]."""
        if not self._rooms:
            self._start()
        seat.since = time.monotonic()
        self._rooms[seat.room].add(seat)

    def is_full_for(self, pass_: Pass) -> bool:
        """Whether this membership has as many sockets open here as it may."""
        return sum(seat.pass_.actor.membership == pass_.actor.membership for seat in self.seats) >= self.pace.most

    def leave(self, seat: Seat) -> None:
        """Take a socket out, if it is still seated; the last one stops the hub."""
        seats = self._rooms.get(seat.room, set())
        seats.discard(seat)
        if not seats:
            self._rooms.pop(seat.room, None)
        if not self._rooms:
            self._stop()

    def holds(self, picture: Sequence[News]) -> None:
        """Note what a picture holds and the hub has not told: other sockets may lack it, and its end must come."""
        for news in picture:
            self._told.setdefault(news.case, 0)

    def _start(self) -> None:
        # The seq of each open case that every seated socket was offered, or holds in its picture.
        self._told: dict[int, int] = {}
        self._needs: dict[int, object] = {}
        self._wanted: set[int] = set()
        self._something = asyncio.Event()
        self._healed_at = time.monotonic()
        self._tasks = [
            asyncio.create_task(self._listen()),
            asyncio.create_task(self._read()),
            asyncio.create_task(_every(self.pace.heal, self._heal, Outage("asking the database for cases"))),
            asyncio.create_task(_every(self.pace.tick, self._tick, Outage("the tick"))),
            asyncio.create_task(_every(self.pace.looking, self._look, Outage("saying who looks"))),
            asyncio.create_task(_every(self.pace.looked, self._looked, Outage("keeping how far somebody has looked"))),
            asyncio.create_task(_every(self.pace.check, self._check, Outage("checking who may watch"))),
        ]

    def _stop(self) -> None:
        for task in self._tasks:
            task.cancel()
        self._tasks = []

    async def _listen(self) -> None:
        async for case, seq in hints():
            if seq > self._told.get(case, 0):
                self._want({case})

    def _want(self, cases: set[int]) -> None:
        if cases:
            self._wanted |= cases
            self._something.set()

    async def _read(self) -> None:
        """Read what is wanted, all that came in during the last read at once, and tell it."""
        outage = Outage("reading cards")
        while True:
            await self._something.wait()
            self._something.clear()
            wanted, self._wanted = self._wanted, set()
            try:
                found = await self.picture.of_cases(wanted, drawn=self._is_drawn)
            except Exception as error:  # whatever a driver raises: healing asks again
                outage.failed(error)
                continue
            outage.works()
            for news in found:
                self._tell(news)

    def _is_drawn(self, row: CardRow) -> bool:
        return any(seat.outbox.html for room in rooms_of(row) for seat in tuple(self._rooms.get(room, ())))

    def _tell(self, news: News) -> None:
        if news.open:
            self._told[news.case] = news.seq
        else:
            self._told.pop(news.case, None)
        for room in rooms_of(news):
            for seat in tuple(self._rooms.get(room, ())):
                seat.tell(news)
        self._hint_elsewhere(news)

    def _hint_elsewhere(self, news: News) -> None:
        """Tell the agency's pages of other cases, which count its alerts, when what this case needs has changed."""
        elsewhere = [seat for seat in self.seats if seat.counts(news)]
        before = self._needs.pop(news.case, None)
        if not elsewhere:
            return
        if news.open:
            self._needs[news.case] = news.needs
        if news.needs != before:
            for seat in elsewhere:
                seat.outbox.offer_elsewhere()

    async def _heal(self) -> None:
        """Note [Hints heal]."""
        known = set(self._told)
        heads = await self.picture.heads()
        self._healed_at = time.monotonic()
        behind = {case for case, seq in heads.items() if seq > self._told.get(case, 0)}
        self._want(behind | (known - heads.keys()) & self._told.keys())

    async def _tick(self) -> None:
        if time.monotonic() - self._healed_at > self.pace.trust:
            return
        tick = Tick(clock.now(), await self.picture.swept_at())
        for seat in self.seats:
            seat.outbox.offer_tick(tick)

    async def _look(self) -> None:
        """Tell our own pages which physicians look now, and which cases they have open."""
        everyone = await self.looking.exchange(looks_of(self.seats))
        pages = [seat for seat in self.seats if seat.outbox.html and not seat.pass_.actor.is_crew]
        told = messages(everyone, {seat.pass_.actor.agency for seat in pages})
        for seat in pages:
            seat.outbox.offer_looking(told[seat.pass_.actor.agency])

    async def _looked(self) -> None:
        """Keep how far each person who has a page open has seen each case: what comes later is told on their return."""
        held = [
            (seat.pass_.actor.membership, seat.room[0] == "board", dict(seat.outbox.heads))
            for seat in self.seats
            if seat.outbox.html and seat.pass_.actor.user_id and not seat.pass_.actor.is_crew
        ]
        if held:
            await self.picture.looked(held, clock.now())

    async def _check(self) -> None:
        """End the sockets that may watch no more, those open for longer than allowed, and those that take nothing."""
        now = time.monotonic()
        for seat in self.seats:
            if now - (seat.outbox.sending_since or now) > self.pace.patience:
                seat.end(TRY_AGAIN)
            if now - seat.since > self.pace.longest:
                seat.end(GOING_AWAY)
        ended = await self.picture.ended({seat.pass_ for seat in self.seats}, clock.now())
        for seat in self.seats:
            if seat.pass_ in ended:
                seat.end(NOT_SIGNED_IN)


async def _every(seconds: float, work: Callable[[], Awaitable[None]], outage: Outage) -> None:
    """Do the work again and again, also after it failed."""
    while True:
        await asyncio.sleep(seconds)
        try:
            await work()
        except Exception as error:  # no fault of one round may end the rounds
            outage.failed(error)
        else:
            outage.works()
