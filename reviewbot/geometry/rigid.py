"""Similarities carry points to points: turns, reflections, shifts and uniform sizes.

All are (4, 4) float64 matrices applied to column vectors.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product

import numpy as np

from reviewbot.mesh import BoolArray, FloatArray

_SIGNED_AXES = np.array(
    [
        np.eye(3)[list(order)] * np.array(signs)[:, None]
        for order in permutations(range(3))
        for signs in product((1.0, -1.0), repeat=3)
    ]
)


def signed_axes() -> FloatArray:
    """(48, 3, 3) all turns by right angles and their reflections, the identity first."""
    return _SIGNED_AXES


def moved(points: FloatArray, matrix: FloatArray) -> FloatArray:
    """(N, 3) points carried by a (4, 4) matrix; the same array for the identity."""
    if np.array_equal(matrix, np.eye(4)):
        return points
    with np.errstate(invalid="ignore"):
        return np.asarray(points @ matrix[:3, :3].T + matrix[:3, 3])


def inverse(matrix: FloatArray) -> FloatArray:
    """(4, 4) the way back."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def similarity(linear: FloatArray, source: FloatArray, target: FloatArray) -> FloatArray:
    """(4, 4) with this linear part, carrying the point `source` (3,) to the point `target`."""
    matrix = np.eye(4)
    matrix[:3, :3] = linear
    matrix[:3, 3] = target - linear @ source
    return matrix


def fit_similarity(
    source: FloatArray, target: FloatArray, *, turns_only: bool = False
) -> FloatArray:
    """The least-squares similarity from source to target points, a reflection where that fits.

    source, target  (N, 3) float64, finite, row to row
    turns_only      the best one without a reflection
    returns         (4, 4); a flat set is turned, never reflected; points that all coincide, or
                    no points at all, are only shifted
    source          Umeyama, "Least-squares estimation of transformation parameters between two
                    point patterns", IEEE PAMI 13(4), 1991, here with reflections left in
    """
    if not len(source):
        return np.eye(4)
    linear, middle, aim = _fit_many(source[None], target[None], turns_only)
    return similarity(linear[0], middle[0], aim[0])


