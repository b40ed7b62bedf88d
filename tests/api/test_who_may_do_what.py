"""Contract, "Roles" and "Permission order: 401, then 404, then 403", over every address there is."""

from itertools import product

import pytest

from consult import clock
from consult.actions import accounts
from tests.api.addresses import routes
from tests.api.conftest import named, new_id, push_dose, question, refused, request, syringe, vitals

CALLERS = ("crew", "crew2", "physician", "supervisor", "director", "outsider_crew", "outsider_physician")

# in: let in, whatever it then says of an empty body · 403: not this role · 404: not this caller's
READERS = "in 404 in in in 404 404"
WRITERS = "in 404 in 403 in 404 404"
PHYSICIANS = "403 404 in 403 in 404 404"
CREW_ONLY = "in 404 403 403 403 404 404"
REVIEWERS = "403 404 403 in in 404 404"
WATCHERS = "403 404 in in in 404 404"
EVERYBODY = "in in in in in in in"
SENDERS = "in in in 403 in in in"
DECIDERS = "403 403 in 403 in 403 in"
LOOKING_BACK = "403 403 403 in in 403 403"

MATRIX = {
    ("GET", "cases/"): EVERYBODY,
    ("POST", "cases/"): SENDERS,
    ("GET", "cases/{id}/"): READERS,
    ("PATCH", "cases/{id}/"): WRITERS,
    ("POST", "cases/{id}/accept/"): PHYSICIANS,
    ("POST", "cases/{id}/release/"): PHYSICIANS,
    ("POST", "cases/{id}/handover/"): WRITERS,
    ("POST", "cases/{id}/close/"): WRITERS,
    ("POST", "cases/{id}/move/"): WRITERS,
    ("POST", "cases/{id}/reopen/"): PHYSICIANS,
    ("POST", "cases/{id}/goal/"): PHYSICIANS,
    ("POST", "cases/{id}/coverage/"): CREW_ONLY,
    ("POST", "cases/{id}/notes/"): WRITERS,
    ("POST", "cases/{id}/procedures/"): WRITERS,
    ("POST", "cases/{id}/phase/"): WRITERS,
    ("POST", "cases/{id}/corrections/"): WRITERS,
    ("POST", "cases/{id}/reviews/"): REVIEWERS,
    ("POST", "cases/{id}/vitals/"): WRITERS,
    ("GET", "cases/{id}/guidance/"): READERS,
    ("POST", "cases/{id}/checks/"): WRITERS,
    ("POST", "cases/{id}/interventions/"): WRITERS,
    ("POST", "cases/{id}/containers/"): WRITERS,
    ("POST", "containers/{id}/discard/"): WRITERS,
    ("POST", "cases/{id}/orders/"): WRITERS,
    ("GET", "cases/{id}/journal/"): READERS,
    ("GET", "cases/{id}/at/{seq}/"): READERS,
    ("GET", "interventions/{id}/"): READERS,
    ("POST", "interventions/{id}/countersign/"): PHYSICIANS,
    ("POST", "interventions/{id}/changes/"): WRITERS,
    ("GET", "orders/{id}/"): READERS,
    ("POST", "orders/{id}/decision/"): PHYSICIANS,
    ("POST", "orders/{id}/cosign/"): PHYSICIANS,
    ("POST", "orders/{id}/answer/"): CREW_ONLY,
    ("POST", "orders/{id}/withdraw/"): WRITERS,
    ("POST", "orders/{id}/readback/"): CREW_ONLY,
    ("POST", "orders/{id}/not_given/"): CREW_ONLY,
    ("POST", "cases/{id}/questions/"): CREW_ONLY,
    ("POST", "cases/{id}/instructions/"): PHYSICIANS,
    ("POST", "questions/{id}/withdraw/"): CREW_ONLY,
    ("POST", "instructions/{id}/understood/"): CREW_ONLY,
    ("POST", "instructions/{id}/done/"): CREW_ONLY,
    ("POST", "instructions/{id}/unable/"): CREW_ONLY,
    ("POST", "instructions/{id}/withdraw/"): PHYSICIANS,
    ("POST", "handovers/"): DECIDERS,
    ("GET", "handovers/"): "403 403 in in in 403 in",
    ("GET", "handovers/{id}/"): "403 403 in in in 404 404",
    ("POST", "handovers/{id}/accept/"): "403 403 in 403 in 404 404",
    ("POST", "batch/"): SENDERS,
    ("GET", "alerts/"): EVERYBODY,
    ("POST", "alerts/{id}/acknowledge/"): WATCHERS,
    ("GET", "history/"): LOOKING_BACK,
    ("GET", "journal/verify/"): LOOKING_BACK,
    ("GET", "rule-set/"): EVERYBODY,
    ("GET", "schema/"): EVERYBODY,
    ("GET", "docs/"): EVERYBODY,
}
NAMES = [" ".join(each) for each in MATRIX]
LET_IN = {200, 201, 409, 422}


