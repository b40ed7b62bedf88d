"""The radio of one unit: the API over HTTP with the unit's own device token."""

from __future__ import annotations

import ssl
from dataclasses import dataclass
from functools import cache
from typing import Any

import httpx

AGAIN = frozenset({401, 408, 425, 429})


class NoAnswer(Exception):
    """Nothing that counts came back: no connection, too slow, or the server says to try again later.

    `wait` is after how many seconds at the earliest, where the server says so.
    """

    def __init__(self, text: str, wait: float = 0) -> None:
        super().__init__(text)
        self.wait = wait


@dataclass(frozen=True, slots=True)
class Answer:
    """A status, a decoded body, and in how many seconds to send again what was not taken."""

    status: int
    body: dict[str, Any]
    wait: float = 0

    @property
    def accepted(self) -> bool:
        """Whether the server took it, now or before."""
        return 200 <= self.status < 300


def for_later(status: int) -> bool:
    """Whether the same may be sent again later, and may then be taken."""
    return status >= 500 or status in AGAIN


def _seconds(text: str) -> float:
    return float(text) if text.isdecimal() else 0


@cache
def _trust() -> ssl.SSLContext:
    """The certificates that count, read once for all units of a process."""
    return ssl.create_default_context()


class Link:
    """Calls below ``/api/v1/``; raises ``NoAnswer`` for whatever is worth trying again."""

    def __init__(self, base: str, token: str, transport: httpx.BaseTransport | None = None) -> None:
        headers = {"Authorization": f"Token {token}", "Accept": "application/json"}
        self._client = httpx.Client(
            base_url=f"{base.rstrip('/')}/api/v1/", headers=headers, timeout=10, transport=transport, verify=_trust()
        )

    def call(self, method: str, path: str, content: dict[str, Any] | None = None) -> Answer:
        """Send one request and return what came back."""
        try:
            response = self._client.request(method, path, json=content)
            body = response.json() if response.content else {}
        except (httpx.HTTPError, ValueError) as error:
            raise NoAnswer(f"{method} {path}: {error or type(error).__name__}") from error
        wait = _seconds(response.headers.get("Retry-After", ""))
        if for_later(response.status_code):
            raise NoAnswer(f"{method} {path}: {response.status_code}", wait)
        return Answer(response.status_code, body, wait)

    def read(self, path: str) -> dict[str, Any] | None:
        """What lies at ``path``, or None where it cannot be had now."""
        try:
            answer = self.call("GET", path)
        except NoAnswer:
            return None
        return answer.body if answer.accepted else None

    def close(self) -> None:
        """Let go of the connections."""
        self._client.close()
