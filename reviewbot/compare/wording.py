"""Plain words and figures for messages."""

from __future__ import annotations

import math
from collections.abc import Sequence


def figure(value: float) -> str:
    """Three digits that matter, never an exponent, thousands parted.

    >>> figure(0.01234), figure(1.5), figure(20412.3), figure(1e-7)
    ('0.0123', '1.5', '20,412', '0.0000001')
    """
    if not math.isfinite(value):
        return "unknown"
    if abs(value) >= 1000:
        return f"{value:,.0f}"
    rounded = float(f"{value:.3g}")
    return f"{rounded:.12f}".rstrip("0").rstrip(".") or "0"


def counted(count: int, noun: str, plural: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "face"), counted(1200, "face")
    ('1 face', '1,200 faces')
    """
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def degrees(angle: float) -> str:
    """An angle: 15°, 0.5°."""
    return f"{figure(angle)}°"


def units(length: float) -> str:
    """A length in the asset's own unit: "0.12 units", "1 unit"."""
    text = figure(length)
    return f"{text} {'unit' if text == '1' else 'units'}"


def percent(share: float) -> str:
    """A share: "50%", "0.4%"; "over 1,000%" where a percentage says nothing any more."""
    if share > 10:
        return "over 1,000%"
    return f"{figure(100 * share)}%" if share < 0.1 else f"{100 * share:.0f}%"


def listed(names: Sequence[str], limit: int = 4) -> str:
    """Names in a sentence: "lid", "lid and hook", "lid, hook and 7 more"."""
    shown = list(names[:limit])
    if len(names) > limit:
        shown = [*names[: limit - 1], f"{len(names) - limit + 1} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def of_all(count: int, total: int, noun: str) -> str:
    """ "all 12 faces", "its face", "3 of 12 faces"."""
    if count >= total:
        return f"all {total:,} {noun}s" if total > 1 else f"its only {noun}"
    return f"{count:,} of {total:,} {noun}s"


def was(count: int) -> str:
    """The verb that goes with a count: "was" or "were"."""
    return "was" if count == 1 else "were"


def done_to(count: int, total: int, noun: str, verb: str) -> str:
    """The start of a sentence about some of all.

    >>> [done_to(12, 12, "face", "moved"), done_to(1, 3, "face", "moved")]
    ['All 12 faces were moved', '1 of 3 faces was moved']
    """
    some = of_all(count, total, noun)
    return f"{some[0].upper()}{some[1:]} {was(count)} {verb}"


def turned_over(axis: str) -> str:
    """What a flip of a UV axis, "U" or "V", looks like."""
    side = "left is right" if axis == "U" else "top is bottom"
    return f"were turned over along {axis}: {side} now."
