"""Looking at seams, from all around or from given places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.directions import axes_for
from reviewbot.geometry.rays import RayScene
from reviewbot.measure.edge_geometry import edge_normals, points_of_places
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import FloatArray, IndexArray, Part

RAYS = 200_000  # about how many all seams of an asset may take
PIECES = 64  # a part's seams are looked at in at least about so many places


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamLines:
    """The seam edges of one part.

    edge     (N,) int32 into `shells.edges`
    ends     (N, 2, 3) float64, asset's space
    normals  (N, 2, 3) float64 of the faces on either side, see `edge_normals`
    length   (N,) float64 units; 0 where a point is nan
    """

    edge: IndexArray
    ends: FloatArray
    normals: FloatArray
    length: FloatArray


def seam_lines(part: Part, surface: Surface, shells: Shells) -> SeamLines:
    """The seams of a part, none without UVs."""
    edge = np.flatnonzero(shells.is_seam).astype(np.int32)
    return SeamLines(
        edge=edge,
        ends=points_of_places(part, surface)[shells.edges.ends[edge]],
        normals=edge_normals(part, surface, edge),
        length=np.nan_to_num(shells.lengths[edge]),
    )


def look_at_seams(
    lines: Sequence[SeamLines], scene: RayScene, *, lift: float, eyes: FloatArray
) -> tuple[FloatArray, ...]:
    """(N,) a part: of the directions that look at an edge's faces, the share that sees the edge.

    scene  everything that can stand in the way
    lift   units that a ray starts off the surface
    eyes   (N, 3) the places to look from; from all around where there are none
    """
    counts = np.concatenate([np.empty(0, np.int32), *(_piece_counts(one.length) for one in lines)])
    ends = np.concatenate([np.empty((0, 2, 3)), *(one.ends for one in lines)])
    normals = np.concatenate([np.empty((0, 2, 3)), *(one.normals for one in lines)])
    owner, point = _pieces(ends, counts)
    share = _shares_seen(point, normals[owner], scene, lift=lift, eyes=eyes)
    mean = np.bincount(owner, weights=share, minlength=len(ends)) / np.maximum(counts, 1)
    return tuple(np.split(mean, np.cumsum([len(one.edge) for one in lines])[:-1]))


def _shares_seen(
    point: FloatArray, normals: FloatArray, scene: RayScene, *, lift: float, eyes: FloatArray
) -> FloatArray:
    """(S,) of the directions that look at one of two faces, the share that sees the point.

    normals  (S, 2, 3) of the two faces; a ray starts between them
    """
    outward = np.nan_to_num(normals).sum(axis=1)
    size = np.linalg.norm(outward, axis=1, keepdims=True)
    start = point + lift * outward / np.where(size > 0, size, 1.0)
    usable = np.isfinite(start).all(axis=1) & (size[:, 0] > 0)
    seen, looked = np.zeros(len(point)), np.zeros(len(point))
    for along, away in _looks(start, eyes) if len(point) else ():
        faces_it = np.einsum("nkj,nj->nk", normals, along) > 0
        rows = np.flatnonzero(usable & faces_it.any(axis=1))
        seen[rows] += ~scene.is_blocked(start[rows], along[rows], away[rows])
        looked[rows] += 1
    return np.asarray(seen / np.maximum(looked, 1))


def _looks(start: FloatArray, eyes: FloatArray) -> Iterator[tuple[FloatArray, FloatArray]]:
    """For each direction, or each eye: (S, 3) the way to it and (S,) how far off it is."""
    axes = axes_for(2 * len(start), RAYS)
    for axis in () if len(eyes) else np.concatenate([axes, -axes]):
        yield np.broadcast_to(axis, start.shape), np.broadcast_to(np.inf, len(start))
    for eye in eyes:
        away = np.linalg.norm(eye - start, axis=1)
        yield (eye - start) / np.where(away > 0, away, 1.0)[:, None], away


def _piece_counts(length: FloatArray) -> IndexArray:
    """(N,) how many pieces each edge of a part is cut into, so that all are about alike."""
    piece = float(length.sum()) / PIECES
    if not piece > 0:
        return np.ones(len(length), dtype=np.int32)
    return np.clip(np.ceil(length / piece), 1, PIECES).astype(np.int32)


def _pieces(ends: FloatArray, counts: IndexArray) -> tuple[IndexArray, FloatArray]:
    """Edges cut into so many pieces each: (S,) edge and (S, 3) middle of each piece."""
    owner = np.repeat(np.arange(len(counts), dtype=np.int32), counts)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    along = ((nth + 0.5) / counts[owner])[:, None]
    return owner, ends[owner, 0] * (1 - along) + ends[owner, 1] * along