def _fit_many(
    source: FloatArray, target: FloatArray, turns_only: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fits of K sets of N points at once: linear parts (K, 3, 3) and both middles (K, 3)."""
    middle, aim = source.mean(axis=1), target.mean(axis=1)
    from_middle, from_aim = source - middle[:, None], target - aim[:, None]
    left, sizes, right = np.linalg.svd(np.einsum("kni,knj->kij", from_aim, from_middle))
    improper = np.linalg.det(left) * np.linalg.det(right) < 0
    flat = sizes[:, 2] <= 1e-9 * sizes[:, 0]
    undone = improper & (flat | turns_only)
    left[undone, :, 2] *= -1
    sizes[undone, 2] *= -1
    spread = np.einsum("kni,kni->k", from_middle, from_middle)
    scale = np.where(spread > 0, sizes.sum(axis=1) / np.where(spread > 0, spread, 1), 1.0)
    return scale[:, None, None] * (left @ right), middle, aim


@dataclass(frozen=True, slots=True, kw_only=True)
class Consensus:
    """A similarity on which many pairs of points agree.

    matrix  (4, 4)
    agrees  (N,) bool, the pairs that it carries within the tolerance
    """

    matrix: FloatArray
    agrees: BoolArray

    @property
    def share(self) -> float:
        """0 where there are no pairs."""
        return float(self.agrees.mean()) if len(self.agrees) else 0.0


def consensus_similarity(
    source: FloatArray,
    target: FloatArray,
    tolerance: float,
    *,
    tries: int = 160,
    turns_only: bool = False,
) -> Consensus:
    """The similarity that carries the most pairs of points, however far off the others are.

    source, target  (N, 3) float64 row to row; rows with nan or infinity agree with nothing
    tolerance       in units of `target`
    turns_only      reflections do not count
    returns         the same for the same input: the draws are seeded
    source          random sample consensus, Fischler & Bolles, Comm. ACM 24(6), 1981
    """
    usable = np.flatnonzero(np.isfinite(source).all(axis=1) & np.isfinite(target).all(axis=1))
    agrees = np.zeros(len(source), dtype=bool)
    if not len(usable):
        return Consensus(matrix=np.eye(4), agrees=agrees)
    source, target = source[usable], target[usable]
    matrix = _most_agreed(source, target, tolerance, tries, turns_only)
    for _ in range(4):
        inside = _distances(matrix, source, target) <= tolerance
        if not inside.any():
            break
        matrix = fit_similarity(source[inside], target[inside], turns_only=turns_only)
    agrees[usable] = _distances(matrix, source, target) <= tolerance
    return Consensus(matrix=matrix, agrees=agrees)


def _most_agreed(
    source: FloatArray, target: FloatArray, tolerance: float, tries: int, turns_only: bool
) -> FloatArray:
    """The best of: a fit to everything, and fits to drawn sets of four pairs."""
    rng = np.random.default_rng(4)
    drawn = rng.integers(0, len(source), size=(tries, 4))
    linear, middle, aim = _fit_many(source[drawn], target[drawn], turns_only)
    whole = _fit_many(source[None], target[None], turns_only)
    linear = np.concatenate([whole[0], linear])
    shift = np.concatenate([whole[2], aim]) - np.einsum(
        "kij,kj->ki", linear, np.concatenate([whole[1], middle])
    )
    judged = rng.choice(len(source), size=min(len(source), 600), replace=False)
    carried = np.einsum("kij,nj->kni", linear, source[judged]) + shift[:, None]
    off = np.linalg.norm(carried - target[judged], axis=2)
    # A fit to four rounded pairs is a little off far from them: count with a wider tolerance.
    best = int(np.argmax((off <= 10 * tolerance).sum(axis=1)))
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = linear[best], shift[best]
    inside = _distances(matrix, source, target) <= 10 * tolerance
    if not inside.any():
        return matrix
    return fit_similarity(source[inside], target[inside], turns_only=turns_only)


def _distances(matrix: FloatArray, source: FloatArray, target: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(moved(source, matrix) - target, axis=1))


def scale_of(matrix: FloatArray) -> float:
    """Uniform factor of a similarity, above 0 also for a reflection."""
    return float(np.abs(np.linalg.det(matrix[:3, :3])) ** (1 / 3))


def is_reflected(matrix: FloatArray) -> bool:
    return bool(np.linalg.det(matrix[:3, :3]) < 0)


def turn_of(matrix: FloatArray) -> tuple[float, FloatArray]:
    """Angle in degrees, 0 to 180, and axis (3,) of a similarity's turn; a reflection is undone
    through the origin first. The axis is (0, 0, 0) where nothing turns."""
    linear = matrix[:3, :3] / scale_of(matrix)
    if np.linalg.det(linear) < 0:
        linear = -linear
    across = np.array(
        [linear[2, 1] - linear[1, 2], linear[0, 2] - linear[2, 0], linear[1, 0] - linear[0, 1]]
    )
    angle = float(np.degrees(np.arctan2(np.linalg.norm(across), np.trace(linear) - 1)))
    if angle < 1e-9:
        return 0.0, np.zeros(3)
    if angle > 179.9999:
        column = (linear + np.eye(3))[:, int(np.argmax(np.diag(linear)))]
        return angle, column / np.linalg.norm(column)
    return angle, across / np.linalg.norm(across)


def mirror_axis_of(matrix: FloatArray) -> int:
    """Of a reflection, the axis (0, 1, 2) of the mirroring that leaves the least turn to follow."""
    return min(range(3), key=lambda axis: turn_of(matrix @ mirroring(axis))[0])


def mirroring(axis: int) -> FloatArray:
    """(4, 4) the mirroring along one axis, through the origin."""
    sides = np.ones(4)
    sides[axis] = -1
    return np.diag(sides)


def nearest_signed_axes(matrix: FloatArray, tolerance: float) -> FloatArray | None:
    """(3, 3) of the 48 turns and reflections by right angles that this one is, else None.

    tolerance  on each entry of the turn
    """
    linear = matrix[:3, :3] / scale_of(matrix)
    rounded = np.rint(linear)
    return rounded if np.abs(linear - rounded).max() <= tolerance else None
