"""A case told minute by minute through the API: the clock stands at noon until the story moves it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from consult import clock
from consult.actions import alerts
from tests.api.conftest import Program, new_id
from tests.api.worked import amount, patient
from tests.conftest import NOON
from tests.dosing.bedside import usual_route


def minute(text: str | None) -> float | None:
    """How many minutes after noon a time in an answer lies."""
    return None if text is None else (datetime.fromisoformat(text) - NOON) / timedelta(minutes=1)


class Story:
    """One case of the crew; every number of minutes counts from noon, and entries happen now unless told `at`."""

    def __init__(self, cast: Any, monkeypatch: Any) -> None:
        self.crew: Program = cast.crew
        self.physician: Program = cast.physician
        self.now = NOON
        self.case = ""
        monkeypatch.setattr(clock, "now", lambda: self.now)

    def open(self, who: str = "58 y 80 kg", impression: str = "septic", opened: float = -20, **known: Any) -> Story:
        """Open a new case of this patient at noon."""
        self.now, self.case = NOON, new_id()
        body = {"id": self.case, "opened_at": self.time(opened), "patient": patient(who, **known)}
        answer = self.crew.post("cases/", {**body, "impression": impression, "complaint": "weak, pale"})
        assert answer.status_code == 201, answer.content
        return self

    def time(self, minutes: float | None) -> str:
        """So many minutes after noon as it is sent; now without a number."""
        return (self.now if minutes is None else NOON + timedelta(minutes=minutes)).isoformat()

    def at(self, minutes: float) -> Story:
        """Move the clock to so many minutes after noon and let the sweep do what is due."""
        self.now = NOON + timedelta(minutes=minutes)
        alerts.sweep(self.now)
        return self

    def posted(self, path: str, body: dict[str, Any], by: Program | None = None) -> dict[str, Any]:
        """The answer to an entry that must be taken."""
        answer = (by or self.crew).post(path, {"id": new_id(), **body})
        assert answer.status_code in (200, 201), answer.content
        found: dict[str, Any] = answer.json()
        return found

    def dose(self, treatment: str, dose: str, **more: Any) -> dict[str, Any]:
        """What a dose says of itself in a proposal, by the usual route; a strength is written as ``16 mcg/mL``."""
        strengths = {name: amount(more.pop(name)) for name in ("stock", "concentration") if name in more}
        known = {"treatment": treatment, "amount": amount(dose), "route": usual_route(treatment)}
        return {**known, **strengths, **more}

    def give(self, treatment: str, dose: str, at: float | None = None, **more: Any) -> dict[str, Any]:
        """The answer to a dose that was given."""
        body = {"given_at": self.time(at), **self.dose(treatment, dose, **more)}
        return self.posted(f"cases/{self.case}/interventions/", body)

    def change(self, given: dict[str, Any], at: float | None = None, **more: Any) -> dict[str, Any]:
        """The answer to the end, or the new rate, of what runs."""
        return self.posted(f"interventions/{given['id']}/changes/", {"at": self.time(at), **more})

    def read(self, at: float | None = None, **values: Any) -> dict[str, Any]:
        """The answer to a set of vitals."""
        return self.posted(f"cases/{self.case}/vitals/", {"taken_at": self.time(at), **values})

    def correct(self, kind: str, entry: dict[str, Any]) -> dict[str, Any]:
        """The answer to marking an entry as entered in error."""
        target = {"target": {"kind": kind, "id": entry["id"]}, "reason": "wrong patient"}
        return self.posted(f"cases/{self.case}/corrections/", target)

    def check(self, treatment: str, dose: str, at: float | None = None, **more: Any) -> dict[str, Any]:
        """The answer to a proposal."""
        body = {"at": self.time(at), **self.dose(treatment, dose, **more)}
        answer = self.crew.post(f"cases/{self.case}/checks/", body)
        assert answer.status_code == 200, answer.content
        found: dict[str, Any] = answer.json()
        return found

    def guidance(self) -> dict[str, dict[str, Any]]:
        """What may be given now, by treatment."""
        answer = self.crew.get(f"cases/{self.case}/guidance/")
        assert answer.status_code == 200, answer.content
        return {one["treatment"]: one for one in answer.json()["treatments"]}

    def card(self) -> dict[str, Any]:
        """The case as the physician sees it."""
        found: dict[str, Any] = self.physician.get(f"cases/{self.case}/").json()
        return found

    def asked(self, given: dict[str, Any]) -> dict[str, Any]:
        """The reassessment of a dose as it stands now."""
        found: dict[str, Any] = self.crew.get(f"interventions/{given['id']}/").json()["reassessment"]
        return found


def codes(check: dict[str, Any]) -> set[str]:
    """What a check found, by code."""
    return {finding["code"] for finding in check["findings"]}
