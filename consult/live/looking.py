"""Which physicians have a board or a case open now: each process tells the others through Redis, where it runs out.

Names, ids of memberships and of cases, nothing of a patient. Without Redis it is not known; nothing relies on it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID, uuid4

import msgspec
from django.conf import settings
from msgspec import Struct
from redis.asyncio import Redis
from redis.asyncio.retry import Retry
from redis.backoff import NoBackoff
from redis.exceptions import RedisError

from consult import clock
from consult.hints import channel
from consult.live.outage import Outage
from consult.live.seat import Seat

LASTS_S = 15.0  # three times as long as from one telling to the next
WAIT_S = 1.0


class Looks(Struct, frozen=True, order=True):
    """One person who looks: the agency, the membership, the name, and the case that is open or "" for the board."""

    agency: str
    membership: str
    name: str
    case: str = ""


class Process(Struct, frozen=True):
    """All who look through one process, and when it said so."""

    at: float
    looks: list[Looks]


class Looking:
    """What this process tells the others and hears from them."""

    def __init__(self) -> None:
        self._process = uuid4().hex
        self._outage = Outage("telling who looks")

    async def exchange(self, own: list[Looks]) -> list[Looks] | None:
        """Tell who looks here, and hear who looks anywhere; None where that is not known."""
        if not settings.REDIS_URL:
            return None
        place, said = f"{channel()}:looking", msgspec.json.encode(Process(clock.now().timestamp(), own)).decode()
        client = Redis.from_url(
            settings.REDIS_URL, socket_timeout=WAIT_S, socket_connect_timeout=WAIT_S, retry=Retry(NoBackoff(), 0)
        )
        try:
            async with client, client.pipeline(transaction=False) as asked:
                asked.hset(place, self._process, said)
                asked.expire(place, int(LASTS_S) * 2)
                asked.hgetall(place)
                *_, found = await asked.execute()
                told = {name: msgspec.json.decode(text, type=Process) for name, text in found.items()}
                gone = [name for name, each in told.items() if each.at < clock.now().timestamp() - LASTS_S]
                for name in gone:
                    asked.hdel(place, name)
                await asked.execute()
        except (RedisError, OSError, ValueError, msgspec.MsgspecError) as error:
            self._outage.failed(error)
            return None
        self._outage.works()
        return [each for name, process in told.items() if name not in gone for each in process.looks]


def looks_of(seats: Iterable[Seat]) -> list[Looks]:
    """The physicians in these seats, each once for the board and once for each case that they have open."""
    found = set()
    for seat in seats:
        actor = seat.pass_.actor
        if actor.is_physician and actor.user_id:
            case = "" if seat.room[0] == "board" else next(iter(seat.outbox.heads), "")
            found.add(Looks(str(actor.agency), str(actor.membership), actor.name, case))
    return sorted(found)


def messages(everyone: Iterable[Looks] | None, agencies: Iterable[UUID]) -> dict[UUID, str]:
    """By agency what its pages are told: who looks, by name, and which cases each has open; null where not known."""
    if everyone is None:
        return dict.fromkeys(agencies, json.dumps({"type": "looking", "people": None}))
    people: dict[str, dict[str, tuple[str, set[str]]]] = defaultdict(dict)
    for each in everyone:
        _, cases = people[each.agency].setdefault(each.membership, (each.name, set()))
        cases |= {each.case} - {""}
    return {agency: _message(people[str(agency)]) for agency in agencies}


def _message(people: dict[str, tuple[str, set[str]]]) -> str:
    told = [{"id": who, "name": name, "cases": sorted(cases)} for who, (name, cases) in people.items()]
    return json.dumps({"type": "looking", "people": sorted(told, key=lambda each: str(each["name"]))})
