"""What happened to the asset as a whole where hardly a point lies where a pose would carry it.

A file may be written in another unit and be subdivided, bent or laid out anew in the same commit.
Then no pose carries points onto points, but another unit, other axes or a far shift still show in
the trend of all points, or in where the surfaces lie.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.whole import UNITS
from reviewbot.geometry.rigid import (
    fit_similarity,
    moved,
    nearest_signed_axes,
    scale_of,
    signed_axes,
    similarity,
)
from reviewbot.geometry.rows import rows_finite
from reviewbot.geometry.surface_distance import distance_to_surface
from reviewbot.geometry.triangles import triangulate
from reviewbot.measure.surface import extent
from reviewbot.mesh import FloatArray

PAIRS = 12  # fewer points have no trend
TURN_SLACK = 0.35  # on entries of a turn: about 20 degrees
SIZE_SLACK = 0.12  # of a factor
LEAST_FACTOR = 1.5  # a smaller one may be the edit itself
TREND = 0.5  # of the distance when standing still: how much a slip has to explain
NEAR, FAR = 0.02, 0.05  # of the size: how near the surfaces have to come, and how far they were
NEAR_ENOUGH = 0.1  # the same for another unit: nothing else takes a surface so far off
PROBES = 400


def pose_by_trend(old: FloatArray, new: FloatArray, *, turns_only: bool) -> FloatArray | None:
    """The slip that the trend of corresponding points shows; None for no clear one.

    old, new    (N, 3) places before and after that belong together
    turns_only  no reflection: the pairs may come of flipped UVs
    """
    known = rows_finite(old) & rows_finite(new)
    old, new = old[known], new[known]
    size = extent(old)
    if len(old) < PAIRS or size == 0:
        return None
    fitted = fit_similarity(new, old, turns_only=turns_only)
    turn, scale = nearest_signed_axes(fitted, TURN_SLACK), _unit_factor(scale_of(fitted))
    if turn is None or (np.array_equal(turn, np.eye(3)) and scale == 1.0):
        return None
    still = _typical(old - new)
    linear = scale * turn
    centres = (np.zeros(3), new.mean(axis=0))
    poses = [
        similarity(linear, centres[0], centres[0]),
        similarity(linear, centres[1], old.mean(axis=0)),
    ]
    left = [_typical(old - moved(new, pose)) for pose in poses]
    best = 0 if left[0] <= 1.3 * left[1] else 1  # about the origin, unless that is clearly wrong
    return poses[best] if left[best] <= TREND * still and left[best] <= 0.3 * size else None


def _typical(step: FloatArray) -> float:
    return float(np.sqrt((step**2).sum(axis=1).mean()))


def _unit_factor(scale: float) -> float:
    """The factor between two known units that a rough one may be, else 1."""
    ratios = [UNITS[a] / UNITS[b] for a in UNITS for b in UNITS]
    near = min(ratios, key=lambda ratio: abs(np.log(scale / ratio)))
    fits = abs(scale / near - 1) <= SIZE_SLACK and max(near, 1 / near) >= LEAST_FACTOR
    return near if fits else 1.0


def pose_by_surface(before: Sequence[Body], after: Sequence[Body]) -> FloatArray | None:
    """The slip under which the surfaces lie on each other; None where none brings them near."""
    triangles = np.concatenate([np.empty((0, 3, 3)), *(_triangles(body) for body in before)])
    spots = np.concatenate([np.empty((0, 3)), *(body.used_spots for body in after)])
    if not len(triangles) or len(spots) < 4:
        return None
    chosen = spots[np.linspace(0, len(spots) - 1, min(PROBES, len(spots))).astype(int)]
    corners = triangles.reshape(-1, 3)
    size = extent(corners)

    def off(pose: FloatArray) -> float:
        return float(np.median(distance_to_surface(moved(chosen, pose), triangles))) / size

    still = off(np.eye(4))
    if size == 0 or still < FAR:
        return None
    poses = list(_boxes_alike(corners, spots))
    if not poses:
        return None
    left, row = min((off(pose), row) for row, pose in enumerate(poses))
    near = NEAR if scale_of(poses[row]) == 1.0 else NEAR_ENOUGH
    return poses[row] if left <= near and left <= still / 3 else None


def _triangles(body: Body) -> FloatArray:
    corners, _ = triangulate(body.points, body.part.corner_point, body.part.face_start)
    triangles = body.points[body.part.corner_point[corners]]
    return np.asarray(triangles[np.isfinite(triangles).all(axis=(1, 2))])


def _boxes_alike(old: FloatArray, new: FloatArray) -> Iterator[FloatArray]:
    """Poses by right angles and known factors that lay one box about on the other, turns first
    that turn the least."""
    sides_old, sides_new = np.ptp(old, axis=0), np.ptp(new, axis=0)
    middle_old = (old.max(axis=0) + old.min(axis=0)) / 2
    middle_new = (new.max(axis=0) + new.min(axis=0)) / 2
    for turn in signed_axes():
        if np.linalg.det(turn) < 0:
            continue
        sides = np.abs(turn) @ sides_new
        with np.errstate(divide="ignore", invalid="ignore"):
            rough = float(np.nanmedian(sides_old / sides))
        scale = _unit_factor(rough)
        slack = 0.1 if scale == 1.0 else 0.4
        if np.abs(scale * sides - sides_old).max() <= slack * sides_old.max():
            yield similarity(scale * turn, middle_new, middle_old)
