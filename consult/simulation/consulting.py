"""Before a crew gives anything: the guidance for its patient, then the check of the dose that it has in mind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from consult.simulation.crew import PROPOSAL
from consult.simulation.entries import stamp
from consult.simulation.judgment import Next, decide
from consult.simulation.link import Link, NoAnswer


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to do, the check that says so, and the moment before which not to try again."""

    next: Next
    check: Mapping[str, Any]
    not_before: datetime | None = None


class Consulting:
    """The board's advice for one case."""

    def __init__(self, link: Link, case: str) -> None:
        self._link, self._case = link, case

    def advise(self, detail: Mapping[str, Any], moment: datetime) -> Verdict | None:
        """What the board makes of a treatment now; None where it does not answer."""
        guidance = self._link.read(f"cases/{self._case}/guidance/")
        if guidance is None:
            return None
        proposal = {key: detail[key] for key in PROPOSAL if key in detail} | {"at": stamp(moment)}
        try:
            answer = self._link.call("POST", f"cases/{self._case}/checks/", proposal)
        except NoAnswer:
            return None
        if not answer.accepted:
            return Verdict(Next.LEAVE, answer.body)
        return Verdict(decide(answer.body), answer.body, _not_before(guidance, answer.body, detail["treatment"]))


def _not_before(guidance: Mapping[str, Any], check: Mapping[str, Any], treatment: str) -> datetime | None:
    """The later of the two times that guidance and check give for the next dose."""
    rows = [row for row in guidance["treatments"] if row["treatment"] == treatment]
    times = [row["next_at"] for row in (*rows, check) if row.get("next_at")]
    return max((datetime.fromisoformat(time) for time in times), default=None)
