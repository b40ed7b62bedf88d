"""The simulated crew leaves its case to a person of the unit as soon as one is there, and to nobody else."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from django.test import Client

from consult import clock
from consult.actions import demonstration, notes
from consult.models import Case, JournalEntry, Membership
from consult.simulation import lookout
from consult.simulation.leftovers import INCIDENT
from consult.simulation.link import Link
from consult.simulation.scenario import Step, shipped
from consult.simulation.unit import Unit
from tests.simulation.fake_board import FakeBoard, live

START = datetime(2030, 1, 5, 10, tzinfo=UTC)
ORDER = {
    "id": "0191d0c0-0000-7000-8000-000000000001",
    "state": "approved",
    "treatment": "epinephrine-push-dose",
    "amount": {"value": 10, "unit": "mcg"},
    "route": "IV",
}


def unit_on(link: Link, start: datetime = START) -> Unit:
    return Unit("Kestrel 2", shipped()[0], link, start=start, seed=5)


def lines(*written: tuple[str, str, str], **data: Any) -> list[dict[str, Any]]:
    """Journal lines of (kind, name, role)."""
    told = [{"kind": kind, "by": {"name": name, "role": role} if name else None} for kind, name, role in written]
    return [{"seq": number, "data": data, **line} for number, line in enumerate(told, start=1)]


OWN = ("case.opened", "Kestrel 2 tablet", "crew")
OTHERS = {
    "its own device": OWN,
    "a physician": ("order.decided", "Dr. Merrin", "physician"),
    "the clock": ("alert.raised", "", ""),
}
PERSONS = {
    "has written": ("note.added", "Jory Osk", "crew"),
    "has opened the case": (lookout.TAKEN_OVER, "", ""),
}


def met(written: tuple[str, str, str]) -> FakeBoard:
    """A board on which a unit has met an approved order, after half a minute with this line in the journal."""
    board = FakeBoard()
    unit = unit_on(board.link())
    moment = live(unit, START, 0.1)
    board.orders[ORDER["id"]] = dict(ORDER)
    board.journal = lines(OWN, written, crew="Jory Osk")
    board.entries.clear()
    live(unit, moment, 1)
    return board


@pytest.mark.parametrize("written", PERSONS.values(), ids=PERSONS)
def test_a_person_has_the_case_to_themselves(written: tuple[str, str, str]) -> None:
    assert met(written).entries == []


@pytest.mark.parametrize("written", OTHERS.values(), ids=OTHERS)
def test_nobody_else_takes_it(written: tuple[str, str, str]) -> None:
    assert {"readback", "vitals"} <= {kind for kind, _, _ in met(written).entries}


def test_what_was_gathered_out_of_coverage_is_not_sent_after_a_person_has_come() -> None:
    board = FakeBoard()
    unit = unit_on(board.link())
    moment = live(unit, START, 0.1)
    unit._perform(Step(0, "lose_contact", {"minutes": 2}), moment)
    moment = live(unit, moment, 1.9)
    assert unit.outbox.waiting
    board.journal = lines(OWN, PERSONS["has written"])
    board.entries.clear()

    live(unit, moment, 3)

    assert board.entries == []


def test_the_journal_is_read_only_when_the_card_has_moved_on() -> None:
    board = FakeBoard()
    board.journal = lines(OWN)

    live(unit_on(board.link()), START, 2)

    assert [path.partition("/journal/")[2] for path in board.asked if "journal" in path] == ["?after=0"]


def test_page_and_simulation_speak_of_the_same() -> None:
    from consult import events

    assert (demonstration.RUN, events.CaseTakenOver.kind) == (INCIDENT, lookout.TAKEN_OVER)


@pytest.mark.django_db
class TestOnARealBoard:
    @pytest.fixture
    def unit(self, settings: Any) -> Unit:
        """Kestrel 2 of a demonstration that runs, its case open."""
        settings.DEMONSTRATION_KEY = "the key of this run"
        now = clock.now()
        demonstration.make_accounts(now)
        (device,) = demonstration.make_devices(1, now)
        link = Link("http://testserver", device["token"], transport=httpx.MockTransport(to_client(Client())))
        unit = unit_on(link, now)
        unit.tick(now)
        assert Case.objects.get().incident.startswith(INCIDENT)
        return unit

    def osk(self) -> Client:
        client = Client()
        client.force_login(Membership.objects.get(user__username="osk").user)  # type: ignore[arg-type]
        return client

    def test_its_own_entries_leave_it_at_work(self, unit: Unit) -> None:
        later(unit, 3, 60)

        assert not unit.stands_back
        assert JournalEntry.objects.filter(kind="vitals.recorded").count() > 1

    def test_the_first_look_at_a_crews_page_takes_the_case_over_and_says_so(self, unit: Unit) -> None:
        case = Case.objects.get()
        pages = [self.osk().get(f"/crew/{case.uid}/{page}").text for page in ("", "orders/", "")]
        assert "You have this case now: the simulated crew has stepped back." in pages[0]
        seq = Case.objects.get().seq

        later(unit, 3, 60)

        assert unit.stands_back
        assert Case.objects.get().seq == seq
        assert JournalEntry.objects.filter(kind=lookout.TAKEN_OVER).count() == 1

    def test_an_entry_by_a_person_does_too(self, unit: Unit) -> None:
        from consult import access

        user, case = Membership.objects.get(user__username="osk").user, Case.objects.get()
        assert user
        now = clock.now()
        notes.add_note(access.actor_for_user(user, None, now), case.uid, {"text": "Skin cool.", "at": now}, now)

        later(unit, 3)

        assert unit.stands_back

    def test_without_a_demonstration_that_runs_nothing_is_taken_over(self, unit: Unit, settings: Any) -> None:
        settings.DEMONSTRATION_KEY = ""

        assert "simulated crew" not in self.osk().get(f"/crew/{Case.objects.get().uid}/").text
        assert not JournalEntry.objects.filter(kind=lookout.TAKEN_OVER).exists()

    def test_neither_is_a_case_that_a_person_has_opened(self, unit: Unit) -> None:
        Case.objects.update(incident="run 4711")

        assert "simulated crew" not in self.osk().get(f"/crew/{Case.objects.get().uid}/").text


def later(unit: Unit, *seconds: float) -> None:
    """Let the unit live on at moments so long after now."""
    now = clock.now()
    for passed in seconds:
        unit.tick(now + timedelta(seconds=passed))


def to_client(client: Client) -> Callable[[httpx.Request], httpx.Response]:
    """The board of this very process for an HTTP client."""

    def answer(request: httpx.Request) -> httpx.Response:
        path = request.url.raw_path.decode()
        headers = {"Authorization": request.headers["Authorization"]}
        body = json.loads(request.content) if request.content else None
        send = getattr(client, request.method.lower())
        told = send(path, headers=headers) if body is None else send(path, body, "application/json", headers=headers)
        return httpx.Response(told.status_code, content=told.content)

    return answer
