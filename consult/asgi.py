"""The ASGI application: pages and the REST API through Django, websockets through Channels."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")
os.environ.setdefault("DATABASE_POOL", "8")

from django.core.asgi import get_asgi_application

django_application = get_asgi_application()

from channels.routing import ProtocolTypeRouter, URLRouter

from consult import learned, urls  # noqa: F401  all that answers is loaded before the first thread asks
from consult.live.routing import urlpatterns
from consult.service.bodies import Bodies
from consult.service.kept_files import KeptFiles

learned.learn()
routes = ProtocolTypeRouter({"http": django_application, "websocket": URLRouter(urlpatterns)})
application = KeptFiles(Bodies(routes))
