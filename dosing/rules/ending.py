"""When published rules say that a resuscitation may be ended: criteria that somebody on scene checks off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from dosing.rules.parts import Source, Who
from dosing.rules.shape import Made


@dataclass(frozen=True, slots=True, kw_only=True)
class EndingCriterion:
    """One criterion for ending a resuscitation, and the published rules that ask for it."""

    slug: Made[str]
    text: Annotated[str, "as the crew checks it off"]
    rules: Annotated[tuple[str, ...], "by their names; a rule is met once each of its criteria is"]
    who: Annotated[str, Who]
    source: Source
