"""Time, so that a test can have its own."""

from __future__ import annotations

import time
from typing import Protocol


class Clock(Protocol):
    """A clock that can be waited on."""

    def now(self) -> float:
        """Seconds since 1970, UTC."""

    def sleep(self, seconds: float) -> None:
        """Waits."""


class SystemClock:
    """The machine's own."""

    def now(self) -> float:
        return time.time()

    def sleep(self, seconds: float) -> None:
        time.sleep(seconds)
