"""A program on this machine that takes posts."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass
class Receiver:
    """A program on this machine: what was posted to it, and the statuses that it answers, the last one for good."""

    address: str = ""
    statuses: list[int] = field(default_factory=lambda: [204])
    silent: threading.Event | None = None
    posts: list[tuple[dict[str, str], bytes]] = field(default_factory=list)

    def take(self, handler: BaseHTTPRequestHandler) -> None:
        body = handler.rfile.read(int(handler.headers["Content-Length"]))
        self.posts.append((dict(handler.headers), body))
        if self.silent:
            self.silent.wait(20)
        handler.send_response(self.statuses.pop(0) if len(self.statuses) > 1 else self.statuses[0])
        handler.send_header("Location", self.address + "elsewhere")
        handler.end_headers()


@contextmanager
def receiving() -> Iterator[Receiver]:
    """Such a program, until the block ends."""
    found = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            found.take(self)

        def log_message(self, *_: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    found.address = f"http://127.0.0.1:{server.server_port}/"
    threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()
    yield found
    if found.silent:
        found.silent.set()
    server.shutdown()
    server.server_close()
