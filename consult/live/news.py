"""What sockets are told: the picture on connect, a card, that a case has gone, the tick."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from uuid import UUID

import msgspec

from consult.clock import stamp
from consult.render.alarms import raised
from consult.render.needs import why
from consult.render.words import whom

ELSEWHERE = '{"type":"elsewhere"}'


@dataclass(frozen=True)
class News:
    """A case as it stood at `seq`: its card as JSON text, which is encoded into a message once for all sockets.

    `case` is the row's key inside, `uid` the id that clients know; `html` is the drawn card where a page asked for it.
    """

    case: int
    uid: UUID
    agency: UUID
    unit: UUID
    seq: int
    open: bool
    card: str
    html: str | None = None

    @cached_property
    def key(self) -> str:
        """The id that clients know as text: one for all sockets that hold the case."""
        return sys.intern(str(self.uid))

    @cached_property
    def needs(self) -> object:
        """What pages of other cases tell of this one: alerts that nobody has taken, why it needs anybody, control."""
        if not self.open:
            return False
        card = msgspec.json.decode(self.card)
        alerts = [(alert["id"], alert["priority"], alert["text"], alert.get("escalated_to")) for alert in raised(card)]
        asked = any(order["state"] == "requested" for order in card.get("orders") or ())
        return alerts, asked, bool(card.get("questions")), why(card), card.get("physician"), card.get("offered")

    @cached_property
    def text(self) -> str:
        """The message for programs: ``card``, or ``gone`` when the case is no longer open."""
        if not self.open:
            return f'{{"type":"gone","case":"{self.uid}"}}'
        return f'{{"type":"card","case":"{self.uid}","seq":{self.seq},"card":{self.card}}}'

    @cached_property
    def page_text(self) -> str:
        """The same with ``html``, for our own pages; of a case that is gone whose it was, how and when it ended."""
        if not self.open:
            card = msgspec.json.decode(self.card)
            told = {"whom": whom(card), "physician": (card["physician"] or {}).get("id")}
            ended = told | {name: card[name] for name in ("state", "ended_at")}
            return f'{self.text[:-1]},"ended":{json.dumps(ended)}}}'
        return f'{self.text[:-1]},"html":{json.dumps(self.html)}}}'


def hello(picture: Sequence[News], now: datetime, *, html: bool) -> str:
    """The first message: all cards that the socket may see; for pages also ``html`` by case."""
    cards = ",".join(news.card for news in picture)
    drawn = f',"html":{json.dumps({str(news.uid): news.html for news in picture})}' if html else ""
    return f'{{"type":"hello","server_time":"{stamp(now)}","cases":[{cards}]{drawn}}}'


@dataclass(frozen=True, slots=True)
class Tick:
    """A sign of life at a moment; `swept_at` is when time last did its work on all cases, None where it never has."""

    at: datetime
    swept_at: datetime | None

    def text(self, heads: Mapping[str, int]) -> str:
        """The message, with the seq of each card sent to this socket: a client that holds another has missed one.

        By `sweep_age_s` the pages see that alert checks have stopped.
        """
        age = round((self.at - self.swept_at).total_seconds(), 1) if self.swept_at else None
        told = {"type": "tick", "server_time": stamp(self.at), "heads": heads, "sweep_age_s": age}
        return json.dumps(told, separators=(",", ":"))
