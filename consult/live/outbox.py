"""What one socket has still to be told: at most one thing a case, the newest, sent one after the other."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime

from consult.live import news as messages
from consult.live.news import News, Tick

Send = Callable[[str], Awaitable[None]]


class Outbox:
    """Keeps the newest news of each case until the socket takes it; a slow socket so skips cards and delays no other.

    `heads` is what the client holds: the seq of each open case by its id; `sending_since` is when the message began
    that it has not taken yet, by the monotonic clock. The hub ends a socket that takes nothing for long: a timer for
    each message would cost as much as sending it.
    """

    def __init__(self, send: Send, *, html: bool = False) -> None:
        self.html = html
        self.heads: dict[str, int] = {}
        self.sending_since: float | None = None
        self._send = send
        self._hello = ""
        self._pending: dict[int, News] = {}
        self._ended: dict[str, int] = {}
        self._tick: Tick | None = None
        self._elsewhere = False
        self._looking = self._told_looking = ""
        self._something = asyncio.Event()

    def offer(self, news: News) -> None:
        """Take news to be sent; they replace what waits of the same case."""
        self._pending[news.case] = news
        self._something.set()

    def offer_tick(self, tick: Tick) -> None:
        """Take a tick to be sent; it replaces one that still waits."""
        self._tick = tick
        self._something.set()

    def offer_elsewhere(self) -> None:
        """Take the hint that another case of the agency needs something else now."""
        self._elsewhere = True
        self._something.set()

    def offer_looking(self, message: str) -> None:
        """Take who looks now, as a message; the same again is no news."""
        self._looking = "" if message == self._told_looking else message
        if self._looking:
            self._something.set()

    def open_with(self, picture: Sequence[News], now: datetime) -> None:
        """Take the picture that is sent first; what waits already is told after it, where it is newer."""
        for news in picture:
            self._note(news)
        self._hello = messages.hello(picture, now, html=self.html)

    async def run(self) -> None:
        """Send the picture, then news for ever."""
        await self._deliver(self._hello)
        self._hello = ""  # else every open socket would keep all cards in memory
        while True:
            await self._something.wait()
            self._something.clear()
            await self._empty()

    async def _empty(self) -> None:
        while self._tick or self._elsewhere or self._looking or self._pending:
            if self._tick:
                tick, self._tick = self._tick, None
                await self._deliver(tick.text(self.heads))
            elif self._elsewhere:
                self._elsewhere = False
                await self._deliver(messages.ELSEWHERE)
            elif self._looking:
                self._told_looking, self._looking = self._looking, ""
                await self._deliver(self._told_looking)
            elif self._note(news := self._pending.pop(next(iter(self._pending)))):
                await self._deliver(news.page_text if self.html else news.text)

    def _note(self, news: News) -> bool:
        """Whether this is news to the client; if so it holds it from now on."""
        uid = news.key
        if news.seq <= max(self.heads.get(uid, 0), self._ended.get(uid, 0)):
            return False
        if news.open:
            self._ended.pop(uid, None)
            self.heads[uid] = news.seq
            return True
        self._ended[uid] = news.seq
        return self.heads.pop(uid, None) is not None

    async def _deliver(self, text: str) -> None:
        self.sending_since = time.monotonic()
        await self._send(text)
        self.sending_since = None
