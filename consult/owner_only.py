"""New files that only their owner may read."""

from __future__ import annotations

import os
from pathlib import Path


def make(file: Path, text: str) -> None:
    """Make a file with this text; raises FileExistsError where it is there already."""
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
