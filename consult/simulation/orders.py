"""How a crew meets orders: it answers what is asked, reads back what is approved and gives what was read back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

TENFOLD = 10


class Move(StrEnum):
    """What a crew does next about one order."""

    ANSWER = "answer"
    READ_BACK = "read back"
    READ_BACK_WRONGLY = "read back wrongly"
    GIVE = "give"


@dataclass(slots=True)
class Known:
    """What the crew remembers of one order: since when it stands as it does, and what it has done about it."""

    stands: tuple[str, str]
    since: datetime
    read_back_at: datetime | None = None
    readbacks: int = 0
    given: int = 0
    given_at: datetime | None = None
    answered: str = ""


class OrderDesk:
    """Watches the orders on a card and says when the crew makes a move, after the time that people take."""

    def __init__(self, reaction: timedelta, *, first_readback_wrong: bool = False) -> None:
        self._reaction = reaction
        self._wrong_once = first_readback_wrong
        self._known: dict[str, Known] = {}

    def moves(self, orders: Iterable[Mapping[str, Any]], moment: datetime) -> list[tuple[Move, Mapping[str, Any]]]:
        """The moves that are due now, each with its order."""
        due = []
        for order in orders:
            move = self._move(order, self._recall(order, moment), moment)
            if move:
                due.append((move, order))
        return due

    def _recall(self, order: Mapping[str, Any], moment: datetime) -> Known:
        stands = (str(order.get("waiting_for") or order["state"]), _open_question(order))
        known = self._known.setdefault(str(order["id"]), Known(stands, moment))
        if known.stands != stands:
            known.stands, known.since = stands, moment
        return known

    def _move(self, order: Mapping[str, Any], known: Known, moment: datetime) -> Move | None:
        if moment - known.since < self._reaction:
            return None
        state, question = known.stands
        if state == "requested" and question and question != known.answered:
            known.answered = question
            return Move.ANSWER
        if state == "approved":
            return self._read_back(known, moment)
        if state == "read_back" and self._may_give(order, known, moment):
            known.given, known.given_at = known.given + 1, moment
            return Move.GIVE
        return None

    def _read_back(self, known: Known, moment: datetime) -> Move | None:
        if known.read_back_at and moment - known.read_back_at < self._reaction:
            return None
        known.read_back_at, known.readbacks = moment, known.readbacks + 1
        if self._wrong_once:
            self._wrong_once = False
            return Move.READ_BACK_WRONGLY
        return Move.READ_BACK

    def _may_give(self, order: Mapping[str, Any], known: Known, moment: datetime) -> bool:
        repeat = order.get("repeat") or {}
        if known.given >= int(repeat.get("times") or 1):
            return False
        return not known.given_at or moment - known.given_at >= timedelta(minutes=float(repeat.get("every_min") or 2))


def _open_question(order: Mapping[str, Any]) -> str:
    """What a physician asked about the request, while nobody has answered."""
    return "" if order.get("answer") else str(order.get("question") or "")


def spoken(order: Mapping[str, Any], *, wrong: bool = False) -> dict[str, Any]:
    """The read-back of an order: what to do, of what, how much; wrong, it is the ten-fold slip of the trade."""
    words = {key: order[key] for key in ("treatment", "route", "amount", "titrate") if order.get(key)}
    if order.get("action") in ("change", "hold", "stop"):
        words["action"] = order["action"]
    if wrong and "amount" in words:
        words["amount"] = {**words["amount"], "value": words["amount"]["value"] * TENFOLD}
    return words
