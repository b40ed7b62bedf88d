"""`manage.py demo`: one command shows a board with live cases, to this machine alone."""

import json
import re
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import httpx
import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from consult import clock
from consult.actions import accounts, demonstration
from consult.management import past_consults
from consult.management.commands import serve
from consult.models import Agency, User
from tests.processes.board_process import BoardProcess, alive, running_board, wait_for, with_tables

pytestmark = [pytest.mark.processes, pytest.mark.xdist_group("demo")]
ROLES = ("crew", "physician", "supervisor", "director")
WORDS = ("demo", "--units", "2", "--speed", "20")


@pytest.fixture(scope="module")
def one(tmp_path_factory) -> Iterator[BoardProcess]:
    """The one demonstration of this file."""
    with running_board(with_tables(tmp_path_factory.mktemp("d"), tmp_path_factory), *WORDS) as board:
        yield board


@pytest.fixture
def demo(one) -> BoardProcess:
    """That demonstration, started again where a test has ended it."""
    return one.start() if one.ended else one


@contextmanager
def signed_in(demo: BoardProcess, role: str) -> Iterator[httpx.Client]:
    """A browser that has pressed the button behind the link of this role."""
    links = {name: link for link, name in re.findall(rf"{demo.base}(/demonstration/(\w+)/\w+/)", demo.text)}
    assert set(links) == set(ROLES)
    with httpx.Client(base_url=demo.base) as browser:
        form = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', browser.get(links[role]).text)
        pressed = browser.post(links[role], data={"csrfmiddlewaretoken": form[1]}, headers={"Origin": demo.base})
        assert pressed.status_code == 302
        assert browser.get(pressed.headers["Location"]).status_code == 200
        yield browser


def tokens_file_of(demo: BoardProcess) -> Path:
    """The file by which the simulated units get their tokens."""
    simulate = wait_for(lambda: demo.children().get("simulate"))
    words = Path(f"/proc/{simulate}/environ").read_bytes().decode().split("\0")
    return Path(next(word.split("=", 1)[1] for word in words if word.startswith("CONSULT_TOKENS_FILE=")))


def test_it_prints_the_address_and_every_sign_in(demo):
    assert f"Consult board at {demo.base}/" in demo.text
    for who in ("crew", "crew2", "physician", "physician2", "supervisor", "director", "outsider crew"):
        assert f"  {who} " in demo.text


@pytest.mark.parametrize("role", ROLES)
def test_each_role_signs_in_by_its_link_with_one_press(demo, role):
    with signed_in(demo, role) as browser:
        assert browser.cookies


def test_simulated_units_post_cases_through_the_api(demo):
    def cases():
        answer = browser.get("/api/v1/cases/?state=open")
        assert answer.status_code == 200, answer.text
        return answer.json()["results"]

    with signed_in(demo, "physician") as browser:
        wait_for(lambda: len(cases()) == 2)


def test_tokens_go_by_a_private_file_and_by_no_command_line(demo):
    tokens_file = tokens_file_of(demo)
    assert stat.S_IMODE(tokens_file.stat().st_mode) == 0o600
    tokens = {device["token"] for device in json.loads(tokens_file.read_text())}
    assert len(tokens) == 2
    lines = [Path(f"/proc/{pid}/cmdline").read_text() for pid in (*demo.children().values(), demo.process.pid)]
    assert not [line for line in lines for token in tokens if token in line]
    assert not [token for token in tokens if token in demo.text]


@pytest.mark.django_db
def test_a_database_with_demonstration_accounts_is_not_served_to_others(monkeypatch):
    demonstration.make_accounts(clock.now())
    monkeypatch.setattr(serve, "Supervisor", pytest.fail)
    with pytest.raises(CommandError, match="demonstration accounts"):
        call_command("serve", host="0.0.0.0")


def printed_accounts() -> str:
    """What `demo_accounts --json` prints."""
    out = StringIO()
    call_command("demo_accounts", json=True, stdout=out)
    return out.getvalue()


class TestDemoAccounts:
    @pytest.mark.django_db
    def test_they_are_one_json_object_of_the_named_shape(self):
        made = json.loads(printed_accounts())
        assert set(made) == {"crew", "crew2", "physician", "physician2", "supervisor", "director", "outsider"}
        assert set(made["crew"]) == {"unit", "unit_id", "username", "password", "token"}
        assert set(made["physician"]) == {"username", "password", "token"}
        assert set(made["outsider"]) == {"crew", "physician"}

    @pytest.mark.django_db
    def test_renewing_them_leaves_tokens_in_use_valid(self):
        first, second = (json.loads(printed_accounts()) for _ in range(2))
        assert first["crew"]["token"] != second["crew"]["token"]
        assert first["crew"]["password"] == second["crew"]["password"]
        for each in (first, second):
            token = Client(headers={"Authorization": f"Token {each['crew']['token']}"})
            assert token.get("/api/v1/cases/").status_code == 200

    @pytest.mark.django_db
    def test_a_board_that_others_reach_makes_none(self, settings):
        settings.HTTPS = True
        with pytest.raises(CommandError, match="for one machine only"):
            printed_accounts()
        assert not Agency.objects.exists()

    @pytest.mark.django_db
    def test_a_password_is_hashed_once_and_set_again_only_where_it_is_another(self, monkeypatch):
        """Hashing is slow on purpose: eight people twice were a third of a demonstration's first start."""
        tried: list[str] = []
        check = User.check_password
        monkeypatch.setattr(User, "check_password", lambda user, text: tried.append(text) or check(user, text))
        person = accounts.make_person("merrin", "Ida", "Merrin", "a long pass phrase")
        assert tried == []
        assert accounts.make_person("merrin", "Ida", "Merrin", "a long pass phrase").password == person.password
        assert accounts.make_person("merrin", "Ida", "Merrin", "another pass phrase").check_password(
            "another pass phrase"
        )


def test_its_history_holds_finished_consults(demo):
    before = (datetime.now(UTC) - timedelta(hours=2)).isoformat()  # transports of today may have ended too
    with signed_in(demo, "supervisor") as browser:
        answer = browser.get("/api/v1/history/", params={"opened_to": before})
    assert (answer.status_code, len(answer.json()["results"])) == (200, len(list(past_consults.STORIES.glob("*.toml"))))


def test_ctrl_c_ends_the_units_too_and_removes_their_tokens(demo):
    tokens_file, children = tokens_file_of(demo), demo.children()
    assert demo.signal() < 10
    assert [name for name, pid in children.items() if alive(pid)] == []
    assert not tokens_file.exists()
