"""Static files come whole, with a type, and are asked for again only when they have changed."""

import asyncio
import warnings
from typing import Any

import httpx
import pytest
from django.core.handlers.asgi import ASGIHandler
from django.test import AsyncClient, Client

from consult.service.kept_files import KeptFiles


@pytest.mark.parametrize(
    ("path", "kind"), [("board.css", "text/css"), ("desk/board.js", "text/javascript"), ("icon.svg", "image/svg+xml")]
)
def test_a_file_has_its_type_and_length(client: Client, path: str, kind: str) -> None:
    answer = client.get(f"/static/{path}", headers={"host": "localhost"})

    assert answer.status_code == 200
    assert answer["Content-Type"].startswith(kind)
    assert not answer.streaming
    assert len(answer.content) > 100


def test_an_unchanged_file_is_not_sent_again(client: Client) -> None:
    first = client.get("/static/board.css", headers={"host": "localhost"})
    again = client.get("/static/board.css", headers={"host": "localhost", "if-modified-since": first["Last-Modified"]})

    assert (again.status_code, again.content) == (304, b"")


def test_a_file_that_is_not_there_is_not_found(client: Client) -> None:
    assert client.get("/static/nothing.css", headers={"host": "localhost"}).status_code == 404


def test_under_asgi_nothing_warns_of_streaming() -> None:
    async def fetch() -> int:
        answer = await AsyncClient().get("/static/board.css", headers={"host": "localhost"})
        return int(answer.status_code)

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert asyncio.run(fetch()) == 200


class TestOnceSent:
    """What was sent once goes out without Django: each answer is told with how often Django was asked."""

    @staticmethod
    async def _ask(*asked: tuple[str, dict[str, str]]) -> list[tuple[httpx.Response, int]]:
        behind, calls = ASGIHandler(), []

        async def counted(scope: Any, receive: Any, send: Any) -> None:
            calls.append(scope["path"])
            await behind(scope, receive, send)

        door = httpx.ASGITransport(app=KeptFiles(counted))
        async with httpx.AsyncClient(transport=door, base_url="http://localhost") as client:
            return [(await client.get(path, headers=headers), len(calls)) for path, headers in asked]

    async def test_it_is_the_same_with_the_same_headers(self) -> None:
        (first, once), (again, still) = await self._ask(("/static/board.css", {}), ("/static/board.css?v=2", {}))

        assert (once, still) == (1, 1)
        assert (again.status_code, again.content, again.headers) == (200, first.content, first.headers)
        assert "Content-Security-Policy" in again.headers

    async def test_unchanged_it_is_not_sent_again(self) -> None:
        ((first, _),) = await self._ask(("/static/board.css", {}))
        known = {"If-None-Match": first.headers["ETag"], "If-Modified-Since": first.headers["Last-Modified"]}

        _, (again, asked) = await self._ask(("/static/board.css", {}), ("/static/board.css", known))

        assert (again.status_code, again.content, asked) == (304, b"", 1)
        assert "Content-Length" not in again.headers

    async def test_of_another_state_of_the_file_it_comes_whole(self) -> None:
        old = ("/static/board.css", {"If-None-Match": '"of-yesterday"'})
        (first, _), (again, asked) = await self._ask(("/static/board.css", {}), old)

        assert (again.status_code, again.content, asked) == (200, first.content, 1)

    @pytest.mark.parametrize(
        ("path", "headers", "status"),
        [
            ("/static/nothing.css", {}, 404),
            ("/static/board.css", {"Range": "bytes=0-9"}, 206),
            ("/static/board.css", {"If-Modified-Since": "Sat, 28 Nov 2099 10:00:00 GMT"}, 304),
            ("/healthz", {}, 200),
        ],
    )
    async def test_what_is_no_whole_file_is_djangos(self, path: str, headers: dict[str, str], status: int) -> None:
        _, (_, before), (answer, after) = await self._ask(("/static/board.css", {}), (path, headers), (path, headers))

        assert (answer.status_code, after - before) == (status, 1)