@pytest.fixture
def place(cast, case):
    """Fills an address with what is there: a case with a dose outside the limits, its alert, a request, words."""
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=80, dbp=40, lungs="clear"))
    dose, order, mixed = push_dose(50), request(), syringe()
    assert cast.crew.post(f"cases/{case}/containers/", mixed).status_code == 201
    assert cast.crew.post(f"cases/{case}/interventions/", dose).status_code == 201
    assert cast.crew.post(f"cases/{case}/orders/", order).status_code == 201
    alert = cast.physician.get(f"alerts/?case={case}").json()["results"][0]["id"]
    ids = {"cases": case, "interventions": dose["id"], "orders": order["id"], "alerts": alert}
    ids["containers"], ids["handovers"] = mixed["id"], offered(cast, case)
    ids["questions"] = cast.crew.post(f"cases/{case}/questions/", question()).json()["id"]
    ids["instructions"] = cast.physician.post(f"cases/{case}/instructions/", {"text": "Turn her."}).json()["id"]
    return lambda address: address.format(id=ids.get(address.split("/")[0]), seq=1)


def offered(cast, case):
    """A handover of the case to a colleague, who has it again afterward: nobody's control stands in another's way."""
    named(cast.physician2, "quillan")
    assert cast.physician.post(f"cases/{case}/accept/").status_code == 200
    answer = cast.physician.post("handovers/", {"to": "quillan", "cases": [case]})
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def test_every_address_has_its_row():
    assert set(MATRIX) == set(routes())


@pytest.mark.parametrize(("method", "address"), MATRIX, ids=NAMES)
def test_each_caller_is_let_in_or_refused(cast, place, method, address):
    wanted = dict(zip(CALLERS, MATRIX[method, address].split(), strict=True))
    body = None if method == "GET" else {}
    found = {}
    # Those who are refused first, so that nobody finds what another caller has changed.
    for caller in sorted(CALLERS, key=lambda name: wanted[name] == "in"):
        answer = getattr(cast, caller).call(method, place(address), body)
        found[caller] = "in" if answer.status_code in LET_IN else str(answer.status_code)
        if wanted[caller] != "in":
            refused(answer, int(wanted[caller]))
    assert found == wanted


def test_without_a_valid_token_everything_is_401(cast, place):
    """All in one test: nothing is changed by it, and to bring about what is there takes longer than to ask."""
    revoked = cast.crew
    accounts.revoke_token(revoked.member.tokens.get(), clock.now())
    let_in = []
    for caller, (method, address) in product((cast.nobody, revoked), MATRIX):
        answer = caller.call(method, place(address), None if method == "GET" else {})
        if answer.status_code == 401:
            refused(answer, 401, "not-signed-in")
            assert answer["WWW-Authenticate"].startswith("Token")
        else:
            let_in.append((method, address, answer.status_code))
    assert let_in == []


@pytest.mark.parametrize(("method", "address"), [each for each in MATRIX if "{id}" in each[1]])
def test_what_does_not_exist_is_404(cast, method, address):
    refused(cast.director.call(method, address.format(id=new_id(), seq=1), None if method == "GET" else {}), 404)


@pytest.mark.parametrize(
    "body", [b"{not json", b'{"text": 1, "text": 2}', {"nonsense": 1}], ids=["malformed", "doubled", "unknown field"]
)
def test_what_is_wrong_with_a_body_is_told_only_to_those_let_in(cast, case, body):
    address = f"cases/{case}/goal/"
    refused(cast.nobody.post(address, body), 401)
    refused(cast.outsider_physician.post(address, body), 404)
    refused(cast.crew2.post(address, body), 404)
    refused(cast.crew.post(address, body), 403)
    assert cast.physician.post(address, body).status_code in (400, 422)


@pytest.mark.parametrize(
    "header", ["Token", "Token ", "Token x y", "Token é", "Bearer {token}", "{token}", "Basic {token}"]
)
def test_a_garbled_authorization_header_is_401(cast, header):
    answer = cast.nobody.get("cases/", Authorization=header.format(token=cast.crew.token))
    refused(answer, 401)


def test_a_membership_that_has_ended_is_401(cast):
    accounts.end_membership(cast.crew.member, clock.now())
    refused(cast.crew.get("cases/"), 401)


def test_lists_show_only_what_the_caller_may_see(cast, open_case):
    theirs = {"crew": open_case(), "crew2": open_case(cast.crew2), "outsider_crew": open_case(cast.outsider_crew)}
    seen = {
        name: {row["id"] for row in getattr(cast, name).get("cases/").json()["results"]}
        for name in ("crew", "crew2", "outsider_crew", "physician", "supervisor", "outsider_physician")
    }
    own, beside, other = theirs["crew"], theirs["crew2"], theirs["outsider_crew"]
    assert seen == {
        "crew": {own},
        "crew2": {beside},
        "outsider_crew": {other},
        "physician": {own, beside},
        "supervisor": {own, beside},
        "outsider_physician": {other},
    }


def test_a_filter_opens_no_other_agency(cast, case):
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=60, dbp=30))
    assert cast.physician.get(f"alerts/?case={case}").json()["results"]
    assert cast.outsider_physician.get(f"alerts/?case={case}").json()["results"] == []
