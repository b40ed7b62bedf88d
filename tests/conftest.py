"""The cast, in one agency and another, and a case to work on; time stands still at `NOON` until a test moves it."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.template import Template
from hypothesis import settings

from tests import depth
from tests.stored_rows import StoredRows

settings.load_profile(depth.PROFILE)
RENDERED_AS_SERVED = Template._render

# Where compiled files are unwanted, each process that a test starts would compile the whole project anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

pytest_plugins = ["tests.plugins.services"]


# Fixtures that every test has, by pytest-django, pytest-playwright and this file.
OF_THE_FRAMEWORK = ("_dj", "django_", "_live_server", "_template_string", "_fail_for_invalid", "_pw_", "delete_output")
OF_THE_FRAMEWORK += ("_journal_can", "_files_are", "_pages_are", "_seals_of", "_passwords_are")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[object]:
    """What is collected stays to the end: to look for garbage among it again and again took two fifths of the time."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_xdist_auto_num_workers() -> int:
    """Three for two cores: who drives a browser, or a board's own processes, waits for them much of the time."""
    cores = os.cpu_count() or 1
    return cores + cores // 2


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests are handed out one by one, the others by file: to hand out thousands takes longer than to run most.

    The rules know no framework: what is set up of it for each test took longer than most of their thousands of tests.
    SQLite, as it is set up, waits for no disk: what asks for that is of PostgreSQL alone.
    """
    if connection.vendor != "postgresql":
        items[:] = [item for item in items if not item.get_closest_marker("postgresql")]
    if not depth.NIGHT:
        items[:] = [item for item in items if not item.get_closest_marker("night")]
    for item in items:
        if "tests/dosing/" in item.path.as_posix() and isinstance(item, pytest.Function):
            item.fixturenames[:] = [name for name in item.fixturenames if not name.startswith(OF_THE_FRAMEWORK)]
        if "tests/browser/" not in item.path.as_posix() and not item.get_closest_marker("xdist_group"):
            item.add_marker(pytest.mark.xdist_group(f"{item.path.parent.name}.{item.path.stem}"))


class LastOfAll:
    """A hook that comes after the plugins' own."""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Whole shifts run first, which take longest; browser tests last: their driver keeps an event loop in this
        thread, in which no async test could run."""
        order = {"faults": -1, "browser": 1}
        items.sort(key=lambda item: order.get(item.path.parent.name, 0))


def pytest_configure(config: pytest.Config) -> None:
    """Have the browser tests put last once pytest-django has put those with a database first."""
    config.pluginmanager.register(LastOfAll(), "browser_last")


NOON = datetime(2030, 1, 5, 12, 0, tzinfo=UTC)


def later(**passed: float) -> datetime:
    """The time so long after noon."""
    return NOON + timedelta(**passed)


def earlier(**before: float) -> datetime:
    """The time so long before noon."""
    return NOON - timedelta(**before)


@pytest.fixture(scope="session", autouse=True)
def _journal_can_be_emptied() -> Iterator[None]:
    """Lift the journal's triggers while a test's tables are emptied."""
    from django.db import transaction
    from django.test import TransactionTestCase

    from consult.journal import triggers

    empty = TransactionTestCase._fixture_teardown
    tables = connection.introspection.django_table_names(include_views=False)
    delete = [f"DELETE FROM {connection.ops.quote_name(table)}" for table in tables]

    def lifted(case: Any) -> None:
        """Empty all tables, row by row: to truncate them takes PostgreSQL a second. Links are held at the end alone."""
        triggers.lift()
        with transaction.atomic(), connection.cursor() as cursor:
            for statement in delete:
                cursor.execute(statement)
        triggers.install()

    TransactionTestCase._fixture_teardown = lifted  # type: ignore[method-assign]
    yield
    TransactionTestCase._fixture_teardown = empty  # type: ignore[method-assign]


@pytest.fixture(scope="session", autouse=True)
def _files_are_looked_up_when_asked_for() -> None:
    """A client of its own for each person of each test would else list all files of the pages first."""
    from django.conf import settings

    settings.WHITENOISE_AUTOREFRESH = True


@pytest.fixture(scope="session", autouse=True)
def _pages_are_rendered_as_served(django_test_environment: None) -> None:
    """No test asks which templates a page came of: to copy for it what each was given took a tenth of the time."""
    Template._render = RENDERED_AS_SERVED


@pytest.fixture(scope="session")
def seals_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One for all tests: to make a folder for each, and to clear thousands away at the next run, took seconds."""
    return tmp_path_factory.mktemp("seals")


@pytest.fixture
def seals_file(settings: Any, seals_folder: Path) -> Path:
    """The seals of a test's own journals, not those of a board that runs on this machine."""
    settings.SEALS_FILE = seals_folder / uuid4().hex
    return settings.SEALS_FILE


@pytest.fixture(autouse=True)
def _seals_of_its_own(request: pytest.FixtureRequest) -> None:
    """Whoever has a journal has seals; thousands of tests of the rules have neither."""
    if {"db", "transactional_db"} & set(request.fixturenames):
        request.getfixturevalue("seals_file")


@pytest.fixture(scope="session", autouse=True)
def _passwords_are_hashed_quickly() -> None:
    """Argon2 is slow on purpose; boards that run as processes of their own keep to it."""
    from django.conf import settings

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *settings.PASSWORD_HASHERS]


@dataclass
class Cast:
    """Osk drives Kestrel 2, Lund Plover 8; Merrin and Quillan decide; Averill looks back; Sorrel directs medicine.

    Tarn (crew of Heron 3) and Vane (physician) belong to another agency and must see nothing; `tokens` by their names.
    """

    osk: Any
    lund: Any
    merrin: Any
    quillan: Any
    averill: Any
    sorrel: Any
    tarn: Any
    vane: Any
    tokens: dict[str, str]


