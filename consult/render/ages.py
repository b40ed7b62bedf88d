"""What is old by now, marked in HTML that was drawn without a time of day: a page is true before its script runs."""

from __future__ import annotations

import re
from datetime import datetime

from consult.clock import when

STALE_AT = re.compile(r'data-stale-at="([^"]+)"')


def marked(html: str, now: datetime) -> str:
    """The HTML with ``data-fresh="stale"`` at everything whose ``data-stale-at`` has come, as the script marks it."""
    return STALE_AT.sub(lambda found: found[0] + (' data-fresh="stale"' if when(found[1]) < now else ""), html)
