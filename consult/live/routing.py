"""The live board's addresses; one hub serves both."""

from django.urls import URLPattern, path, re_path

import consult.ids  # noqa: F401  makes <id:…> known
from consult.live.consumers import BoardConsumer, CaseConsumer, Nowhere
from consult.live.hub import Hub


def addresses(hub: Hub) -> list[URLPattern]:
    """The addresses, served by this hub."""
    return [
        path("ws/board/", BoardConsumer.as_asgi(hub=hub)),
        path("ws/cases/<id:case>/", CaseConsumer.as_asgi(hub=hub)),
        re_path("", Nowhere.as_asgi()),
    ]


urlpatterns = addresses(Hub())
