"""What of a consult without a drug waits for a person: a question for its answer, an instruction to be understood."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.kinds import Id, Time


class Waiting(Struct, frozen=True, kw_only=True):
    """A question (``asked``) or an instruction that waits, since when, and what it is about in a few words."""

    id: Id
    asked: bool
    about: str
    since: Time
