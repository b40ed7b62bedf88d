"""The script that keeps the crew's pages for when there is no link; by its address it serves all under /crew/."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.urls import path

FOLDER = Path(__file__).resolve().parents[1] / "static"
TEMPLATES = settings.BASE_DIR / "templates"
KEPT = ("core/*.js", "crew/*.js", "crew*.css", "icon.svg")


@lru_cache(maxsize=1)
def script() -> str:
    """The worker's text with the version of all that it keeps, and where the files of the pages are.

    The version changes with any script, style or template: what was kept under another one is dropped.
    """
    files = sorted(file for pattern in KEPT for file in FOLDER.glob(pattern) if file.name != "worker.js")
    told = hashlib.sha256()
    for file in (*files, *sorted(TEMPLATES.rglob("*.html"))):
        told.update(file.read_bytes())
    names = [static(file.relative_to(FOLDER).as_posix()) for file in files]
    head = f"const VERSION = {json.dumps(told.hexdigest()[:12])};\nconst FILES = {json.dumps(names)};\n"
    return head + (FOLDER / "crew/worker.js").read_text(encoding="utf-8")


def worker(request: HttpRequest) -> HttpResponse:
    """The script; whoever asks, it holds nothing but addresses of files."""
    return HttpResponse(script(), content_type="text/javascript; charset=utf-8")


urlpatterns = [path("crew/worker.js", worker, name="crew-worker")]
