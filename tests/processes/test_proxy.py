"""Proxy and servers of the compose file as they stand there: what goes to whom, what is refused, what a browser gets.

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
from contextlib import ExitStack, contextmanager
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

from tests.processes.board_process import PROJECT, BoardProcess, free_port, prepared, process, wait_for
from tests.processes.compose import SERVICES, command_of

CADDY = shutil.which("caddy") or shutil.which("caddy", path=str(Path(sys.executable).parent))
NO_CADDY = "there is no caddy: install requirements-test.lock"
pytestmark = [pytest.mark.processes, pytest.mark.xdist_group("proxy")]
CADDYFILE = (PROJECT / "deploy" / "Caddyfile").read_text()
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
        if not CADDY:
            pytest.skip(NO_CADDY)
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
        patient = {"proxy": None, "open_timeout": 60}  # on a machine on which other tests run
        return connect(address, ssl=trusting, origin=Origin(origin), additional_headers=cookies, **patient)


@dataclass
class Servers:
    """The two servers of the compose file with just its words, on one database, reached by HTTPS alone."""

    live: BoardProcess
    web: BoardProcess

    @contextmanager
    def running(self) -> Iterator[None]:
        with ExitStack() as both:
            for name, server in (("web", self.web), ("live", self.live)):
                server.environment = self.live.environment
                server.process = both.enter_context(
                    process(*command_of(name, server.port), environment=server.environment)
                )
            # The proxy asks a server that is not there again only after 5 s.
            for server in (self.web, self.live):
                wait_for(lambda server=server: server.ended or server.get("/healthz") == (200, "ok\n"))
            yield


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("b")


@pytest.fixture(scope="module")
def people(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The demonstration's accounts in that folder's database."""
    return prepared(folder, tmp_path_factory)


@pytest.fixture(scope="module")
def servers(folder: Path, people: dict[str, Any]) -> Iterator[Servers]:
    made = Servers(live=BoardProcess(folder), web=BoardProcess(folder))
    made.live.environment |= {"HTTPS": "true", "ALLOWED_HOSTS": "localhost,127.0.0.1"}
    with made.running():
        yield made


@pytest.fixture(scope="module")
def proxy(servers: Servers, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """Before those servers."""
    with Proxy(tmp_path_factory.mktemp("p"), web=servers.web.port, live=servers.live.port).running() as made:
        yield made


@pytest.fixture(scope="module")
def merrin(proxy: Proxy, people: dict[str, Any]) -> Iterator[httpx.Client]:
    """A browser in which she has signed in."""
    with httpx.Client(base_url=proxy.base, verify=False, follow_redirects=True) as browser:
        (csrf,) = re.findall(r'csrfmiddlewaretoken" value="(\w+)"', browser.get("/sign-in/").text)[:1]
        who = {"login": people["physician"]["username"], "password": people["physician"]["password"]}
        headers = {"Origin": proxy.base, "Referer": proxy.base}
        landed = browser.post("/sign-in/", data={"csrfmiddlewaretoken": csrf, **who}, headers=headers)
        assert landed.url.path == "/board/", landed.text
        yield browser


@pytest.mark.parametrize("name", ["web", "live"])
def test_a_server_of_the_compose_file_starts_with_just_these_words(servers: Servers, name: str):
    server = getattr(servers, name)
    assert not server.ended
    assert server.get("/healthz") == (200, "ok\n")


def test_every_cookie_is_bound_to_this_very_host(merrin: httpx.Client):
    """RFC 6265bis, section 4.1.3.2, the __Host- prefix: secure, for all paths, for no other host of the domain."""
    cookies = list(merrin.cookies.jar)
    assert {(cookie.secure, cookie.path, cookie.domain_specified) for cookie in cookies} == {(True, "/", False)}
    assert all(cookie.name.startswith("__Host-") for cookie in cookies)
    kinds = {cookie.name.removeprefix("__Host-").partition("-")[0] for cookie in cookies}
    assert kinds == {"csrftoken", "session", "device"}


@pytest.mark.skipif(not CADDY, reason=NO_CADDY)
def test_it_is_the_version_of_the_compose_file():
    version = subprocess.run([str(CADDY), "version"], capture_output=True, text=True, check=True).stdout

    assert version.startswith(f"v{SERVICES['proxy']['image'].removeprefix('caddy:')}.")


@pytest.mark.skipif(not CADDY, reason=NO_CADDY)
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

        answer = proxy.post("/api/v1/cases/", people["crew"]["token"], json=OPENED)

        assert answer.status_code == 201, answer.text
        while (told := json.loads(socket.recv(10)))["type"] == "tick":
            continue
        assert (told["type"], told["case"]) == ("card", answer.json()["id"])


def test_another_sites_page_opens_no_socket_through_it(proxy: Proxy, merrin: httpx.Client):
    with proxy.socket(merrin, "https://elsewhere.example") as socket, pytest.raises(ConnectionClosed) as closed:
        socket.recv(10)
    assert closed.value.rcvd
    assert closed.value.rcvd.code == 4403


def test_pages_go_out_compressed_for_a_phones_mobile_data(merrin: httpx.Client):
    page = merrin.get("/board/", headers={"Accept-Encoding": "gzip"})

    assert (page.status_code, page.headers["Content-Encoding"]) == (200, "gzip")
    assert "</html>" in page.text


@pytest.mark.parametrize("path", ["/metrics", "/readyz"])
def test_what_is_for_the_operator_inside_is_not_there(path: str, proxy: Proxy):
    answer = proxy.get(path)

    assert (answer.status_code, answer.text) == (404, "")


@pytest.mark.parametrize("kilobytes", [257, 280, 400])
def test_too_long_a_body_is_refused_by_the_board_or_before_it(kilobytes: int, proxy: Proxy, people: dict[str, Any]):
    assert proxy.post("/api/v1/batch/", people["crew"]["token"], content=b" " * kilobytes * 1024).status_code == 413


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


@pytest.fixture(scope="module")
def before_echoes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxy]:
    """A proxy before servers that say what they were told."""
    with ThreadingHTTPServer(("127.0.0.1", 0), Echo) as web, ThreadingHTTPServer(("127.0.0.1", 0), Echo) as live:
        for server in (web, live):
            Thread(target=server.serve_forever, daemon=True).start()
        try:
            with Proxy(tmp_path_factory.mktemp("e"), web.server_port, live.server_port).running() as made:
                yield made
        finally:
            web.shutdown()
            live.shutdown()


@pytest.mark.parametrize(("path", "by"), [("/api/v1/cases/", "web"), ("/sign-in/", "live"), ("/ws/board/", "live")])
def test_the_servers_are_told_the_address_that_the_proxy_saw_whatever_a_client_claims(
    path: str, by: str, before_echoes: Proxy
):
    """Who may wait and who is counted goes by that address; the API goes to its own server."""
    claims = {"X-Forwarded-For": "198.51.100.7", "X-Forwarded-Proto": "http", "X-Forwarded-Host": "elsewhere.example"}

    told = before_echoes.get(path, **claims).json()

    assert (told["X-Forwarded-For"], told["X-Forwarded-Proto"]) == (["127.0.0.1"], ["https"])
    assert (told["Host"], told["by"]) == ([f"localhost:{before_echoes.https}"], getattr(before_echoes, by))
