"""Shells into the texture's tile: rectangles set side by side, as large as they all fit."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import BoolArray, FloatArray

_DREAD = 3.0  # of buried room, against height: found by trying
_PASSES = 24  # halvings of the scale's interval: finer than a thousandth of a texel


def pack(sizes: FloatArray, *, gap: float) -> tuple[float, FloatArray, BoolArray]:
    """Places for upright rectangles in the unit square, all at one scale.

    sizes    (N, 2) width and height; the rectangles may be given a quarter turn
    gap      kept free between any two and round the border, in tiles
    returns  the scale, (N, 2) lower left corners in the tile, and (N,) which ones are turned
    """
    low, high = 0.0, 1.0 / float(np.sqrt(sizes.prod(axis=1).sum()))
    best = None
    for _ in range(_PASSES):
        scale = (low + high) / 2
        found = _fit(sizes * scale + gap, 1 - gap)
        if found is None:
            high = scale
        else:
            low, best = scale, (scale, *found)
    assert best is not None
    scale, corners, is_turned = best
    return scale, corners + gap, is_turned


def _fit(sizes: FloatArray, side: float) -> tuple[FloatArray, BoolArray] | None:
    """Lower left corners of rectangles let down on a skyline; None where one finds no room.

    The widest lying one comes first. Each goes where it ends lowest, and buries little room.
    """
    is_turned = sizes[:, 1] > sizes[:, 0]
    wide = np.where(is_turned[:, None], sizes[:, ::-1], sizes)
    corners = np.zeros_like(wide)
    skyline = [(0.0, 0.0)]  # (from x on, height)
    for k in np.lexsort([-wide[:, 1], -wide[:, 0]]).tolist():
        lying = (float(wide[k, 0]), float(wide[k, 1]))
        upright = (lying[1], lying[0])
        spots = [
            (y + height + _DREAD * buried, y, x, turn)
            for turn, (width, height) in enumerate((lying, upright))
            for x, y, buried in _spots(skyline, width, side)
            if y + height <= side
        ]
        if not spots:
            return None
        _, y, x, turn = min(spots)
        width, height = upright if turn else lying
        corners[k] = x, y
        is_turned[k] ^= bool(turn)
        skyline = _raised(skyline, x, x + width, y + height)
    return corners, is_turned


def _spots(
    skyline: list[tuple[float, float]], width: float, side: float
) -> list[tuple[float, float, float]]:
    """Where a rectangle of this width can lie, at each step of the skyline: x, y, buried area."""
    found = []
    ends = [x for x, _ in skyline[1:]] + [side]
    for x, _ in skyline:
        if x + width <= side:
            steps = zip(skyline, ends, strict=True)
            under = [
                (low, min(end, x + width) - max(start, x))
                for (start, low), end in steps
                if end > x and start < x + width
            ]
            y = max(low for low, _ in under)
            found.append((x, y, sum((y - low) * wide for low, wide in under)))
    return found


def _raised(
    skyline: list[tuple[float, float]], start: float, end: float, height: float
) -> list[tuple[float, float]]:
    """The skyline after something of this height was set down from start to end."""
    before = [step for step in skyline if step[0] < start]
    after = [step for step in skyline if step[0] > end]
    last = max((step for step in skyline if step[0] <= end), key=lambda step: step[0])
    return [*before, (start, height), (end, last[1]), *after]
