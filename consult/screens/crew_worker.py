"""The script that keeps the crew's pages for when there is no link; by its address it serves all under /crew/."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import path

from consult.screens.page import said_by_scripts

FOLDER = Path(__file__).resolve().parents[1] / "static"
TEMPLATES = settings.BASE_DIR / "templates"
KEPT = ("core/*.js", "crew/*.js", "crew*.css", "icon.svg")


@lru_cache(maxsize=1)
def script() -> str:
    """The worker's text with the version of all that it keeps, where the files of the pages are, and its own page.

    The version changes with any script, style or template: what was kept under another one is dropped.
    """
    files = sorted(file for pattern in KEPT for file in FOLDER.glob(pattern) if file.name != "worker.js")
    told = hashlib.sha256()
    for file in (*files, *sorted(TEMPLATES.rglob("*.html"))):
        told.update(file.read_bytes())
    told.update(json.dumps(said_by_scripts()).encode())
    names = [static(file.relative_to(FOLDER).as_posix()) for file in files]
    head = {"VERSION": told.hexdigest()[:12], "FILES": names, "NOT_KEPT": render_to_string("crew/not_kept.html")}
    lines = [f"const {name} = {json.dumps(value)};\n" for name, value in head.items()]
    return "".join(lines) + (FOLDER / "crew/worker.js").read_text(encoding="utf-8")


def worker(request: HttpRequest) -> HttpResponse:
    """The script; whoever asks, it holds nothing but addresses of files."""
    return HttpResponse(script(), content_type="text/javascript; charset=utf-8")


urlpatterns = [path("crew/worker.js", worker, name="crew-worker")]
