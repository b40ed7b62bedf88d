"""Where the benchmark works: databases of its own on the server named by DATABASE_URL, Redis, free ports."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.parse
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import psycopg

SERVER = os.environ.get("DATABASE_URL", "postgres://postgres@127.0.0.1:5432/postgres")
REDIS = os.environ.get("REDIS_URL", "redis://127.0.0.1:6379/14")


def database(name: str) -> str:
    """The URL of the benchmark's database of this name on the same server."""
    return urllib.parse.urlsplit(SERVER)._replace(path=f"/{name}").geturl()


@contextmanager
def fresh_database(name: str, copy_of: str = "template1") -> Iterator[str]:
    """An empty database, or a copy of one that nobody is connected to; dropped afterward."""
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        server.execute(f'CREATE DATABASE "{name}" TEMPLATE "{copy_of}"')
        try:
            yield database(name)
        finally:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def free_port() -> int:
    """A port that nothing listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running(words: list[str], environment: dict[str, str], port: int) -> Iterator[None]:
    """A server process from `python -m …`, awaited on its port and ended afterward."""
    process = subprocess.Popen([sys.executable, "-m", *words], env={**os.environ, **environment})
    try:
        _await(process, port)
        yield
    finally:
        process.terminate()
        with suppress(subprocess.TimeoutExpired):
            process.wait(10)
        process.kill()


def _await(process: subprocess.Popen[bytes], port: int) -> None:
    address = ("127.0.0.1", port)
    end = time.monotonic() + 30
    while time.monotonic() < end and process.poll() is None:
        with suppress(OSError):
            socket.create_connection(address, timeout=1).close()
            return
        time.sleep(0.1)
    raise RuntimeError(f"nothing listens on port {port}")
