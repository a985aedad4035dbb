"""Parts of a whole."""

from __future__ import annotations


def share_of(some: float, whole: float) -> float:
    """some / whole; nan where there is no whole."""
    return some / whole if whole > 0 else float("nan")
