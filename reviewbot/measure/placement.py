"""Where an asset stands, how large it is, and what its parts' transforms still hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rows import lowest_and_highest, rows_finite
from reviewbot.mesh import FloatArray

IDENTITY_TOLERANCE = 1e-6  # of a matrix entry: rounding of the export
FOOT_HEIGHT = 0.05  # of the asset's height: points this low are its foot

# Factors by which a file is too large or too small when somebody exported in another unit, the
# likelier first. Common practice, no source, for which; the inch is 25.4 mm by definition.
_UNIT_STEPS = (100.0, 1000.0, 10.0, 2.54, 25.4, 39.37, 12.0, 1 / 0.3048)
UNIT_FACTORS = tuple(factor for step in _UNIT_STEPS for factor in (step, 1 / step))


@dataclass(frozen=True, slots=True, kw_only=True)
class TransformLeft:
    """What a part's transform does beside nothing.

    shift     how far the part's own origin is moved, units
    degrees   of the turn, 0 to 180; nan where the matrix is singular
    scale     (3,) float64 stretch along the three principal directions, the largest first
    mirrored  turns the part inside out
    """

    shift: float
    degrees: float
    scale: FloatArray
    mirrored: bool

    @property
    def is_rigid(self) -> bool:
        return bool(np.abs(self.scale - 1.0).max() <= IDENTITY_TOLERANCE) and not self.mirrored

    @property
    def is_nothing(self) -> bool:
        turned = not self.degrees <= np.degrees(IDENTITY_TOLERANCE)
        return self.is_rigid and not turned and self.shift == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """How an asset stands. All nan where no point is used.

    up             "y" or "z"
    longest        longest side of the box round all used points, units
    bottom_centre  (3,) float64 middle of the box's lowest face
    foot_centre    (3,) float64 the same round the points within FOOT_HEIGHT of the lowest: with a
                   handle to one side, the middle of what it stands on
    off_origin     the smaller of their distances from the origin, over `longest`
    """

    up: str
    longest: float
    bottom_centre: FloatArray
    foot_centre: FloatArray
    off_origin: float


def transform_left(transform: FloatArray) -> TransformLeft:
    """What a (4, 4) transform holds, by its polar decomposition; identity within rounding is 0."""
    linear, shift = transform[:3, :3], transform[:3, 3]
    left, scale, right = np.linalg.svd(np.nan_to_num(linear))
    mirrored = bool(np.linalg.det(left @ right) < 0)
    turn = left @ right * (-1.0 if mirrored else 1.0)
    cosine = np.clip((np.trace(turn) - 1) / 2, -1, 1)
    sine = np.linalg.norm(turn - turn.T) / np.sqrt(8)  # better than the cosine near no turn
    size = float(np.abs(linear).max()) or 1.0
    return TransformLeft(
        shift=float(np.linalg.norm(np.where(np.abs(shift) <= IDENTITY_TOLERANCE * size, 0, shift))),
        degrees=float(np.degrees(np.arctan2(sine, cosine))) if scale[-1] > 0 else float("nan"),
        scale=scale,
        mirrored=mirrored,
    )


def measure_placement(used_points: Sequence[FloatArray], up: str) -> Placement:
    """Where an asset of these points stands.

    used_points  (N, 3) float64 a part, asset's space, only points that faces use
    up           "y" or "z"
    """
    whole = np.concatenate([np.empty((0, 3)), *used_points])
    finite = rows_finite(whole)
    whole = whole if finite.all() else whole[finite]
    if not len(whole):
        nowhere = np.full(3, np.nan)
        return Placement(
            up=up,
            longest=float("nan"),
            bottom_centre=nowhere,
            foot_centre=nowhere,
            off_origin=float("nan"),
        )
    axis = "xyz".index(up)
    low, high = lowest_and_highest(whole)
    foot = whole[whole[:, axis] <= low[axis] + FOOT_HEIGHT * (high[axis] - low[axis])]
    centres = [_bottom(low, high, axis), _bottom(foot.min(axis=0), foot.max(axis=0), axis)]
    longest = float((high - low).max())
    nearest = min(float(np.linalg.norm(centre)) for centre in centres)
    return Placement(
        up=up,
        longest=longest,
        bottom_centre=centres[0],
        foot_centre=centres[1],
        off_origin=nearest / longest if longest > 0 else float("nan"),
    )


def unit_factor(longest: float, smallest: float | None, largest: float | None) -> float | None:
    """By which likely factor a size misses its range: the size over it lies inside.

    None where the size is in range, or no usual factor explains it.
    """
    if not longest > 0 or _in_range(longest, smallest, largest):
        return None
    fitting = (f for f in UNIT_FACTORS if _in_range(longest / f, smallest, largest))
    return next(fitting, None)


def _in_range(value: float, smallest: float | None, largest: float | None) -> bool:
    return (smallest is None or value >= smallest) and (largest is None or value <= largest)


def _bottom(low: FloatArray, high: FloatArray, axis: int) -> FloatArray:
    centre = 0.5 * (low + high)
    centre[axis] = low[axis]
    return centre
