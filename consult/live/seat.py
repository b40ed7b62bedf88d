"""One open socket's place in the hub: who watches what, and how it is told and ended."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from consult.live.auth import Pass
from consult.live.news import News
from consult.live.outbox import Outbox
from consult.queries import CardRow

NOT_SIGNED_IN, NO_PERMISSION, TRY_AGAIN, GOING_AWAY, TOO_BIG = 4401, 4403, 1013, 1001, 1009

Room = tuple[Literal["board"], UUID] | tuple[Literal["case"], int]


def rooms_of(news: News | CardRow) -> tuple[Room, Room]:
    """Where news of a case are told: on its agency's boards and on its own page."""
    return ("board", news.agency), ("case", news.case)


@dataclass(eq=False, slots=True)
class Seat:
    """A socket in a room; `end` closes it with a code. `unit` is set for crews, who see their own unit's case alone."""

    room: Room
    pass_: Pass
    outbox: Outbox
    end: Callable[[int], None]
    since: float = 0.0

    def counts(self, news: News) -> bool:
        """Whether this is a page of another case, whose strip counts the alerts of all cases of the agency."""
        actor = self.pass_.actor
        another = self.room[0] == "case" and self.room[1] != news.case
        return another and self.outbox.html and not actor.is_crew and actor.agency == news.agency

    def tell(self, news: News) -> None:
        """Hand news to the outbox, or end the socket of a crew whose case went to another unit."""
        actor = self.pass_.actor
        if actor.is_crew and actor.unit != news.unit:
            self.end(NO_PERMISSION)
        else:
            self.outbox.offer(news)
