"""An event loop that does not sleep: where nothing is ready, its clock moves on to what is due next."""

from __future__ import annotations

import asyncio
import selectors
from typing import Any


class Leaping(asyncio.SelectorEventLoop):
    """asyncio's own loop on a clock that leaps, so that minutes of waiting pass at once."""

    def __init__(self) -> None:
        self.leapt = 0.0
        super().__init__(_NeverWaits(self))

    def time(self) -> float:
        return super().time() + self.leapt


class _NeverWaits(selectors.DefaultSelector):  # type: ignore[misc,valid-type]
    def __init__(self, loop: Leaping) -> None:
        super().__init__()
        self.loop = loop

    def select(self, timeout: float | None = None) -> Any:
        ready = super().select(0)
        if not ready and timeout:
            self.loop.leapt += timeout
        return ready
