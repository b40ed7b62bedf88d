"""What holds for every answer of the server."""

import json

import pytest
from django.http import HttpRequest, HttpResponse

from consult.middleware import ApiProblems, Own


def ask(path: str, answer: HttpResponse, **meta) -> HttpResponse:
    request = HttpRequest()
    request.path_info = path
    request.META.update(meta)
    return ApiProblems(lambda _: answer)(request)


@pytest.mark.parametrize("status", [400, 403, 404, 405, 413, 500, 503])
def test_a_page_of_djangos_becomes_a_problem_under_api(status):
    answer = ask("/api/v1/cases", HttpResponse("<h1>no</h1>", status=status))
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"
    body = json.loads(answer.content)
    assert body["status"] == status
    assert set(body) == {"type", "title", "status", "detail"}


def test_a_problem_of_the_api_itself_is_left_alone():
    own = HttpResponse('{"type": "id-reused"}', status=409, content_type="application/problem+json")
    assert ask("/api/v1/cases/", own) is own


def test_headers_that_belong_to_the_refusal_stay():
    page = HttpResponse("no", status=405, headers={"Allow": "GET", "X-Other": "1"})
    answer = ask("/api/v1/cases/", page)
    assert answer["Allow"] == "GET"
    assert not answer.has_header("X-Other")


@pytest.mark.parametrize(
    ("path", "status"), [("/api/v1/cases/", 200), ("/board/", 404)], ids=["a good answer", "a page of ours"]
)
def test_everything_else_passes_unchanged(path, status):
    answer = HttpResponse("x", status=status)
    assert ask(path, answer) is answer


def test_the_api_refuses_plain_http_where_https_is_set(settings):
    settings.HTTPS = True
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    assert ask("/api/v1/cases/", HttpResponse("[]")).status_code == 403
    assert ask("/api/v1/cases/", HttpResponse("[]"), HTTP_X_FORWARDED_PROTO="https").status_code == 200


@pytest.mark.parametrize(("sent", "kept"), [(None, "no-store"), ("max-age=60", "max-age=60")])
def test_no_answer_is_cached_unless_its_view_says_so(sent, kept):
    answer = HttpResponse(headers={"Cache-Control": sent} if sent else None)
    assert Own(lambda _: answer)(HttpRequest())["Cache-Control"] == kept


@pytest.mark.django_db
def test_a_missing_slash_is_a_404_problem_and_no_redirect(client):
    answer = client.get("/api/v1/cases")
    assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")


@pytest.mark.django_db
def test_a_host_that_is_not_ours_is_a_400_problem(client):
    answer = client.get("/api/v1/cases/", headers={"Host": "elsewhere.example"})
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")


POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "connect-src": "'self'",
    "img-src": "'self'",
    "font-src": "'self'",
    "base-uri": "'none'",
    "object-src": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}


@pytest.mark.django_db
def test_the_content_policy_lets_in_nothing_inline_and_nothing_foreign(client):
    sent = dict(part.strip().split(" ", 1) for part in client.get("/healthz")["Content-Security-Policy"].split(";"))
    assert {name: sent.get(name) for name in POLICY} == POLICY
    assert set(sent.values()) <= {"'self'", "'none'"}


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("X-Frame-Options", "DENY"),
        ("Cache-Control", "no-store"),
    ],
)
def test_every_answer_carries_the_browsers_walls(client, header, value):
    assert client.get("/healthz")[header] == value
