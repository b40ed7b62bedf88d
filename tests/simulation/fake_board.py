"""A stand-in for the server: it holds each body against the contract, remembers it, and answers as the contract says.

Failures can be ordered: ``fail_next(3)`` answers 503 three times, ``silent`` refuses connections.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import httpx

from consult.simulation.link import Link
from tests.simulation import contract

ROUTES = [
    ("case", r"cases/"),
    ("vitals", r"cases/([^/]+)/vitals/"),
    ("intervention", r"cases/([^/]+)/interventions/"),
    ("change", r"interventions/([^/]+)/changes/"),
    ("container", r"cases/([^/]+)/containers/"),
    ("procedure", r"cases/([^/]+)/procedures/"),
    ("order", r"cases/([^/]+)/orders/"),
    ("readback", r"orders/([^/]+)/readback/"),
    ("answer", r"orders/([^/]+)/answer/"),
    ("not_given", r"orders/([^/]+)/not_given/"),
    ("note", r"cases/([^/]+)/notes/"),
    ("phase", r"cases/([^/]+)/phase/"),
    ("question", r"cases/([^/]+)/questions/"),
    ("understood", r"instructions/([^/]+)/understood/"),
    ("done", r"instructions/([^/]+)/done/"),
    ("patch", r"cases/([^/]+)/"),
    ("handover", r"cases/([^/]+)/handover/"),
    ("close", r"cases/([^/]+)/close/"),
    ("check", r"cases/([^/]+)/checks/"),
]
OF_ORDER = ("readback", "answer", "not_given")
OF_INSTRUCTION = ("understood", "done")
WITHIN = {"verdict": "within", "findings": [], "next_at": None}


class FakeBoard:
    """Everything that arrived, in order, as (kind, target, content)."""

    def __init__(self) -> None:
        self.entries: list[tuple[str, str, dict[str, Any]]] = []
        self.ids: dict[str, dict[str, Any]] = {}
        self.batches: list[dict[str, Any]] = []
        self.faults: list[str] = []
        self.asked: list[str] = []
        self.orders: dict[str, dict[str, Any]] = {}
        self.reassessments: list[dict[str, Any]] = []
        self.titrations: list[dict[str, Any]] = []
        self.instructions: list[dict[str, Any]] = []
        self.destination_told: dict[str, Any] | None = None
        self.check: Callable[[dict[str, Any]], dict[str, Any]] = lambda proposal: WITHIN
        self.refuse: Callable[[str, dict[str, Any]], int | None] = lambda kind, content: None
        self.open_cases: list[dict[str, Any]] = []
        self.incident: str | None = "demonstration run"
        self.journal: list[dict[str, Any]] = []
        self.silent = False
        self.retry_after: int | None = None
        self._failures = 0

    def link(self) -> Link:
        """A unit's link to this board."""
        return Link("http://board.test", "token", transport=httpx.MockTransport(self._answer))

    def fail_next(self, count: int) -> None:
        """Answer 503 to the next requests."""
        self._failures = count

    def of(self, kind: str) -> list[dict[str, Any]]:
        """The contents of one kind."""
        return [content for found, _, content in self.entries if found == kind]

    def _answer(self, request: httpx.Request) -> httpx.Response:
        assert request.headers["Authorization"] == "Token token"
        if self.silent:
            raise httpx.ConnectError("no route", request=request)
        if self._failures:
            self._failures -= 1
            return httpx.Response(503, json={"status": 503})
        path = request.url.raw_path.decode().removeprefix("/api/v1/")
        if request.method == "GET":
            return self._read(path)
        content = json.loads(request.content)
        if path == "batch/":
            return self._batch(content)
        kind, target = self._kind(path)
        status = self._take(kind, target, content)
        told = self.check(content) if kind == "check" else {"seq": len(self.entries)}
        return httpx.Response(status, json=told, headers=self._later())

    def _later(self) -> dict[str, str]:
        return {} if self.retry_after is None else {"Retry-After": str(self.retry_after)}

    def _kind(self, path: str) -> tuple[str, str]:
        for kind, pattern in ROUTES:
            if match := re.fullmatch(pattern, path):
                return kind, (match.groups() or ("",))[0]
        raise AssertionError(f"the contract has no POST {path}")

    def _batch(self, content: dict[str, Any]) -> httpx.Response:
        self.batches.append(content)
        assert set(content) == {"sent_at", "entries"}
        assert len(content["entries"]) <= 200
        results = []
        for row in content["entries"]:
            entry = dict(row)
            kind = entry.pop("kind")
            told = dict.fromkeys(OF_INSTRUCTION, "instruction")
            about = {"change": "intervention", **dict.fromkeys(OF_ORDER, "order"), **told}.get(kind, "case")
            target = entry["id"] if kind == "case" else entry.pop(about)
            results.append({"id": row["id"], "status": self._take(kind, target, entry)})
        return httpx.Response(200, json={"results": results}, headers=self._later())

    def _take(self, kind: str, target: str, content: dict[str, Any]) -> int:
        self.faults += contract.faults(kind, content)
        if status := self.refuse(kind, content):
            return status
        if kind != "check" and content.get("id") in self.ids:
            return 200 if self.ids[content["id"]] == content else 409
        self.ids[content.get("id", "")] = content
        self.entries.append((kind, target, content))
        if kind == "order":
            self.orders[content["id"]] = {**content, "state": "requested"}
        return 201

    def _read(self, path: str) -> httpx.Response:
        self.asked.append(path)
        if path == "cases/?state=open":
            return httpx.Response(200, json={"results": self.open_cases})
        if path.endswith("/guidance/"):
            return httpx.Response(200, json={"treatments": []})
        if match := re.fullmatch(r"orders/([^/]+)/", path):
            known = self.orders.get(match[1])
            return httpx.Response(200, json=known) if known else httpx.Response(404, json={"status": 404})
        if match := re.fullmatch(r"cases/[^/]+/journal/\?after=(\d+)", path):
            return httpx.Response(200, json={"results": [row for row in self.journal if row["seq"] > int(match[1])]})
        standing = [row for row in self.orders.values() if row["state"] in ("requested", "approved", "read_back")]
        told = {"incident": self.incident, "seq": len(self.journal)}
        said = {"instructions": self.instructions, "destination_told": self.destination_told}
        card = {"orders": standing, "reassessments": self.reassessments, "titrations": self.titrations, **said, **told}
        return httpx.Response(200, json=card)


def live(unit: Any, since: datetime, minutes: float, every_s: float = 1) -> datetime:
    """Let a unit live for a while; returns when that ended."""
    moment, until = since, since + timedelta(minutes=minutes)
    while moment < until:
        unit.tick(moment)
        moment += timedelta(seconds=every_s)
    return moment
