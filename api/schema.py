"""The OpenAPI description, made of the views' own entries, answers and filters, so that it cannot say something else."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, inline_serializer
from rest_framework import serializers

from api.answers.parts import ProblemDocument, many
from api.errors import CONTENT_TYPE
from api.shape import Shape

ALWAYS = (401, 403, 404, 406, 500)
OF_WRITES = (400, 409, 411, 413, 415, 422)


class ApiSchema(AutoSchema):
    """Reads `entry`, `answer`, `shown`, `rows` and `filters` off a view, and adds the problems that it can answer."""

    def get_tags(self) -> list[str]:
        """The first word of the address."""
        return [self.path.removeprefix("/api/v1/").split("/")[0]]

    def get_operation_id(self) -> str:
        """The address in words, after the method; unique, since the address is."""
        words = self.path.removeprefix("/api/v1/").replace("{id}", "one").replace("{seq}", "seq")
        return "_".join([self.method.lower(), *(word.replace("-", "_") for word in words.strip("/").split("/"))])

    def get_description(self) -> str:
        """What the view says of itself and of this method."""
        of_method = getattr(getattr(self.view, self.method.lower()), "__doc__", None) or ""
        return " ".join(f"{self.view.__class__.__doc__} {of_method}".split())

    def get_request_serializer(self) -> Any:
        """The entry that a write reads."""
        return self.view.entry if self.method in ("POST", "PATCH") else None

    def get_response_serializers(self) -> Any:
        """The answers by status, problems among them."""
        problems = ALWAYS + (OF_WRITES if self.method != "GET" else (422,) if self._filters() else ())
        if self.method == "PATCH":
            problems += (412,)
        found: dict[Any, Any] = {(status, CONTENT_TYPE): ProblemDocument for status in sorted(problems)}
        if self.method == "POST" and getattr(self.view, "creates", False):
            found[201] = self.view.answer
        found[200] = self._answer()
        return found

    def _answer(self) -> Any:
        if self.method != "GET":
            return self.view.answer
        return page_of(self.view.rows) if getattr(self.view, "rows", None) else self.view.shown

    def _filters(self) -> type[Shape] | None:
        return getattr(self.view, "filters", None) if self.method == "GET" else None

    def get_override_parameters(self) -> list[Any]:
        """Filters and cursor of a list; the version that a PATCH expects."""
        filters = self._filters()
        found = [
            OpenApiParameter(
                name, field, OpenApiParameter.QUERY, required=False, description=str(field.help_text or "")
            )
            for name, field in (filters().fields.items() if filters else ())
        ]
        if self.method == "GET" and getattr(self.view, "rows", None) and "after" not in {each.name for each in found}:
            found.append(OpenApiParameter("cursor", str, OpenApiParameter.QUERY))
        if self.method == "PATCH":
            found.append(
                OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, description="the ETag that was read")
            )
        return found

    def _map_basic_serializer(self, serializer: Any, direction: str) -> Any:
        schema = super()._map_basic_serializer(serializer, direction)
        if isinstance(serializer, Shape):
            schema["additionalProperties"] = False
        return schema


def page_of(row: type[serializers.Serializer]) -> Any:
    """A page of a list of these rows."""
    name = row.__name__.removesuffix("Answer").removesuffix("Row") + "Page"
    fields = {
        "next": serializers.URLField(allow_null=True),
        "previous": serializers.URLField(allow_null=True),
        "results": many(row()),
    }
    return inline_serializer(name, fields)


class TokenOrSessionScheme(OpenApiAuthenticationExtension):
    """How a caller says who it is."""

    target_class = "api.authentication.TokenOrSession"
    name = ["token", "session"]

    def get_security_definition(self, auto_schema: AutoSchema) -> list[dict[str, str]]:
        """A token in the Authorization header, or the session's cookie."""
        from django.conf import settings

        about = "`Token ` and the token"
        return [
            {"type": "apiKey", "in": "header", "name": "Authorization", "description": about},
            {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME},
        ]
