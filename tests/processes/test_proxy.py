"""The proxy of the compose file as it stands there, before a board: what it hands to whom, and what it refuses.

Its host is `localhost`, for which it signs its own certificate; its ports and the servers' are free ones.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import httpx
import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from tests.processes.board_process import (
    PROJECT,
    BoardProcess,
    die_with_the_tests,
    free_port,
    wait_for,
    with_tables,
)
from tests.processes.test_deployment_files import SERVICES

CADDY = shutil.which("caddy") or shutil.which("caddy", path=str(Path(sys.executable).parent))
pytestmark = [
    pytest.mark.processes,
    pytest.mark.xdist_group("proxy"),
    pytest.mark.skipif(not CADDY, reason="there is no caddy: install requirements-test.lock"),
]
CADDYFILE = (PROJECT / "deploy" / "Caddyfile").read_text()
PASSWORD = "seven dry lanterns"
OPENED = {"opened_at": "2026-01-05T10:00:00Z", "patient": {"age": None, "weight": None}}


@dataclass
class Proxy:
    """Caddy with the project's Caddyfile, before servers on these ports."""

    folder: Path
    web: int
    live: int
    https: int = field(default_factory=free_port)
    http: int = field(default_factory=free_port)

    @property
    def base(self) -> str:
        return f"https://localhost:{self.https}"

    @contextmanager
    def running(self) -> Iterator[Proxy]:
        """A port that was free may be taken meanwhile: then it ends, and is started on others."""
        file = self.folder / "Caddyfile"
        environment = {**os.environ, "BOARD_HOST": "localhost", "XDG_DATA_HOME": str(self.folder)}
        words = (str(CADDY), "run", "--config", str(file), "--adapter", "caddyfile")
        for _ in range(3):
            file.write_text(self.moved())
            with process(*words, environment=environment) as caddy:
                wait_for(partial(self.stands, caddy))
                if caddy.poll() is None:
                    yield self
                    return
            self.https, self.http = free_port(), free_port()
        raise AssertionError("the proxy does not start")

    def stands(self, caddy: subprocess.Popen[bytes]) -> bool:
        """Whether it answers for both servers, or has ended."""
        return caddy.poll() is not None or all(map(self.answers, ("/healthz", "/api/healthz")))

    def moved(self) -> str:
        """The file as it is, but with ports that are free here."""
        ports = f"{{\n\thttp_port {self.http}\n\thttps_port {self.https}\n\tadmin off\n\tskip_install_trust\n"
        servers = {"web:8000": f"127.0.0.1:{self.web}", "live:8000": f"127.0.0.1:{self.live}"}
        return re.sub("web:8000|live:8000", lambda found: servers[found[0]], CADDYFILE.replace("{\n", ports, 1))

    def answers(self, path: str) -> bool:
        """Whether a server answers there, be it that it knows no such page."""
        try:
            return self.get(path).status_code in (200, 404)
        except httpx.HTTPError:
            return False

    def get(self, path: str, **headers: str) -> httpx.Response:
        return httpx.get(f"{self.base}{path}", headers=headers, verify=False)

    def post(self, path: str, token: str, **content: Any) -> httpx.Response:
        headers = {"Authorization": f"Token {token}", "Content-Type": "application/json"}
        return httpx.post(f"{self.base}{path}", headers=headers, verify=False, **content)

    def socket(self, browser: httpx.Client, origin: str) -> ClientConnection:
        """A socket of the board with a browser's cookies."""
        cookies = {"Cookie": "; ".join(f"{name}={value}" for name, value in browser.cookies.items())}
        address, trusting = f"wss://localhost:{self.https}/ws/board/", ssl._create_unverified_context()
        return connect(address, ssl=trusting, origin=Origin(origin), additional_headers=cookies, proxy=None)


@contextmanager
def process(*command: str, environment: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """A program that runs until the block is left."""
    quiet = subprocess.DEVNULL
    started = subprocess.Popen(
        command, cwd=PROJECT, env=environment, stdout=quiet, stderr=quiet, preexec_fn=die_with_the_tests
    )
    try:
        yield started
    finally:
        started.terminate()
        started.wait(15)


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BoardProcess]:
    """A board that is reached by HTTPS alone."""
    board = BoardProcess(with_tables(tmp_path_factory.mktemp("b"), tmp_path_factory))
    board.environment |= {"HTTPS": "true", "ALLOWED_HOSTS": "localhost,127.0.0.1"}
    try:
        yield board.start()
    finally:
        board.end()


