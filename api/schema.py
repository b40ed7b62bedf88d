"""The OpenAPI description, made of the views' own entries, answers and filters, so it cannot differ."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension, OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, PolymorphicProxySerializer

import api.answers  # noqa: F401  makes structures known
from api.errors import CONTENT_TYPE, ProblemDocument
from api.shape import Shape
from consult.resources.page import Page

ALWAYS = (401, 403, 404, 500, 503)
OF_WRITES = (400, 409, 411, 413, 415, 422, 429)


class ApiSchema(AutoSchema):
    """Reads `entry`, `answer`, `shown` and `filters` off a view, and adds the problems that it can answer."""

    @property
    def _ours(self) -> Any:
        """The view, which is one of ours."""
        return self.view

    def get_tags(self) -> list[str]:
        """The first word of the address."""
        return [self.path.removeprefix("/api/v1/").split("/")[0]]

    def get_operation_id(self) -> str:
        """The address in words, after the method; unique, since the address is."""
        words = self.path.removeprefix("/api/v1/").replace("{id}", "one").replace("{seq}", "seq")
        return "_".join([self.method.lower(), *(word.replace("-", "_") for word in words.strip("/").split("/"))])

    def get_description(self) -> str:  # type: ignore[override]
        """What the view says of this method, else of itself."""
        said = vars(type(self._ours)).get(self.method.lower(), type(self._ours)).__doc__
        return " ".join(str(said).split())

    def get_request_serializer(self) -> Any:
        """The entry that a write reads."""
        return self._ours.entry if self.method in ("POST", "PATCH") else None

    def get_response_serializers(self) -> Any:
        """The answers by status, problems among them."""
        problems = ALWAYS + (OF_WRITES if self.method != "GET" else (422,) if self._filters() else ())
        if self.method == "PATCH":
            problems += (412,)
        found: dict[Any, Any] = {(status, CONTENT_TYPE): ProblemDocument for status in sorted(problems)}
        if self.method == "POST" and self._ours.creates:
            found[201] = self._ours.answer
        found[200] = self._answer()
        return found

    def _answer(self) -> Any:
        answer = self._ours.shown if self.method == "GET" else self._ours.answer
        if not isinstance(answer, tuple):
            return answer
        name = "Or".join(each.__name__ for each in answer)
        return PolymorphicProxySerializer(name, serializers=list(answer), resource_type_field_name=None)

    def _filters(self) -> type[Shape] | None:
        return getattr(self._ours, "filters", None) if self.method == "GET" else None

    def get_override_parameters(self) -> list[Any]:
        """Filters and cursor of a list; the version that a PATCH expects."""
        filters = self._filters()
        found: list[Any] = [filters] if filters else []
        if self.method == "GET" and _is_list(self._ours.shown) and not (filters and "after" in filters().fields):
            found.append(OpenApiParameter("cursor", str, OpenApiParameter.QUERY))
        if self.method == "PATCH":
            found.append(
                OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, description="the ETag that was read")
            )
        return found

    def _map_basic_serializer(self, serializer: Any, direction: str) -> Any:
        schema = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        if isinstance(serializer, Shape):
            schema["additionalProperties"] = False
        return schema


def _is_list(shown: object) -> bool:
    return isinstance(shown, type) and issubclass(shown, Page)


def plain_words(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Leave out the marks by which the library would gather equal word lists; each list stays where it is used."""
    found: list[Any] = [result]
    while found:
        each = found.pop()
        if isinstance(each, dict):
            each.pop("x-spec-enum-id", None)
        found.extend(each.values() if isinstance(each, dict) else each if isinstance(each, list) else ())
    return result


class NumberField(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """A number with its bounds, or the same as a decimal text."""

    target_class = "api.fields.Number"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        """Both spellings; the bounds stand at the number."""
        field = self.target
        bounds = {"minimum": field.least, "exclusiveMinimum": field.over, "maximum": field.most}
        number = {"type": "integer" if field.whole else "number"}
        number |= {name: bound for name, bound in bounds.items() if bound is not None}
        return {"oneOf": [number, {"type": "string", "pattern": r"^-?\d+(\.\d+)?$"}]}


class TokenOrSessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
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
