"""Crews that go on posting while the board is killed under them, and keep book of what was accepted."""

from __future__ import annotations

import json
import threading
from contextlib import suppress
from datetime import UTC, datetime
from functools import partial
from typing import Any
from uuid import uuid4

import httpx

from tests.processes.board_process import wait_for

PAUSE = 0.1  # s after a post that failed: without it a crew sends thousands while nobody listens


def moment() -> str:
    """Now, as the API wants it."""
    return datetime.now(UTC).isoformat()


class Crew:
    """One unit's program: opens a case, posts set after set, keeps what it sent, what was accepted and the refusals."""

    def __init__(self, base: str, token: str) -> None:
        self.base, self.header = base, {"Authorization": f"Token {token}"}
        self.case = str(uuid4())
        self.sent: dict[str, dict[str, Any]] = {}
        self.accepted: set[str] = set()
        self.refusals: list[tuple[int, str]] = []

    def open(self) -> None:
        patient = {"age": {"value": 58, "unit": "years"}, "weight": {"value": 80, "unit": "kg"}}
        entry = {"id": self.case, "opened_at": moment(), "patient": patient}
        httpx.post(f"{self.base}/api/v1/cases/", json=entry, headers=self.header).raise_for_status()

    def post_until(self, ended: threading.Event) -> None:
        """Post until told to end; a failed post is remembered as sent, not as accepted, and the next waits a moment."""
        with httpx.Client(base_url=f"{self.base}/api/v1/", headers=self.header, timeout=5) as http:
            while not ended.is_set():
                entry = {"id": str(uuid4()), "taken_at": moment(), "hr": 60 + len(self.sent) % 100}
                self.sent[entry["id"]] = entry
                if not self._post(http, entry):
                    ended.wait(PAUSE)

    def send_again(self, ids: set[str]) -> None:
        """Send entries until they are accepted, as a crew does that had no answer."""
        with httpx.Client(base_url=f"{self.base}/api/v1/", headers=self.header, timeout=20) as http:
            for entry_id in ids:
                wait_for(partial(self._post, http, self.sent[entry_id]))

    def _post(self, http: httpx.Client, entry: dict[str, Any]) -> bool:
        try:
            answer = http.post(f"cases/{self.case}/vitals/", json=entry)
        except httpx.HTTPError:
            return False
        done = answer.status_code in (200, 201)
        if done:
            self.accepted.add(entry["id"])
        else:
            self.refusals.append((answer.status_code, answer.headers["content-type"]))
        return done

    def stored(self) -> list[str]:
        """The ids of all sets in the journal, in order, as often as they stand there."""
        found: list[str] = []
        after = 0
        while lines := self._journal(after):
            found += [line["data"]["id"] for line in lines if line["kind"] == "vitals.recorded"]
            after = lines[-1]["seq"]
        return found

    def _journal(self, after: int) -> list[dict[str, Any]]:
        address = f"{self.base}/api/v1/cases/{self.case}/journal/?after={after}"
        lines: list[dict[str, Any]] = json.loads(wait_for(partial(self._read, address)).text)["results"]
        return lines

    def _read(self, address: str) -> httpx.Response | None:
        with suppress(httpx.HTTPError):
            answer = httpx.get(address, headers=self.header, timeout=20)
            return answer if answer.status_code == 200 else None
        return None
