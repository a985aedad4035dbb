"""Lay one set of points on another that is the same but for a similarity, without knowing which
point is which."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rigid import similarity
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import tree_of
from reviewbot.mesh import FloatArray, IndexArray

SAMPLES = 80
MOST_PAIRS = 3000
ALIKE = 0.95  # of the sampled points must find a partner


def registrations(source: FloatArray, target: FloatArray, tolerance: float) -> list[FloatArray]:
    """(4, 4) similarities that lay source on target, the best turn and the best reflection.

    source, target  (N, 3), (M, 3) finite points, in any order
    tolerance       in units of `target`
    returns         empty where the sets are not the same but for a similarity. Two points far
                    from the middle and from each other, at distances that few points share, are
                    sought among the points of the other set at the same distances
    """
    if len(source) < 4 or len(source) != len(target):
        return []
    middle, aim = source.mean(axis=0), target.mean(axis=0)
    near, far = source - middle, target - aim
    spread, goal = np.sqrt((near**2).sum(axis=1).mean()), np.sqrt((far**2).sum(axis=1).mean())
    if spread == 0 or goal == 0:
        return []
    scale = goal / spread
    near = near * scale
    slack = 8 * tolerance
    pair = _marked_pair(far, slack)
    if pair is None:
        return []
    turns = _turns_onto(near, far[pair[0]], far[pair[1]], slack)
    found = []
    for reflected in (False, True):
        best = _best_turn(turns[:, int(reflected)], near, far, slack)
        if best is not None:
            found.append(similarity(scale * best, middle, aim))
    return found


def _marked_pair(points: FloatArray, slack: float) -> tuple[int, int] | None:
    """Two points that few others resemble: by distance from the middle, and from each other."""
    first = _rarest(np.linalg.norm(points, axis=1), slack)
    if first is None:
        return None
    along = points[first] / np.linalg.norm(points[first])
    across = np.linalg.norm(points - np.outer(points @ along, along), axis=1)
    second = _rarest(across, slack)
    return None if second is None else (first, second)


def _rarest(distance: FloatArray, slack: float) -> int | None:
    """The point whose distance the fewest others share, among those beyond half the largest."""
    largest = float(distance.max())
    rows = rows_where(distance > max(0.5 * largest, 4 * slack))
    if not len(rows):
        return None
    order = np.sort(distance)
    sharing = np.searchsorted(order, distance[rows] + slack) - np.searchsorted(
        order, distance[rows] - slack
    )
    fewest = rows[sharing == sharing.min()]
    return int(fewest[np.argmax(distance[fewest])])


def _turns_onto(
    points: FloatArray, first: FloatArray, second: FloatArray, slack: float
) -> FloatArray:
    """(K, 2, 3, 3) turns and reflections that carry two of the points onto first and second."""
    radius = np.linalg.norm(points, axis=1)
    firsts = rows_where(np.abs(radius - np.linalg.norm(first)) <= slack)
    seconds = rows_where(np.abs(radius - np.linalg.norm(second)) <= slack)
    apart = np.linalg.norm(first - second)
    pairs: list[IndexArray] = []
    total = 0
    for row in firsts.tolist():
        off = np.linalg.norm(points[seconds] - points[row], axis=1) - apart
        fit = seconds[np.abs(off) <= 2 * slack]
        pairs.append(np.stack([np.full(len(fit), row, dtype=np.int32), fit], axis=1))
        total += len(fit)
        if total > MOST_PAIRS:
            break
    chosen = np.concatenate([np.empty((0, 2), dtype=np.int32), *pairs])
    aim = _frames(first[None], second[None])[0]
    own = _frames(points[chosen[:, 0]], points[chosen[:, 1]])
    turn = np.einsum("ij,kjl->kil", aim, own.transpose(0, 2, 1))
    flip = aim @ np.diag([1.0, 1.0, -1.0])
    reflected = np.einsum("ij,kjl->kil", flip, own.transpose(0, 2, 1))
    return np.stack([turn, reflected], axis=1)


def _frames(first: FloatArray, second: FloatArray) -> FloatArray:
    """(K, 3, 3) orthonormal columns: along the first, in the plane of both, across."""
    along = first / np.linalg.norm(first, axis=1)[:, None]
    inside = second - np.einsum("ki,ki->k", second, along)[:, None] * along
    inside = inside / np.maximum(np.linalg.norm(inside, axis=1), 1e-300)[:, None]
    return np.stack([along, inside, np.cross(along, inside)], axis=2)


def _best_turn(
    turns: FloatArray, source: FloatArray, target: FloatArray, slack: float
) -> FloatArray | None:
    rows = np.linspace(0, len(source) - 1, min(SAMPLES, len(source))).astype(int)
    tree = tree_of(target)
    best, most = None, ALIKE
    for start in range(0, len(turns), 256):
        some = turns[start : start + 256]
        laid = np.einsum("kij,nj->kni", some, source[rows])
        off, _ = tree.query(laid, distance_upper_bound=4 * slack)
        share = np.isfinite(off).mean(axis=1)
        if share.max() >= most:
            best, most = some[int(np.argmax(share))], float(share.max())
            if most >= 1.0:
                break
    return best
