"""What an earlier demonstration left open is closed, so that a restart does not fill the board with dead cases."""

from __future__ import annotations

import logging
from datetime import datetime

from consult.simulation.entries import stamp
from consult.simulation.link import Link, NoAnswer

log = logging.getLogger(__name__)

INCIDENT = "demonstration run"


def close_leftovers(link: Link, standing: str, moment: datetime) -> None:
    """Close the unit's open demonstration cases but ``standing``; a case that somebody else opened is left alone."""
    for row in (link.read("cases/?state=open") or {}).get("results", []):
        card = link.read(f"cases/{row['id']}/") or {}
        if row["id"] != standing and str(card.get("incident") or "").startswith(INCIDENT):
            try:
                link.call("POST", f"cases/{row['id']}/close/", {"outcome": "cancelled", "at": stamp(moment)})
            except NoAnswer as error:
                log.warning("a case of an earlier run stays open: %s", error)
