"""The API's own description, the page that shows it, and the answer for addresses that do not exist."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import HttpResponse
from django.shortcuts import render
from drf_spectacular.generators import SchemaGenerator
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response

from api.reference import reference
from api.views.base import ApiView
from consult.problems import NotFound


@lru_cache(maxsize=1)
def description() -> dict[str, Any]:
    """The OpenAPI 3.1 document, made once a process."""
    found: dict[str, Any] = SchemaGenerator().get_schema(public=True)  # type: ignore[no-untyped-call]
    return found


@lru_cache(maxsize=1)
def pages() -> dict[str, Any]:
    """What the reference page shows of it."""
    return reference(description())


class Schema(ApiView):
    """The OpenAPI 3.1 description of this API."""

    schema = None

    def get(self, request: Request) -> Response:
        """The whole document as JSON, whatever `format` asks for."""
        return Response(description(), content_type="application/json")


class Docs(ApiView):
    """The description as a page, with a form to try each route."""

    schema = None

    def handle_exception(self, exc: Exception) -> HttpResponse:  # type: ignore[override]
        """A person who has not signed in is led there and back; a program is told by a problem."""
        request = self.request._request
        if isinstance(exc, NotAuthenticated) and "text/html" in request.headers.get("Accept", ""):
            return redirect_to_login(request.path)
        return super().handle_exception(exc)

    def get(self, request: Request) -> HttpResponse:
        """The page."""
        return render(request._request, "api/docs.html", pages())


class Nowhere(ApiView):
    """Every other address, one without its last slash among them."""

    schema = None
    authentication_classes = ()
    permission_classes = ()

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Whoever asks and however: it is not there."""
        raise NotFound("There is no such address; addresses end with a slash.")
