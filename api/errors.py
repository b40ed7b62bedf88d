"""Every failure under /api/ as one kind of body: an RFC 9457 problem document."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import InterfaceError, OperationalError, connection
from django.http import Http404
from msgspec import UNSET, Struct, UnsetType
from rest_framework import exceptions
from rest_framework.response import Response

from api.allowance import TooMuch
from consult.problems import FieldError, Forbidden, Invalid, NotFound, NotSignedIn, Problem, Unavailable

CONTENT_TYPE = "application/problem+json"
ROOT = "non_field_errors"
log = logging.getLogger(__name__)


class ProblemDocument(Struct, frozen=True, kw_only=True):
    """Why a request was refused (RFC 9457); ``type`` is a slug such as `id-reused`, ``errors`` each fault, with 422."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[FieldError] | UnsetType = UNSET


def problem_handler(exc: Exception, context: Mapping[str, Any]) -> Response:
    """The answer to whatever a view raised; what nobody foresaw is logged under a reference and told as a bare 500."""
    document = document_of(exc)
    response = Response(document, status=document.status, content_type=CONTENT_TYPE)
    if document.status == HTTPStatus.UNAUTHORIZED:
        response["WWW-Authenticate"] = 'Token realm="api"'
    if document.status == HTTPStatus.SERVICE_UNAVAILABLE:
        response["Retry-After"] = "1"
    if isinstance(exc, TooMuch):
        response["Retry-After"] = str(exc.wait)
    return response


def document_of(exc: Exception) -> ProblemDocument:
    """The problem document of an exception: `type`, `title`, `status`, `detail` and, for 422, `errors`."""
    problem = _as_problem(exc)
    if problem is not None:
        refused = problem.status == HTTPStatus.UNPROCESSABLE_ENTITY
        errors = problem.errors or ([_error("", problem.detail, problem.type)] if refused else UNSET)
        return ProblemDocument(
            type=problem.type, title=problem.title, status=problem.status, detail=problem.detail, errors=errors
        )
    if isinstance(exc, exceptions.APIException):
        return _plain(exc.status_code, str(exc.detail))
    reference = uuid.uuid4().hex
    log.error("unforeseen fault %s", reference, exc_info=exc)
    return _plain(HTTPStatus.INTERNAL_SERVER_ERROR, f"The server failed; the fault is logged as {reference}.")


def _as_problem(exc: Exception) -> Problem | None:
    """The same failure as the domain would name it, where it has a name there."""
    if isinstance(exc, Problem):
        return exc
    if isinstance(exc, exceptions.ValidationError):
        return invalid(exc)
    if isinstance(exc, (Http404, exceptions.NotFound)):
        return NotFound()
    if isinstance(exc, exceptions.NotAuthenticated):
        return NotSignedIn("No token was sent, and nobody is signed in.")
    if isinstance(exc, exceptions.AuthenticationFailed):
        return NotSignedIn(str(exc.detail))
    if isinstance(exc, exceptions.PermissionDenied):
        return Forbidden(str(exc.detail))
    if isinstance(exc, PermissionDenied):
        return Forbidden()
    if isinstance(exc, (OperationalError, InterfaceError)):
        log.error("the database does not answer", exc_info=exc)
        _renew_connections()
        return Unavailable()
    return None


def _renew_connections() -> None:
    """Where one kept connection is dead the others are: let the pool look at all, not one refusal after another."""
    pool = getattr(connection, "pool", None)
    if pool is not None:
        pool.check()


def invalid(exc: exceptions.ValidationError) -> Invalid:
    """A validation error as the domain's `Invalid`, each fault with its JSON pointer (RFC 6901)."""
    errors = list(_errors(exc.detail, ""))
    detail = "; ".join(f"{error['pointer'] or 'body'}: {error['detail']}" for error in errors[:5])
    return Invalid(detail, errors)


def _errors(detail: Any, pointer: str) -> Iterator[FieldError]:
    """Every fault of a nested DRF error detail; an error of an object as a whole points at the object."""
    if isinstance(detail, dict):
        for key, inner in detail.items():
            step = "" if key == ROOT else "/" + str(key).replace("~", "~0").replace("/", "~1")
            yield from _errors(inner, pointer + step)
    elif isinstance(detail, list):
        for inner in detail:
            yield from _errors(inner, pointer)
    else:
        yield _error(pointer, str(detail), getattr(detail, "code", None) or "invalid")


def _error(pointer: str, detail: str, code: str) -> FieldError:
    return {"pointer": pointer, "detail": detail, "code": code}


def _plain(status: int, detail: str) -> ProblemDocument:
    """A problem that has no name of its own: the type is the status in words."""
    title = HTTPStatus(status).phrase
    kind = title.lower().replace(" ", "-")
    return ProblemDocument(type=kind, title=title, status=int(status), detail=detail or title)
