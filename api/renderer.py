"""Writes answers as JSON, whatever the caller says it accepts: under /api/ there is one format."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request


class JSONRenderer(BaseRenderer):
    """Compact UTF-8 JSON; times as RFC 3339, ids as text, `msgspec.Raw` as it stands."""

    media_type = "application/json"
    format = "json"
    charset = None

    def render(
        self, data: Any, accepted_media_type: str | None = None, renderer_context: Mapping[str, Any] | None = None
    ) -> bytes:
        """The bytes of an answer."""
        return b"" if data is None else msgspec.json.encode(data)


class OneFormat(DefaultContentNegotiation):
    """The view's first renderer, always; parsers are chosen by content type as usual."""

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        """The renderer, and its media type."""
        first = next(iter(renderers))
        return first, str(first.media_type)
