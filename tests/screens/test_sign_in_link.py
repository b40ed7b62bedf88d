"""A one-time sign-in link: shown by GET, used up by POST, never twice, and no word more than its holder may know."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client

from consult import clock, queries
from consult.actions import accounts, people, sign_in_links
from consult.models import Agency, Membership, User
from tests.conftest import NOON, later

pytestmark = pytest.mark.django_db
GOOD = "seven dry lanterns"
BOTH = {"new_password1": GOOD, "new_password2": GOOD}


@pytest.fixture(autouse=True)
def at_noon(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """It is noon until a test says otherwise; nobody has tried too often."""
    cache.clear()

    def set_clock(now: datetime) -> None:
        monkeypatch.setattr(clock, "now", lambda: now)

    set_clock(NOON)
    return set_clock


@pytest.fixture
def tamar(db: None) -> Agency:
    return accounts.make_agency("Tamar Vale EMS")


@pytest.fixture
def merrin(tamar: Agency) -> Membership:
    """Dr. Merrin, a physician who has no password yet."""
    return people.add_member(tamar, "merrin", "physician", NOON, operator="root", name="Dr. Ida Merrin")


def address(member: Membership, **life: Any) -> str:
    return f"/sign-in/link/{sign_in_links.issue(member, NOON, operator='root', **life)[1]}/"


def test_it_says_who_one_is_and_a_scanner_that_follows_it_leaves_it_whole(merrin: Membership) -> None:
    link = address(merrin)
    for ask in (Client().get, Client().head, Client().get):
        assert ask(link).status_code == 200
    page = Client().get(link).text
    assert all(word in page for word in ("Set your password and sign in", "merrin", "physician", "Tamar Vale EMS"))
    assert "local protocol and the licensed clinician decide" in page
    assert not User.objects.get().has_usable_password()


@pytest.mark.parametrize(("role", "page"), [("physician", "/board/"), ("supervisor", "/board/"), ("crew", "/crew/")])
def test_one_post_sets_the_password_and_leads_to_the_page_of_the_role(
    tamar: Agency, settings: Any, role: str, page: str
) -> None:
    settings.PASSWORD_HASHERS = settings.PASSWORD_HASHERS[1:]  # without the quick one of the tests
    unit = accounts.make_unit(tamar, "Heron 1") if role == "crew" else None
    member = people.add_member(tamar, "osk", role, NOON, operator="root", unit=unit)
    client = Client()
    landed = client.post(address(member), BOTH, follow=True)
    assert landed.redirect_chain[-1][0] == page
    assert landed.status_code == 200
    user = User.objects.get()
    assert user.check_password(GOOD)
    assert user.password.startswith("argon2$argon2id$")
    signed_in = Client()
    assert signed_in.post("/sign-in/", {"login": "osk", "password": GOOD}).status_code == 302
    assert signed_in.get(page).status_code == 200


def test_who_is_a_member_elsewhere_too_acts_as_what_the_link_was_for(merrin: Membership) -> None:
    other = accounts.make_agency("A Fal Rescue")
    people.add_member(other, "merrin", "supervisor", NOON, operator="root")
    client = Client()
    client.post(address(merrin), BOTH)
    assert client.session["membership"] == str(merrin.pk)
    assert "Tamar Vale EMS" in client.get("/board/").text


def broken_links(member: Membership) -> dict[str, str]:
    """Links that do not work, by why."""
    used, left = address(member), people.add_member(member.agency, "left", "physician", NOON, operator="root")
    Client().post(used, BOTH)
    gone = address(left)
    people.end_memberships(member.agency, "left", NOON, operator="root")
    away = people.add_member(member.agency, "away", "physician", NOON, operator="root")
    inactive = address(away)
    User.objects.filter(username="away").update(is_active=False)
    late = people.add_member(member.agency, "late", "physician", NOON, operator="root")
    run_out = address(late, life=timedelta(0))
    replaced = address(people.add_member(member.agency, "twice", "physician", NOON, operator="root"))
    address(Membership.objects.get(user__username="twice"))
    return {
        "used": used,
        "member left": gone,
        "account deactivated": inactive,
        "run out": run_out,
        "replaced": replaced,
        "cut short": used[:-5] + "/",
        "unknown": "/sign-in/link/AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA/",
    }


def test_links_that_do_not_work_are_all_answered_alike_and_sign_nobody_in(merrin: Membership) -> None:
    """Used, run out, replaced, unknown: the answer says what to do and tells none of them from another."""
    answers = {}
    for why, link in broken_links(merrin).items():
        client = Client()
        shown, tried = client.get(link), client.post(link, {"new_password1": "x" * 20, "new_password2": "x" * 20})
        assert (shown.status_code, tried.status_code) == (404, 404), why
        assert "_auth_user_id" not in client.session, why
        answers[why] = shown.text.split("<main")[1]
        assert answers[why] == tried.text.split("<main")[1], why
    assert len(set(answers.values())) == 1
    assert "for a new one" in answers["used"]
    assert User.objects.get(username="merrin").check_password(GOOD)


def test_it_runs_out_after_a_day(merrin: Membership, at_noon: Callable[[datetime], None]) -> None:
    link = address(merrin)
    at_noon(later(hours=23, minutes=59))
    assert Client().get(link).status_code == 200
    at_noon(later(hours=24))
    assert Client().post(link, BOTH).status_code == 404


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        (GOOD, "seven dry lantern", "match"),
        ("merrin merrin 2030", "merrin merrin 2030", "your name"),
        ("aaaaaaaaaaaaaaaa", "aaaaaaaaaaaaaaaa", "pattern"),
        ("heron-dune", "heron-dune", "at least 12"),
        ("", "", "required"),
    ],
)
def test_a_bad_password_is_refused_and_the_link_stays_whole(
    merrin: Membership, first: str, second: str, words: str
) -> None:
    link, client = address(merrin), Client()
    answer = client.post(link, {"new_password1": first, "new_password2": second})
    assert answer.status_code == 200
    assert words in answer.text
    if first:
        assert first not in answer.text
    assert "_auth_user_id" not in client.session
    assert client.post(link, BOTH).status_code == 302


def test_its_address_goes_to_no_other_site_and_into_no_cache(merrin: Membership) -> None:
    link = address(merrin)
    for answer in (Client().get(link), Client().post(link, BOTH), Client().get(link)):
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["Cache-Control"] == "no-store"
        assert "://" not in answer.text.replace("http://www.w3.org", "").replace("http://testserver", "")


def test_another_sites_form_is_refused(merrin: Membership) -> None:
    link, client = address(merrin), Client(enforce_csrf_checks=True)
    assert client.post(link, BOTH).status_code == 403
    token = client.get(link).text.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    assert client.post(link, {**BOTH, "csrfmiddlewaretoken": token}).status_code == 302


def test_guessing_is_slowed_and_looking_is_not(merrin: Membership) -> None:
    link, client = address(merrin), Client()
    for _ in range(30):
        assert client.post("/sign-in/link/guess/", BOTH).status_code == 404
    assert client.post(link, BOTH).status_code == 429
    assert client.get(link).status_code == 200


def test_the_journal_says_who_used_it(merrin: Membership) -> None:
    Client().post(address(merrin), BOTH)
    line = queries.agency_journal(merrin.agency_id)[0]
    assert (line["kind"], line["at"]) == ("sign_in_link.used", NOON)
    assert line["by"] == {"name": "Dr. Ida Merrin", "role": "physician"}


def test_a_second_factor_is_asked_for_all_the_same(merrin: Membership) -> None:
    """A link that was stolen from a mailbox must not go round the second factor."""
    from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret

    TOTP.activate(merrin.user, generate_totp_secret())
    client = Client()
    answer = client.post(address(merrin), BOTH)
    assert "/account/second-factor/" in answer.url
    assert "_auth_user_id" not in client.session


def test_who_is_ended_is_signed_out_everywhere_at_once(merrin: Membership) -> None:
    """With a membership elsewhere the session would else go on there unasked."""
    people.add_member(accounts.make_agency("Fal Rescue"), "merrin", "physician", NOON, operator="root")
    merrins, other = Client(), Client()
    merrins.post(address(merrin), BOTH)
    lund = people.add_member(merrin.agency, "lund", "physician", NOON, operator="root")
    other.post(address(lund), BOTH)
    people.end_memberships(merrin.agency, "merrin", NOON, operator="root")
    assert merrins.get("/board/").status_code == 302
    assert other.get("/board/").status_code == 200
