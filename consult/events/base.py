"""What all journal events have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar
from uuid import UUID

Id = UUID | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened in a case."""

    kind: ClassVar[str] = ""
