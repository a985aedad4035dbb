"""How long to wait before something that failed is tried again."""

from __future__ import annotations

import random

LONGEST = 600.0  # seconds


def wait_after(failures: int, *, first: float, chance: float | None = None) -> float:
    """Seconds to wait after so many failures in a row: twice as long each time, up to a limit.

    first   the wait after one failure
    chance  between 0 and 1, so that many watchers do not come back at the same moment: the wait
            is between half of the time and all of it; None draws it

    >>> [wait_after(n, first=60, chance=1.0) for n in (1, 2, 3, 4, 5)]
    [60.0, 120.0, 240.0, 480.0, 600.0]
    """
    drawn = random.random() if chance is None else chance
    whole = min(LONGEST, first * 2.0 ** min(failures - 1, 30))
    return whole * (0.5 + 0.5 * drawn)
