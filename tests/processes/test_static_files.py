"""Static files come whole, with a type, and are asked for again only when they have changed."""

import asyncio
import warnings

import pytest
from django.test import AsyncClient, Client


@pytest.mark.parametrize(
    ("path", "kind"), [("board.css", "text/css"), ("board.js", "text/javascript"), ("icon.svg", "image/svg+xml")]
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
