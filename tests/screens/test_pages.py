"""Who may open which page, and what each page must say to everybody who sees it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from consult.models import AccessRecord, User
from tests.conftest import NOON, Consult, child, open_consult
from tests.screens.conftest import Sign, account_of
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(consult: Consult) -> str:
    consult.vitals(sbp=74, dbp=44, hr=128)
    return str(consult.uid)


ALLOWED = {
    "/board/": {"merrin", "averill", "sorrel", "vane"},
    "/board/cards/{case}/": {"merrin", "averill", "sorrel"},
    "/cases/{case}/": {"osk", "merrin", "averill", "sorrel"},
    "/cases/{case}/parts/": {"osk", "merrin", "averill", "sorrel"},
    "/cases/{case}/others/": {"merrin", "averill", "sorrel"},
}


@pytest.mark.parametrize("who", ["osk", "lund", "merrin", "averill", "sorrel", "tarn", "vane"])
@pytest.mark.parametrize("path", ALLOWED)
def test_pages_open_to_those_who_may_see_them(path: str, who: str, case: str, signed_in: Sign):
    answer = signed_in(who).get(path.format(case=case))

    if who in ALLOWED[path]:
        assert answer.status_code == 200
    else:
        crew_of_no_board = who in ("osk", "lund", "tarn") and path.startswith(("/board/", "/cases/{case}/others/"))
        assert answer.status_code == (403 if crew_of_no_board else 404)
        assert "Kestrel" not in answer.text


@pytest.mark.parametrize("path", ["/", *ALLOWED])
def test_nobody_signed_in_is_led_to_the_sign_in_page_and_back(path: str, case: str):
    wanted = path.format(case=case)

    answer = Client().get(wanted)

    assert answer.status_code == 302
    assert answer.url == ("/sign-in/" if path == "/" else f"/sign-in/?next={wanted}")


@pytest.mark.parametrize(
    ("who", "page"), [("osk", "/crew/"), ("merrin", "/board/"), ("averill", "/board/"), ("sorrel", "/board/")]
)
def test_the_first_page_goes_by_role(who: str, page: str, signed_in: Sign):
    assert signed_in(who).get("/").url == page


def test_the_board_shows_the_open_cases_of_the_agency_and_of_no_other(case: str, signed_in: Sign):
    assert 'data-call="Kestrel 2"' in signed_in("merrin").get("/board/").text
    assert "Kestrel" not in signed_in("vane").get("/board/").text


def test_a_closed_case_is_not_on_the_board_but_its_page_opens(case: str, consult: Consult, signed_in: Sign):
    from consult.actions import cases

    cases.close(consult.cast.merrin, consult.uid, {"id": uuid4(), "outcome": "handed_over"}, NOON)

    assert "Kestrel 2" not in read(signed_in("merrin").get("/board/").text).one("main").text
    page = read(signed_in("merrin").get(f"/cases/{case}/").text)
    assert "closed" in page.one("patient-person").text
    assert page.every("button", data_form="reopen")


@pytest.mark.parametrize("path", ["/board/", "/cases/{case}/"])
def test_every_page_says_that_it_is_decision_support_and_that_the_rules_are_a_demonstration(
    path: str, case: str, signed_in: Sign
):
    page = read(signed_in("merrin").get(path.format(case=case)).text)

    assert "local protocol and the licensed clinician decide" in page.one("foot").text
    assert "Demonstration rules" in page.one("caution-tag").text
    assert "not approved" in page.one("caution-tag").text


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/sign-in/", "/sign-in/link/unknown/", "/nothing/"])
def test_a_page_that_knows_no_rules_says_the_caution_alone(path: str):
    page = read(Client().get(path).text)

    assert "local protocol and the licensed clinician decide" in page.one("foot").text
    assert "approved" not in page.text
    assert "demonstration" not in page.text.lower()


def test_pages_are_never_cached_and_hold_to_the_content_policy(case: str, signed_in: Sign):
    answer = signed_in("merrin").get(f"/cases/{case}/")

    assert answer["Cache-Control"] == "no-store"
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert "unsafe" not in answer["Content-Security-Policy"]


def test_a_look_at_a_case_is_on_record_and_the_renewal_of_its_parts_is_not_a_look(
    case: str, consult: Consult, signed_in: Sign
):
    client = signed_in("merrin")

    client.get(f"/cases/{case}/")
    client.get(f"/cases/{case}/parts/")

    record = AccessRecord.objects.get()
    assert (record.case.uid, record.by_id, record.what) == (consult.uid, consult.cast.merrin.membership, "case page")


def test_a_case_that_nobody_knows_is_a_page_with_a_sentence(signed_in: Sign):
    answer = signed_in("merrin").get(f"/cases/{uuid4()}/")

    assert answer.status_code == 404
    assert "There is no such case here." in answer.text


@pytest.mark.parametrize("who", [None, "merrin", "osk"])
def test_an_address_that_leads_nowhere_is_a_page_with_the_way_back(who: str | None, signed_in: Sign, client: Any):
    answer = (signed_in(who) if who else client).get("/crew/nowhere/at/all/")

    page = read(answer.text)
    assert answer.status_code == 404
    assert page.one("h1").text == "There is no such page"
    assert page.every("a", href="/")
    assert "Decision support" in page.one("foot").text
    assert "nowhere" not in page.text


def test_the_board_costs_one_query_for_all_its_cards(
    case: str, signed_in: Sign, django_assert_max_num_queries: Any, consult: Consult
):
    client = signed_in("merrin")
    with django_assert_max_num_queries(11) as few:
        client.get("/board/")
    one_card = len(few.captured_queries)
    from tests.conftest import open_consult

    for _ in range(5):
        open_consult(consult.cast)
    with django_assert_max_num_queries(one_card):
        client.get("/board/")


# ---- acting as one of several memberships


def test_with_several_memberships_the_choice_comes_first(two_memberships: Any, signed_in: Sign):
    assert signed_in("merrin").get("/").url == "/choose/"


def test_the_choice_holds_for_the_session(case: str, two_memberships: Any, signed_in: Sign):
    client = signed_in("merrin")

    client.post("/choose/", {"membership": str(two_memberships.pk)})

    page = read(client.get("/board/").text)
    assert "Kestrel" not in page.one("main").text
    assert "Harrow Fen" in page.one("menu-list").text


def test_another_persons_membership_cannot_be_chosen(two_memberships: Any, cast: Any, signed_in: Sign):
    client = signed_in("merrin")

    client.post("/choose/", {"membership": str(cast.sorrel.membership)})

    assert "membership" not in client.session


@pytest.mark.parametrize("wanted", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_the_choice_leads_to_our_own_pages_alone(wanted: str, two_memberships: Any, signed_in: Sign):
    answer = signed_in("merrin").post("/choose/", {"membership": str(two_memberships.pk), "next": wanted})

    assert answer.url == "/"


def test_a_membership_that_has_ended_opens_nothing(case: str, cast: Any, signed_in: Sign):
    from consult.actions import accounts
    from consult.models import Membership

    client = signed_in("merrin")
    accounts.end_membership(Membership.objects.get(pk=cast.merrin.membership), NOON)

    assert client.get("/board/").status_code == 302
    assert "no longer a member" in client.get("/choose/").text


# ---- signing in


PASSWORD = "a long pass phrase"


@pytest.fixture
def merrin(cast: Any) -> User:
    """Merrin's account, with a password."""
    user = account_of(cast, "merrin")
    user.set_password(PASSWORD)
    user.save()
    return user


