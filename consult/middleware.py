"""What holds for every answer: problems instead of HTML under /api/, nothing about a patient in a cache."""

import json
import time
from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.middleware.clickjacking import XFrameOptionsMiddleware
from django.middleware.security import SecurityMiddleware

from consult.metrics import ANSWERS

Handler = Callable[[HttpRequest], HttpResponse]
METHODS = {"GET", "HEAD", "POST", "PATCH", "OPTIONS"}
PROBLEM = "application/problem+json"
PLAIN = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title} · Consult Board</title></head>'
    "<body><h1>{title}</h1><p>{detail}</p></body></html>"
)


def problem(status: int, detail: str = "") -> HttpResponse:
    """An RFC 9457 answer for a fault that was found before or after the view itself."""
    title = HTTPStatus(status).phrase
    body = {"type": title.lower().replace(" ", "-"), "title": title, "status": status, "detail": detail or title}
    return HttpResponse(json.dumps(body), status=status, content_type=PROBLEM)


def refusal(path: str, status: int, detail: str) -> HttpResponse:
    """The whole answer to a request that Django never sees: a problem under /api/, a plain page elsewhere."""
    page = PLAIN.format(title=HTTPStatus(status).phrase, detail=detail)
    answer = problem(status, detail) if path.startswith("/api/") else HttpResponse(page, status=status)
    walled: Any = Walls(XFrameOptionsMiddleware(Own(lambda _: answer)))
    return walled(HttpRequest())  # type: ignore[no-any-return]


class ApiProblems:
    """Under /api/ every refusal is a problem document, also those that Django itself answers with a page."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.path_info.startswith("/api/"):
            return self.get_response(request)
        if settings.HTTPS and not request.is_secure():
            return problem(HTTPStatus.FORBIDDEN, "Use https.")
        response = self.get_response(request)
        if response.status_code < HTTPStatus.BAD_REQUEST or response.get("Content-Type", "").startswith(PROBLEM):
            return response
        answer = problem(response.status_code)
        for name in ("Allow", "WWW-Authenticate", "Retry-After"):
            if response.has_header(name):
                answer[name] = response[name]
        return answer


class Walls(SecurityMiddleware):
    """The headers of Django's own on every answer, also where that one refuses before it has set any."""

    def process_request(self, request: HttpRequest) -> None:
        """Lead nobody to HTTPS: that is for further inside."""


class Timed:
    """Each answer's time, for /metrics; parts and methods are counted, words that a client made up are not."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self.get_response(request)
        part = "api" if request.path_info.startswith("/api/") else "pages"
        method = request.method if request.method in METHODS else "other"
        ANSWERS.labels(part, method, str(response.status_code)).observe(time.perf_counter() - began)
        return response


class Own:
    """Pages and API answers may hold a patient's data: no cache keeps them, and they load nothing foreign or inline."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault("Cache-Control", "no-store")
        response["Content-Security-Policy"] = settings.CONTENT_SECURITY_POLICY
        return response
