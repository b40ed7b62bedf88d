"""What all journal events have in common."""

from __future__ import annotations

from typing import ClassVar

from msgspec import Struct

Id = str


class Event(Struct, frozen=True, kw_only=True):
    """Something that happened; `version` counts the changes of its fields: older ones are read by an up-caster."""

    kind: ClassVar[str] = ""
    version: ClassVar[int] = 1
