"""Who may open a socket, and how it ends with the right to it."""

import asyncio
from importlib import import_module

import pytest
from django.conf import settings as configured
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

from consult import access
from consult.live.hub import Hub, Pace
from consult.models import Membership
from tests.conftest import open_consult
from tests.live.cast import change, expire, leave, open_case, person, revoke
from tests.live.watcher import Watcher

pytestmark = pytest.mark.django_db(transaction=True)
NOT_SIGNED_IN, NO_PERMISSION = 4401, 4403
BOARD = "/ws/board/"
CASE = "/ws/cases/{}/"
TOKEN_KEPT_AS_DELIVERED = access.TOKEN_KEPT  # the tests of this folder keep tokens shorter
OWN = {"Host": "board.example", "Origin": "https://board.example"}


@pytest.mark.parametrize(
    ("who", "may"),
    [
        ("merrin", True),
        ("averill", True),
        ("sorrel", True),
        ("osk", False),
    ],
)
async def test_the_board_is_for_those_who_watch(who, may, hub, cast):
    board = await Watcher.on(hub, BOARD, cast.tokens[who])

    if may:
        assert (await board.read())["type"] == "hello"
    else:
        assert await board.closed_with() == NO_PERMISSION
    await board.leave()


@pytest.mark.parametrize(
    ("who", "may"),
    [
        ("osk", True),
        ("merrin", True),
        ("averill", True),
        ("sorrel", True),
        ("lund", False),
        ("vane", False),
        ("tarn", False),
    ],
)
async def test_a_case_is_for_its_crew_and_its_agencys_watchers(who, may, hub, cast, do):
    case = await do(open_case, cast.osk)
    page = await Watcher.on(hub, f"/ws/cases/{case.uid}/", cast.tokens[who])

    if may:
        assert (await page.read())["cases"][0]["case"] == str(case.uid)
    else:
        assert await page.closed_with() == NO_PERMISSION
    await page.leave()


async def test_an_unknown_case_is_refused(hub, cast):
    page = await Watcher.on(hub, "/ws/cases/00000000-0000-7000-8000-000000000000/", cast.tokens["merrin"])

    assert await page.closed_with() == NO_PERMISSION
    await page.leave()


@pytest.mark.parametrize(
    "headers",
    [
        pytest.param(OWN, id="nothing"),
        pytest.param({"Authorization": "Token " + "0" * 64}, id="unknown token"),
        pytest.param({"Authorization": "Token"}, id="no token after the word"),
        pytest.param({"Authorization": "Basic dXNlcjpwYXNz"}, id="another scheme"),
        pytest.param({**OWN, "Cookie": f"{configured.SESSION_COOKIE_NAME}=forged"}, id="unknown session"),
    ],
)
async def test_nobody_signed_in_is_told_so(headers, hub, cast, settings):
    settings.ALLOWED_HOSTS = ["board.example"]
    board = Watcher(hub, BOARD, headers, scheme="wss")
    await board.connect()

    assert await board.closed_with() == NOT_SIGNED_IN
    await board.leave()


async def test_another_agency_is_told_nothing(cast, watch, do):
    board, other = await watch("merrin"), await watch("vane")

    case = await do(open_case, cast.osk)

    await board.until(lambda b: str(case.uid) in b.cards)
    assert await other.nothing_more()
    assert other.hello["cases"] == []


@pytest.mark.parametrize("end", [revoke, expire, leave])
async def test_a_token_or_membership_that_ends_closes_the_socket(end, cast, watch, do):
    board, other = await watch("merrin"), await watch("averill")

    await do(end, cast.merrin)

    assert await board.closed_with(within=3) == NOT_SIGNED_IN
    assert (await other.read())["type"] == "tick"


async def test_a_role_that_changes_closes_the_socket(cast, watch, do):
    board = await watch("merrin")

    await do(Membership.objects.filter(pk=cast.merrin.membership).update, role="supervisor")

    assert await board.closed_with(within=3) == NOT_SIGNED_IN


def test_as_delivered_an_ended_right_closes_within_five_seconds():
    assert Pace().check + TOKEN_KEPT_AS_DELIVERED.total_seconds() < 5


async def test_a_case_that_moves_to_another_unit_closes_its_former_crews_socket(cast, watch, do):
    case = await do(open_case, cast.osk)
    page = await watch("osk", f"/ws/cases/{case.uid}/")

    await do(change, case, unit_id=cast.lund.unit)

    assert await page.closed_with() == NO_PERMISSION


async def test_a_socket_is_closed_after_its_longest_time(cast):
    hub = Hub(Pace(check=0.05, longest=0.1))
    board = await Watcher.on(hub, BOARD, cast.tokens["merrin"])

    assert await board.closed_with() == 1001
    await board.leave()