def test_password_and_name_lead_to_the_first_page(merrin: User):
    client = Client()

    answer = client.post("/sign-in/", {"login": "merrin", "password": PASSWORD})

    assert answer.url == "/"
    assert client.get("/board/").status_code == 200


def test_a_wrong_password_says_so_beside_the_form(merrin: User):
    answer = Client().post("/sign-in/", {"login": "merrin", "password": "wrong"})

    assert answer.status_code == 200
    assert read(answer.text).one("problem").text


def test_with_a_second_factor_the_password_alone_opens_nothing(merrin: User):
    from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret

    TOTP.activate(merrin, generate_totp_secret())
    client = Client()

    answer = client.post("/sign-in/", {"login": "merrin", "password": PASSWORD}, follow=True)

    assert "authenticator code" in answer.text.lower()
    assert client.get("/board/").status_code == 302


def test_the_password_box_is_never_shown_on_a_page_of_somebody_signed_in(signed_in: Sign):
    assert read(signed_in("merrin").get("/board/").text).every("input", type="password") == []


def test_signing_out_ends_the_session(signed_in: Sign):
    client = signed_in("merrin")

    client.post("/sign-out/")

    assert client.get("/board/").status_code == 302


def test_two_patients_of_one_unit_are_told_apart_on_board_and_crew_list(consult: Consult, signed_in: Sign) -> None:
    second = open_consult(consult.cast, child(5, 18))
    second.ask(1)
    board = signed_in("merrin").get("/board/").text

    assert 'aria-label="Take control of Kestrel 2 A"' in board
    assert "Approve for Kestrel 2 B" in board
    crew = signed_in("osk").get("/crew/").text
    assert "58 y male A" in crew
    assert "5 y male B" in crew
