"""The API's WSGI processes work on few requests at once, and none of these is one whose body is still on its way."""

from __future__ import annotations

import threading
from io import BytesIO
from typing import Any

import pytest

from consult.service import turns
from consult.service.turns import Turns

SOON = 10.0


class Slow:
    """A body that comes when the test says so; `waited_for` is set once somebody reads."""

    def __init__(self, body: bytes) -> None:
        self.body, self.waited_for, self.comes = body, threading.Event(), threading.Event()

    def read(self, size: int) -> bytes:
        self.waited_for.set()
        assert self.comes.wait(SOON)
        return self.body


def django(environ: dict[str, Any], start: Any) -> list[bytes]:
    """Stands for what is behind: answers with the body."""
    start("200 OK", [])
    return [environ["wsgi.input"].read()]


def ask(application: Turns, body: Any = b"", size: int | None = None, **more: str) -> tuple[str, dict[str, str], bytes]:
    told: list[Any] = []
    stream = BytesIO(body) if isinstance(body, bytes) else body
    length = len(body) if isinstance(body, bytes) else len(body.body)
    environ = {"PATH_INFO": "/api/v1/cases/", "wsgi.input": stream, "CONTENT_LENGTH": str(size or length), **more}
    content = b"".join(application(environ, lambda *words: told.extend(words)))
    return told[0], dict(told[1]), content


def slow_ones(application: Turns, count: int, **more: str) -> tuple[list[Slow], list[threading.Thread]]:
    """So many requests whose bodies are being waited for."""
    bodies = [Slow(b"late") for _ in range(count)]
    threads = [threading.Thread(target=ask, args=(application, body), kwargs=more) for body in bodies]
    for thread, body in zip(threads, bodies, strict=True):
        thread.start()
        assert body.waited_for.wait(SOON)
    return bodies, threads


def release(bodies: list[Slow], threads: list[threading.Thread]) -> None:
    for body in bodies:
        body.comes.set()
    for thread in threads:
        thread.join(SOON)


def test_slow_bodies_keep_no_other_request_from_its_turn():
    application = Turns(django)
    waiting = slow_ones(application, 20, HTTP_AUTHORIZATION="Token slow")
    try:
        assert ask(application, b"vitals")[0] == "200 OK"
    finally:
        release(*waiting)


def test_of_one_token_only_so_many_bodies_are_waited_for_and_those_of_others_still_are(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(turns, "READING_FOR_ONE", 3)
    application = Turns(django)
    waiting = slow_ones(application, 3, HTTP_AUTHORIZATION="Token slow")
    try:
        status, headers, content = ask(application, b"vitals", HTTP_AUTHORIZATION="Token slow")
        assert (status, headers["Retry-After"]) == ("503 Service Unavailable", "1")
        assert b"Send it again." in content
        assert ask(application, b"vitals", HTTP_AUTHORIZATION="Token crew")[0] == "200 OK"
    finally:
        release(*waiting)
    assert ask(application, b"vitals", HTTP_AUTHORIZATION="Token slow")[0] == "200 OK"


def test_only_so_many_requests_are_worked_on_at_once():
    inside, most, enough = [], [], threading.Barrier(turns.AT_WORK)

    def works(environ: dict[str, Any], start: Any) -> list[bytes]:
        inside.append(1)
        most.append(len(inside))
        enough.wait(SOON)  # goes on once as many are here as may be
        inside.pop()
        return django(environ, start)

    application = Turns(works)
    threads = [threading.Thread(target=ask, args=(application, b"vitals")) for _ in range(4 * turns.AT_WORK)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(SOON)
    assert max(most) <= turns.AT_WORK
    assert len(most) == len(threads)


def test_a_body_that_is_too_large_is_refused_before_it_is_read():
    body = Slow(b"x")
    status, headers, _ = ask(Turns(django), body, 256 * 1024 + 1)
    assert status.startswith("413")
    assert headers["Content-Type"] == "application/problem+json"
    assert not body.waited_for.is_set()
