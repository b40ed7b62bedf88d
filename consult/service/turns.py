"""The API's WSGI processes: a request whose body is still on its way keeps no other one from being worked on.

A WSGI server gives each request a thread, and the thread waits for the body. So there are many threads of which few
work at once. Behind the proxy, which passes whole bodies on, none ever waits.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterable
from http import HTTPStatus
from io import BytesIO
from typing import Any

from django.http import HttpResponse

from consult.middleware import refusal
from consult.service.bodies import most_bytes, too_large

Environ = dict[str, Any]
Start = Callable[..., Any]
Application = Callable[[Environ, Start], Iterable[bytes]]

AT_WORK = 2  # more would wait for each other: Python runs one at a time
READING_FOR_ONE = 32  # of the compose file's 64 threads


class Turns:
    """The WSGI application behind: it is given whole bodies, and so many requests at once."""

    def __init__(self, application: Application) -> None:
        self.application = application
        self.turn = threading.BoundedSemaphore(AT_WORK)
        self.lock = threading.Lock()
        self.reading: Counter[str] = Counter()

    def __call__(self, environ: Environ, start_response: Start) -> Iterable[bytes]:
        """Serve a request."""
        size = int(environ.get("CONTENT_LENGTH") or 0)
        if size and (refused := self._read(environ, size)):
            headers = [*refused.items(), ("Content-Length", str(len(refused.content))), ("Retry-After", "1")]
            start_response(f"{refused.status_code} {refused.reason_phrase}", headers)
            return [refused.content]
        with self.turn:
            return self.application(environ, start_response)

    def _read(self, environ: Environ, size: int) -> HttpResponse | None:
        """Put the whole body into the environment, or tell why not."""
        path, who = environ.get("PATH_INFO", ""), _who(environ)
        if size > most_bytes(path):
            refused = too_large(most_bytes(path))
            return refusal(path, refused.status, refused.detail)
        with self.lock:
            if self.reading[who] >= READING_FOR_ONE:
                return refusal(path, HTTPStatus.SERVICE_UNAVAILABLE, "Too many slow requests at once. Send it again.")
            self.reading[who] += 1
        try:
            environ["wsgi.input"] = BytesIO(environ["wsgi.input"].read(size))
        finally:
            with self.lock:
                self.reading[who] -= 1
                self.reading += Counter()  # forgets who reads nothing any more
        return None


def _who(environ: Environ) -> str:
    """Whose request this says it is; nothing has been looked up yet."""
    said = environ.get("HTTP_AUTHORIZATION") or environ.get("HTTP_COOKIE") or environ.get("REMOTE_ADDR", "")
    return str(said)
