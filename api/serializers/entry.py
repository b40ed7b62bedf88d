"""What every request that changes something has in common: an id, the sender's time, no time in the future."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, ClassVar, Self

from api.fields import Id, Time
from api.shape import Shape, refusal
from consult.case.decide import times
from consult.clock import put_right

FUTURE_TOLERATED = timedelta(minutes=2)


class Entry(Shape):
    """Content that changes something: it may carry an id of its own and the sender's time."""

    happened: ClassVar[tuple[str, ...]] = ("at",)  # the times that cannot lie ahead, by path
    _shared: ClassVar[Self]

    id = Id(required=False)
    sent_at = Time(required=False)

    @classmethod
    def shared(cls) -> Self:
        """The one instance that reads all requests of this kind."""
        if "_shared" not in cls.__dict__:
            cls._shared = cls()
        return cls._shared

    @classmethod
    def read(cls, body: Any, now: datetime, of_batch: timedelta | None = None) -> dict[str, Any]:
        """The content of a request received at `now`; `of_batch` is how far the clock of a batch's sender is behind.

        `sent_at` says so of a request of its own, and is no part of the content; `clock_offset_s` hands it on. In a
        batch that of the batch holds: an entry may still carry the one with which it was tried before.
        """
        found: dict[str, Any] = cls.shared().run_validation(body)
        sent_at = found.pop("sent_at", None)
        offset = now - sent_at if sent_at is not None and of_batch is None else of_batch
        offset_s = None if offset is None else offset.total_seconds()
        for path in cls.happened:
            at = _at(found, path)
            if at is not None and put_right(at, times.applied(offset_s)) > now + FUTURE_TOLERATED:
                raise refusal(path, "This time lies more than 2 minutes ahead.", "time_in_future")
        if offset_s is not None:
            found["clock_offset_s"] = offset_s
        return found


def _at(content: Any, path: str) -> datetime | None:
    """The time at a path of names such as "patient/onset_at", where there is one."""
    for name in path.split("/"):
        content = content.get(name) if content else None
    return content  # type: ignore[no-any-return]
