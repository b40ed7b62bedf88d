"""The airway: whether the patient breathes through a tube, or is held open by hand and mask alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime

from msgspec import Struct

from dosing.ground.kinds import Id, Time
from dosing.ground.tables import load

_WORDS = load("ground/airways")


class Airway(Struct, frozen=True, kw_only=True):
    """An airway that was tried or is in place: ``site`` says which, in free words, ``outcome`` what came of it."""

    id: Id
    at: Time
    site: str | None = None
    outcome: str | None = None


def airway_secured(known: Iterable[Airway], at: datetime) -> bool:
    """Whether a tube or a supraglottic airway was in place at that moment: the newest that is done decides.

    So a bag and mask that is recorded after a tube says that the tube is out. What is not said is a tube.
    """
    done = [each for each in known if each.outcome == "done" and each.at <= at]
    return bool(done) and not _open_by_hand(max(done, key=lambda each: each.at).site or "")


def _open_by_hand(site: str) -> bool:
    """Whether the words name a bag, a mask or what only holds the tongue off, and no tube beside it."""
    said = f" {' '.join(re.findall('[a-z]+', site.casefold()))} "
    basic, advanced = (any(f" {name} " in said for name in _WORDS[kind]["names"]) for kind in ("basic", "advanced"))
    return basic and not advanced
