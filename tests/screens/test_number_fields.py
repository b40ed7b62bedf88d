"""Each field that a crew types a number into says so to the phone: with a point, but for whole minutes.

A keypad without a point turns 3.5 kg into 35 kg: the ten-fold slip (common practice, no source).
"""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

TYPED = re.compile(r"<input\b(?![^>]*type=\"(?:radio|hidden|checkbox)\")[^>]*data-type=\"(?:number|minutes)\"[^>]*>")
KEYS = re.compile(r"inputmode=\"(?:decimal|\{% if field\.form == 'more' %\}decimal\{% else %\}none\{% endif %\})\"")


def test_each_number_has_a_point_on_the_keypad() -> None:
    pages = {path.name: path.read_text() for path in (Path(settings.BASE_DIR) / "templates" / "crew").glob("*.html")}
    typed = [(name, field) for name, text in pages.items() for field in TYPED.findall(text)]

    assert len(typed) > 20
    assert [(name, field) for name, field in typed if not KEYS.search(field)] == []
