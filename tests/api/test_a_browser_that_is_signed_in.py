"""Pages use the same API by session: with CSRF on writes, as the membership that was chosen; looks are on record."""

import pytest
from django.test import Client

from consult import clock
from consult.actions import accounts
from consult.models import AccessRecord, Agency
from tests.api.conftest import refused, vitals

TOKEN = "a" * 32


@pytest.fixture
def merrin(cast):
    """A person, physician in both agencies."""
    person = accounts.make_person("merrin", "Ida", "Merrin", "a long pass phrase")
    memberships = {
        agency.name: accounts.make_member(agency, "physician", user=person) for agency in Agency.objects.all()
    }
    return person, memberships


def browser(person, membership=None, **options):
    client = Client(raise_request_exception=False, **options)
    client.force_login(person, backend="allauth.account.auth_backends.AuthenticationBackend")
    if membership:
        session = client.session
        session["membership"] = str(membership.pk)
        session.save()
    return client


def test_a_session_reads_as_the_membership_that_was_chosen(cast, case, merrin):
    person, memberships = merrin
    assert browser(person, memberships["Brindle Vale"]).get(f"/api/v1/cases/{case}/").status_code == 200
    refused(browser(person, memberships["Harrow Fen"]).get(f"/api/v1/cases/{case}/"), 404)


def test_a_membership_of_somebody_else_is_not_acted_as(cast, case, merrin):
    person, _ = merrin
    client = browser(person, cast.director.member)
    refused(client.get("/api/v1/history/"), 403)


def test_a_write_without_the_csrf_token_is_403(cast, case, merrin):
    person, memberships = merrin
    client = browser(person, memberships["Brindle Vale"], enforce_csrf_checks=True)
    path = f"/api/v1/cases/{case}/notes/"
    refused(client.post(path, {"text": "a"}, content_type="application/json"), 403)
    client.cookies["csrftoken"] = TOKEN
    kept = client.post(path, {"text": "a"}, content_type="application/json", headers={"X-CSRFToken": TOKEN})
    assert kept.status_code == 201


def test_a_token_needs_no_csrf(cast, case):
    client = Client(enforce_csrf_checks=True)
    headers = {"Authorization": f"Token {cast.crew.token}"}
    path = f"/api/v1/cases/{case}/notes/"
    assert client.post(path, {"text": "a"}, content_type="application/json", headers=headers).status_code == 201


def test_a_session_without_a_membership_is_401(merrin):
    person, memberships = merrin
    client = browser(person)
    for membership in memberships.values():
        accounts.end_membership(membership, clock.now())
    refused(client.get("/api/v1/cases/"), 401)


def test_a_bad_token_is_not_mended_by_a_session(merrin):
    person, _ = merrin
    refused(browser(person).get("/api/v1/cases/", headers={"Authorization": "Token nonsense"}), 401)


def test_what_a_person_looks_at_is_on_record_and_what_a_device_reads_is_not(cast, case, merrin):
    person, memberships = merrin
    client = browser(person, memberships["Brindle Vale"])
    for path in ("", "journal/", "at/1/"):
        client.get(f"/api/v1/cases/{case}/{path}")
        cast.crew.get(f"cases/{case}/{path}")
    cast.crew.post(f"cases/{case}/vitals/", vitals(hr=80))
    looks = AccessRecord.objects.filter(case__uid=case).order_by("at")
    assert [(look.by.user_id, look.what) for look in looks] == [
        (person.pk, "card"),
        (person.pk, "journal"),
        (person.pk, "card as it stood"),
    ]


def test_what_another_agency_may_not_see_leaves_no_look(cast, case, merrin):
    person, memberships = merrin
    browser(person, memberships["Harrow Fen"]).get(f"/api/v1/cases/{case}/")
    assert not AccessRecord.objects.exists()


def test_the_rule_set_of_another_agency_of_ones_own_can_be_read(cast, merrin):
    person, memberships = merrin
    client = browser(person, memberships["Brindle Vale"])
    other = memberships["Harrow Fen"].agency_id
    assert client.get(f"/api/v1/rule-set/?agency={other}").json()["name"] == "demonstration"
    refused(cast.crew.get(f"rule-set/?agency={other}"), 404)


AS_A_BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}


def test_a_person_who_opens_the_reference_signs_in_and_comes_back_to_it(merrin):
    visitor = Client(headers=AS_A_BROWSER)
    asked = visitor.get("/api/v1/docs/", follow=True)
    (at,) = [address for address, _ in asked.redirect_chain]
    assert at == "/sign-in/?next=/api/v1/docs/"
    assert 'name="next" value="/api/v1/docs/"' in asked.text

    form = {"login": "merrin", "password": "a long pass phrase", "next": "/api/v1/docs/"}
    back = visitor.post("/sign-in/", form, follow=True)

    assert back.redirect_chain[-1][0] == "/api/v1/docs/"
    assert "REST API" in back.text


@pytest.mark.parametrize("headers", [{}, {"Accept": "*/*"}, {"Accept": "application/json"}])
def test_a_program_that_asks_for_the_reference_is_told_who_may(headers, db):
    refused(Client(headers=headers).get("/api/v1/docs/"), 401)


@pytest.mark.parametrize("path", ["schema/", "cases/", "nowhere/"])
def test_nothing_else_of_the_api_leads_to_a_page(path, db):
    assert Client(headers=AS_A_BROWSER).get(f"/api/v1/{path}").status_code in (401, 404)


def test_a_person_who_is_a_member_no_longer_is_not_led_in_a_circle(merrin):
    person, memberships = merrin
    for membership in memberships.values():
        membership.ended_at = clock.now()
        membership.save()

    refused(browser(person, headers=AS_A_BROWSER).get("/api/v1/docs/"), 401)


def test_a_token_that_is_not_good_is_a_401_also_from_a_browser(db):
    headers = {**AS_A_BROWSER, "Authorization": "Token none"}
    refused(Client(headers=headers).get("/api/v1/docs/"), 401)
