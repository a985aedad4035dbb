"""Where the parts of two versions lie, and whether they are alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.geometry.rows import lowest_and_highest, row_lengths
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import BoolArray, FloatArray

SAMPLES = 240  # points of a part that its place is judged by
STACKED = 6  # parts that may lie on one another and are still told apart
SHAPE_NOISE = 2e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """Where the parts of two versions lie.

    inside   (B, A) share of each part before whose points lie on points of each part after
    covered  (B, A) share of each part after whose points lie on points of each part before
    """

    inside: FloatArray
    covered: FloatArray


def lay_of(before: Sequence[Body], after: Sequence[Body], reach: float) -> Lay:
    inside = shares_of(before, after, reach)
    return Lay(inside=inside, covered=shares_of(after, before, reach).T)


def shares_of(bodies: Sequence[Body], others: Sequence[Body], reach: float) -> FloatArray:
    """(N, M) share of each body's sampled points that lie on points of each other body."""
    shares = np.zeros((len(bodies), len(others)))
    spots = [other.used_spots for other in others]
    owner = np.repeat(np.arange(len(others)), [len(s) for s in spots])
    together = np.concatenate([np.empty((0, 3)), *spots])
    if not len(together):
        return shares
    tree = tree_of(together)
    for row, body in enumerate(bodies):
        own = body.used_spots
        if not len(own):
            continue
        own = own[np.linspace(0, len(own) - 1, min(SAMPLES, len(own))).astype(int)]
        distance, index = nearest_few(tree, own, STACKED, reach)
        hit = np.zeros((len(own), len(others)), dtype=bool)
        sample, rank = np.nonzero(np.isfinite(distance))
        hit[sample, owner[index[sample, rank]]] = True
        shares[row] = hit.mean(axis=0)
    return shares


def equal_by(
    before: Sequence[Body], after: Sequence[Body], key: Callable[[Body], object]
) -> BoolArray:
    old, new = [key(body) for body in before], [key(body) for body in after]
    return np.array([[one == other for other in new] for one in old], dtype=bool).reshape(
        len(old), len(new)
    )


def apart(before: Sequence[Body], after: Sequence[Body]) -> FloatArray:
    """(B, A) distance between the middles of parts, as a share of the largest, 0 to 1."""
    old = np.array([_middle(body) for body in before]).reshape(-1, 3)
    new = np.array([_middle(body) for body in after]).reshape(-1, 3)
    gap = np.linalg.norm(old[:, None] - new[None], axis=2)
    return np.asarray(gap / max(float(gap.max(initial=0.0)), 1e-300) * 0.999)


def _middle(body: Body) -> FloatArray:
    spots = body.used_spots
    return np.array([column.mean() for column in spots.T]) if len(spots) else np.zeros(3)


def same_shape(before: Sequence[Body], after: Sequence[Body]) -> BoolArray:
    """(B, A) equal counts and equal sizes, wherever they lie and however they are turned."""
    same = equal_by(before, after, counts_of)
    old, new = [_shape(body) for body in before], [_shape(body) for body in after]
    for i, j in zip(*np.nonzero(same), strict=True):
        largest = max(float(old[i].max()), float(new[j].max()), 1e-300)
        same[i, j] = np.abs(old[i] - new[j]).max() <= SHAPE_NOISE * largest
    return same


def counts_of(body: Body) -> tuple[int, ...]:
    sizes = np.bincount(np.diff(body.part.face_start), minlength=1)
    return (len(body.used_spots), *sizes.tolist())


def _shape(body: Body) -> FloatArray:
    """(4,) lengths that no turn and no shift changes: spread along the main axes, edge length."""
    spots = body.used_spots
    if len(spots) < 2:
        return np.zeros(4)
    around = spots - _middle(body)
    spread = np.sqrt(np.maximum(np.linalg.eigvalsh(around.T @ around / len(spots)), 0))
    return np.append(spread, row_lengths(around).mean())


def box_overlap(old: FloatArray, new: FloatArray) -> float:
    """Volume of the common box over that of the box round both; 0 for parts that lie apart.

    Boxes are widened a little, so that flat parts have a volume.
    """
    if not len(old) or not len(new):
        return 0.0
    boxes = np.stack([lowest_and_highest(old), lowest_and_highest(new)])
    low, high = boxes[:, 0], boxes[:, 1]
    margin = 0.01 * max(float((high - low).max()), 1e-300)
    low, high = low - margin, high + margin
    common = np.maximum(high.min(axis=0) - low.max(axis=0), 0).prod()
    return float(common / (high.max(axis=0) - low.min(axis=0)).prod())
