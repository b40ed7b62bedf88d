"""The board as it is served, but for its pace: no test waits five seconds for what the next tick tells."""

from channels.routing import URLRouter

from consult.asgi import application, routes
from consult.live.hub import Hub, Pace
from consult.live.routing import addresses

__all__ = ["application"]

routes.application_mapping["websocket"] = URLRouter(addresses(Hub(Pace(tick=1, check=0.5))))
