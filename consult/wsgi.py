"""The WSGI application: the REST API behind a proxy, where it takes several times the posts of an ASGI process."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consult.settings")
os.environ.setdefault("DATABASE_POOL", "8")

from django.core.wsgi import get_wsgi_application

django_application = get_wsgi_application()

from consult import learned, urls  # noqa: F401  all that answers is loaded before the first thread asks
from consult.service.turns import Turns

learned.learn()
application = Turns(django_application)