@pytest.mark.parametrize(
    ("origin", "scheme", "may"),
    [
        pytest.param("https://board.example", "wss", True, id="our own page"),
        pytest.param("https://portal.example", "wss", True, id="a page named in the settings"),
        pytest.param("http://board.example", "wss", False, id="our host without TLS"),
        pytest.param("https://board.example", "ws", False, id="a TLS page on a plain socket"),
        pytest.param("https://board.example:8443", "wss", False, id="another port"),
        pytest.param("https://board.example.evil", "wss", False, id="our name as a prefix"),
        pytest.param("https://evil", "wss", False, id="another site"),
        pytest.param("null", "wss", False, id="a sandboxed page"),
        pytest.param(None, "wss", False, id="no origin at all"),
    ],
)
async def test_a_session_counts_only_from_our_own_pages(origin, scheme, may, hub, cast, do, settings):
    settings.ALLOWED_HOSTS, settings.CSRF_TRUSTED_ORIGINS = ["board.example"], ["https://portal.example"]
    cookie = await do(sign_in, cast.merrin)
    headers = {"Host": "board.example", "Cookie": cookie} | ({"Origin": origin} if origin else {})
    board = Watcher(hub, BOARD, headers, scheme=scheme)
    await board.connect()

    if may:
        assert (await board.read())["type"] == "hello"
    else:
        assert await board.closed_with() == NO_PERMISSION
    await board.leave()


async def test_a_host_that_is_not_ours_is_refused(hub, cast, do, settings):
    settings.ALLOWED_HOSTS = ["board.example"]
    cookie = await do(sign_in, cast.merrin)
    board = Watcher(hub, BOARD, {"Host": "evil", "Origin": "https://evil", "Cookie": cookie}, scheme="wss")
    await board.connect()

    assert await board.closed_with() == NO_PERMISSION
    await board.leave()


@pytest.mark.parametrize("end", ["sign out", "password", "deactivate", "membership", "other membership"])
async def test_a_session_that_ends_closes_the_socket(end, hub, cast, do, settings):
    settings.ALLOWED_HOSTS = ["board.example"]
    cookie = await do(sign_in, cast.merrin)
    board = Watcher(hub, BOARD, {**OWN, "Cookie": cookie}, scheme="wss")
    await board.connect()
    await board.read()

    await do(end_session, cast.merrin, cast.vane, cookie, end)

    assert await board.closed_with(within=3) == NOT_SIGNED_IN
    await board.leave()


@pytest.mark.parametrize(("who", "heard"), [("osk", True), ("merrin", False)])
async def test_a_crew_that_opens_its_case_has_been_heard_of(who, heard, cast, watch, do):
    case = await do(open_case, cast.osk)
    before = case.last_contact_at

    await watch(who, f"/ws/cases/{case.uid}/")

    await do(case.refresh_from_db)
    assert (case.last_contact_at > before) == heard


@pytest.mark.parametrize(
    ("who", "address", "at_it"), [("merrin", CASE, True), ("averill", CASE, False), ("merrin", BOARD, False)]
)
async def test_a_physician_who_has_the_case_open_is_at_it(who, address, at_it, cast, watch, do):
    case = await do(lambda: open_consult(cast).row)
    await do(person, getattr(cast, who))

    await watch(who, address.format(case.uid))

    await do(case.refresh_from_db)
    assert (case.attended_at is not None) == at_it


@pytest.mark.parametrize("path", ["/ws/", "/ws/board", "/ws/cases/7/", "/elsewhere/"])
async def test_an_address_that_does_not_exist_takes_no_handshake(path, cast, hub):
    watcher = Watcher(hub, path, {"Authorization": f"Token {cast.tokens['merrin']}"})
    await watcher.socket.send_input({"type": "websocket.connect"})
    assert (await watcher.socket.receive_output(3))["type"] == "websocket.close"


async def test_what_clients_send_is_ignored_and_much_of_it_closes(cast, watch):
    board = await watch()

    await board.socket.send_input({"type": "websocket.receive", "text": "hello?"})
    assert (await board.read())["type"] == "tick"

    await board.socket.send_input({"type": "websocket.receive", "bytes": b"x" * 2000})
    assert await board.closed_with() == 1009


async def test_the_hub_rests_without_sockets(hub, cast):
    board = await Watcher.on(hub, BOARD, cast.tokens["merrin"])
    await board.read()
    assert len(asyncio.all_tasks()) > 5

    await board.leave()
    assert hub.seats == []
    async with asyncio.timeout(3):
        while len(asyncio.all_tasks()) > 1:
            await asyncio.sleep(0)


def session_of(cookie=None):
    store = import_module(configured.SESSION_ENGINE).SessionStore
    return store(cookie and cookie.partition("=")[2])


def sign_in(member):
    """A session cookie as the sign-in page leaves it."""
    user, session = person(member), session_of()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = configured.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    return f"{configured.SESSION_COOKIE_NAME}={session.session_key}"


def end_session(member, elsewhere, cookie, how):
    user = person(member)
    if how == "sign out":
        session_of(cookie).flush()
    elif how == "password":
        user.set_password("correct horse battery")
        user.save()
    elif how == "deactivate":
        user.is_active = False
        user.save()
    elif how == "membership":
        leave(member)
    else:
        other = Membership.objects.create(agency_id=elsewhere.agency, user=user, name="moved", role="physician")
        session = session_of(cookie)
        session["membership"] = str(other.pk)
        session.save()
