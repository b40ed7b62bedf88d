"""Texts and times of a certain kind, as the JSON Schema of a structure names them; a text is not checked when read."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from msgspec import Meta

Id = Annotated[str, Meta(extra_json_schema={"format": "uuid"})]
Time = Annotated[datetime, Meta(tz=True)]


def one_of(*words: str) -> Meta:
    """Marks a text that is one of these words."""
    return Meta(extra_json_schema={"enum": [*words]})