@pytest.fixture(scope="session")
def stored_cast() -> StoredRows[Cast]:
    """Making the cast costs more than most tests."""
    return StoredRows(make_cast)


@pytest.fixture
def cast(db: None, stored_cast: StoredRows[Cast]) -> Cast:
    from django.core.cache import caches

    from consult import access
    from consult.actions import accounts

    access.forget_tokens()
    accounts.forget_contacts()
    caches["allowances"].clear()
    return stored_cast.get()


def make_cast() -> Cast:
    """Make the people, their units and tokens."""
    from consult import access
    from consult.actions import accounts

    here, there = accounts.make_agency("Brindle Vale"), accounts.make_agency("Harrow Fen")
    kestrel, plover = accounts.make_unit(here, "Kestrel 2"), accounts.make_unit(here, "Plover 8")
    heron = accounts.make_unit(there, "Heron 3")
    members = {
        "osk": accounts.make_member(here, "crew", unit=kestrel, name="J. Osk"),
        "lund": accounts.make_member(here, "crew", unit=plover, name="B. Lund"),
        "merrin": accounts.make_member(here, "physician", name="Dr. Merrin"),
        "quillan": accounts.make_member(here, "physician", name="Dr. Quillan"),
        "averill": accounts.make_member(here, "supervisor", name="N. Averill"),
        "sorrel": accounts.make_member(here, "director", name="Dr. Sorrel"),
        "tarn": accounts.make_member(there, "crew", unit=heron, name="E. Tarn"),
        "vane": accounts.make_member(there, "physician", name="Dr. Vane"),
    }
    tokens = {name: accounts.issue_token(member, NOON) for name, member in members.items()}
    actors = {name: access.actor_for_token(token, NOON) for name, token in tokens.items()}
    return Cast(**actors, tokens=tokens)


def with_a_user(actor: Any) -> str:
    """Give one of the cast the account that a person has; its user name, which is the name in small letters."""
    from consult.models import Membership, User

    title, name = actor.name.split()
    user, _ = User.objects.get_or_create(username=name.lower(), defaults={"first_name": title, "last_name": name})
    Membership.objects.filter(pk=actor.membership).update(user=user)
    return name.lower()


ADULT = {
    "age": {"value": 58, "unit": "years", "basis": "stated"},
    "sex": "male",
    "weight": {"value": 80, "unit": "kg", "basis": "measured"},
    "allergies": [],
    "fluid_restricted": False,
}


def child(years: float, kilograms: float) -> dict[str, Any]:
    """A child of this age and weight."""
    return {**ADULT, "age": {"value": years, "unit": "years", "basis": "stated"}} | {
        "weight": {"value": kilograms, "unit": "kg", "basis": "measured"}
    }


@dataclass
class Consult:
    """One open case, and the short forms of what happens in it; `now` is when the server hears of it."""

    cast: Cast
    uid: UUID

    def vitals(
        self, *, at: datetime = NOON, now: datetime | None = None, by: Any = None, arrival: Any = None, **values: Any
    ) -> Any:
        from consult.actions import vitals

        data = {"id": uuid4(), "taken_at": at, **values}
        return vitals.record_vitals(by or self.cast.osk, self.uid, data, now or at, arrival)

    def give(
        self,
        treatment: str,
        value: float,
        unit: str,
        *,
        at: datetime = NOON,
        now: datetime | None = None,
        arrival: Any = None,
        **more: Any,
    ) -> Any:
        from consult.actions import interventions

        dose = {"treatment": treatment, "amount": {"value": value, "unit": unit}, "route": "IV", "given_at": at}
        data = {"id": uuid4(), **dose, **more}
        return interventions.record_intervention(self.cast.osk, self.uid, data, now or at, arrival)

    def ask(self, value: float = 30, unit: str = "mcg", *, at: datetime = NOON, by: Any = None, **more: Any) -> Any:
        from consult.actions import orders

        wanted = {"treatment": "epinephrine-push-dose", "amount": {"value": value, "unit": unit}, "route": "IV"}
        data = {"id": uuid4(), "at": at, "reason": "no response to fluid", **wanted, **more}
        return orders.request_order(by or self.cast.osk, self.uid, data, at)

    @property
    def row(self) -> Any:
        from consult.models import Case

        return Case.objects.get(uid=self.uid)

    @property
    def card(self) -> dict[str, Any]:
        import msgspec

        card: dict[str, Any] = msgspec.json.decode(self.row.card)
        return card

    @property
    def alerts(self) -> set[str]:
        """The kinds of the alerts on the card, but for the one that no physician has control: here hardly one has."""
        return {alert["kind"] for alert in self.card["alerts"]} - {"not_accepted"}

    @property
    def journal(self) -> list[dict[str, Any]]:
        from consult import queries

        return queries.journal(self.row)

    @property
    def kinds(self) -> list[str]:
        """The kinds of the journal's entries, in order."""
        return [entry["kind"] for entry in self.journal]


def open_consult(cast: Cast, patient: dict[str, Any] | None = None, **more: Any) -> Consult:
    """Kestrel 2 opens a case twenty minutes before noon, heard of at noon."""
    from consult.actions import cases

    data = {"id": uuid4(), "opened_at": earlier(minutes=20), "patient": patient or ADULT, "complaint": "weak, pale"}
    cases.open_case(cast.osk, {**data, "impression": "septic", **more}, NOON)
    return Consult(cast, data["id"])


@pytest.fixture
def consult(cast: Cast) -> Consult:
    return open_consult(cast)
