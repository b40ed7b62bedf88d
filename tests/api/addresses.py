"""Every address and method of the API, read from its own map."""

from __future__ import annotations

import re

from django.urls import URLPattern

from api.urls import urlpatterns
from api.views.schema import Nowhere

METHODS = ("get", "post", "patch", "put", "delete")


def routes() -> list[tuple[str, str]]:
    """(METHOD, address) of all that is there, addresses with their placeholders such as `cases/{id}/`."""
    return [(method.upper(), address(each)) for each in there() for method in METHODS if hasattr(view(each), method)]


def addresses() -> list[str]:
    return [address(each) for each in there()]


def there() -> list[URLPattern]:
    return [each for each in urlpatterns if view(each) is not Nowhere]


def view(pattern: URLPattern):
    return pattern.callback.view_class


def address(pattern: URLPattern) -> str:
    return re.sub(r"<\w+:(\w+)>", r"{\1}", str(pattern.pattern))
