"""Plain words for messages."""

from __future__ import annotations

import math


def counted(count: int, singular: str, plural: str = "") -> str:
    """A count with its noun: "1 face", "3 faces"."""
    return f"{count} {singular if count == 1 else plural or singular + 's'}"


def verb(count: int, singular: str, plural: str) -> str:
    """The verb that goes with a count: "has" for 1, "have" for more."""
    return singular if count == 1 else plural


def figure(value: float) -> str:
    """Three digits that matter, never an exponent: 0.0123, 1.5, 204."""
    if not math.isfinite(value):
        return "unknown"
    digits = f"{float(f'{value:.3g}'):.12f}".rstrip("0").rstrip(".")
    return "0" if digits == "-0" else digits


def percent(share: float) -> str:
    """A share as a percentage: 0.5 is "50%", below a tenth with one decimal, never "0.0%"."""
    if 0 < share < 0.0005:
        return "under 0.1%"
    return f"{100 * share:.1f}%" if 0 < share < 0.1 else f"{100 * share:.0f}%"