@pytest.fixture(scope="module")
def proxy(board: BoardProcess, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """Before that board, and an API server of the compose file's own words on the same database."""
    made = Proxy(tmp_path_factory.mktemp("p"), web=free_port(), live=board.port)
    words = {"--port=8000": f"--port={made.web}", "--host=0.0.0.0": "--host=127.0.0.1"}
    granian, *options = SERVICES["web"]["command"]
    command = [str(Path(sys.executable).with_name(granian)), *(words.get(word, word) for word in options)]
    with process(*command, environment=board.environment), made.running():
        yield made


@pytest.fixture(scope="module")
def people(board: BoardProcess) -> dict[str, Any]:
    """A physician's one-time link and a tablet's token."""
    said = [
        json.loads(board.manage(*words, "--json").stdout)
        for words in (
            ("create_agency", "Tamar Vale", "--timezone", "America/Denver"),
            ("add_unit", "Tamar Vale", "Heron 1"),
            ("add_member", "Tamar Vale", "merrin", "--role", "physician"),
            ("issue_token", "Tamar Vale", "Heron 1", "--name", "tablet"),
        )
    ]
    return {"link": said[2]["link"], "token": said[3]["token"]}


@pytest.fixture(scope="module")
def merrin(proxy: Proxy, people: dict[str, Any]) -> Iterator[httpx.Client]:
    """A browser in which she has used her link."""
    with httpx.Client(base_url=proxy.base, verify=False, follow_redirects=True) as browser:
        path = people["link"].removeprefix("https://localhost")
        (csrf,) = re.findall(r'csrfmiddlewaretoken" value="(\w+)"', browser.get(path).text)
        form = {"csrfmiddlewaretoken": csrf, "new_password1": PASSWORD, "new_password2": PASSWORD}
        landed = browser.post(path, data=form, headers={"Origin": proxy.base, "Referer": proxy.base})
        assert landed.url.path == "/board/", landed.text
        yield browser


def test_it_is_the_version_of_the_compose_file():
    version = subprocess.run([str(CADDY), "version"], capture_output=True, text=True, check=True).stdout

    assert version.startswith(f"v{SERVICES['proxy']['image'].removeprefix('caddy:')}.")


def test_the_file_is_valid_and_says_nothing_needlessly():
    command = [str(CADDY), "validate", "--config", "deploy/Caddyfile", "--adapter", "caddyfile"]
    environment = {**os.environ, "BOARD_HOST": "board.example"}
    told = subprocess.run(command, cwd=PROJECT, env=environment, capture_output=True, text=True, check=False)

    assert (told.returncode, told.stdout.strip()) == (0, "Valid configuration"), told.stderr
    assert "Unnecessary" not in told.stderr


def test_a_tablet_posts_through_it_and_the_board_shows_it_live(
    proxy: Proxy, people: dict[str, Any], merrin: httpx.Client
):
    with proxy.socket(merrin, proxy.base) as socket:
        assert json.loads(socket.recv(10))["type"] == "hello"

        answer = proxy.post("/api/v1/cases/", people["token"], json=OPENED)

        assert answer.status_code == 201, answer.text
        while (told := json.loads(socket.recv(10)))["type"] == "tick":
            continue
        assert (told["type"], told["case"]) == ("card", answer.json()["id"])


def test_another_sites_page_opens_no_socket_through_it(proxy: Proxy, merrin: httpx.Client):
    with proxy.socket(merrin, "https://elsewhere.example") as socket, pytest.raises(ConnectionClosed) as closed:
        socket.recv(10)
    assert closed.value.rcvd
    assert closed.value.rcvd.code == 4403


@pytest.mark.parametrize("path", ["/metrics", "/readyz"])
def test_what_is_for_the_operator_inside_is_not_there(path: str, proxy: Proxy):
    answer = proxy.get(path)

    assert (answer.status_code, answer.text) == (404, "")


@pytest.mark.parametrize("kilobytes", [280, 400])
def test_too_long_a_body_is_refused_by_the_board_or_before_it(kilobytes: int, proxy: Proxy, people: dict[str, Any]):
    assert proxy.post("/api/v1/batch/", people["token"], content=b" " * kilobytes * 1024).status_code == 413


def test_plain_http_leads_people_to_https_and_refuses_programs(proxy: Proxy):
    base = f"http://localhost:{proxy.http}"

    page, program = httpx.get(f"{base}/board/"), httpx.get(f"{base}/api/v1/cases/")

    assert (page.status_code, page.headers["Location"]) == (308, "https://localhost/board/")
    assert (program.status_code, program.text) == (403, "Use https.")


class Echo(BaseHTTPRequestHandler):
    """A server that answers with what it was told of the client, and by which name."""

    def do_GET(self) -> None:
        told = {name: self.headers.get_all(name) for name in ("X-Forwarded-For", "X-Forwarded-Proto", "Host")}
        body = json.dumps({**told, "by": self.server.server_port}).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Nothing."""


@pytest.mark.parametrize(("path", "by"), [("/api/v1/cases/", 0), ("/sign-in/", 1), ("/ws/board/", 1)])
def test_the_servers_are_told_the_address_that_the_proxy_saw_whatever_a_client_claims(
    path: str, by: int, tmp_path: Path
):
    """Who may wait and who is counted goes by that address; the API goes to its own server."""
    with ThreadingHTTPServer(("127.0.0.1", 0), Echo) as web, ThreadingHTTPServer(("127.0.0.1", 0), Echo) as live:
        for server in (web, live):
            Thread(target=server.serve_forever, daemon=True).start()
        ports = (web.server_port, live.server_port)
        claims = {
            "X-Forwarded-For": "198.51.100.7",
            "X-Forwarded-Proto": "http",
            "X-Forwarded-Host": "elsewhere.example",
        }

        with Proxy(tmp_path, *ports).running() as proxy:
            told = proxy.get(path, **claims).json()

        web.shutdown()
        live.shutdown()
    assert (told["X-Forwarded-For"], told["X-Forwarded-Proto"]) == (["127.0.0.1"], ["https"])
    assert (told["Host"], told["by"]) == ([f"localhost:{proxy.https}"], ports[by])
