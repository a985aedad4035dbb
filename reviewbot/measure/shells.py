"""UV shells and seams, by value: which index a UV entry has means nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from reviewbot.geometry.edges import Edges, edges_of, paired_sides
from reviewbot.geometry.polygons import corner_faces, next_corners
from reviewbot.geometry.weld import places_within
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part, world_points

PLACE_TOLERANCE = 1e-6  # of the part's size: finer differences are rounding of the export
UV_TOLERANCE = 1e-5  # of a tile: about a fiftieth of a pixel on a 2048 map


@dataclass(frozen=True, slots=True, kw_only=True)
class Shells:
    """How a part's faces lie together in the UV plane.

    corner_place  (C,) int32 points by value, within PLACE_TOLERANCE of the part's size
    edges         edges between places
    face_shell    (F,) int32 shell of each face, -1 for a face with an unmapped corner
    count         number of shells
    is_seam       (E,) bool: two mapped faces meet here, and their UVs do not
    is_open       (E,) bool: only one face side lies here
    lengths       (E,) float64 edge lengths in units
    """

    corner_place: IndexArray
    edges: Edges
    face_shell: IndexArray
    count: int
    is_seam: BoolArray
    is_open: BoolArray
    lengths: FloatArray


def find_shells(part: Part) -> Shells:
    """Shells are faces joined over edges where the UVs of both ends agree within UV_TOLERANCE.

    Only edges with exactly two sides join or cut; where more faces meet, sides of equal UVs join.
    A part without UVs has no shell and no seam.
    """
    points = world_points(part)
    place = places_within(points, PLACE_TOLERANCE * extent(points[part.corner_point]))
    corner_place = place[part.corner_point]
    edges = edges_of(corner_place, part.face_start)
    edge, first, second = paired_sides(edges)
    agree = _uvs_agree(part, corner_place, first, second)
    mapped = faces_mapped(part)
    owner = corner_faces(part.face_start)
    both = mapped[owner[first]] & mapped[owner[second]]
    is_seam = np.zeros(len(edges.ends), dtype=bool)
    is_seam[edge[both & ~agree]] = True
    joins = both & agree
    face_shell, count = _join_faces(mapped, owner[first[joins]], owner[second[joins]])
    tail = part.corner_point
    head = part.corner_point[next_corners(part.face_start)]
    side = edges.sides[edges.side_start[:-1]]
    return Shells(
        corner_place=corner_place,
        edges=edges,
        face_shell=face_shell,
        count=count,
        is_seam=is_seam,
        is_open=edges.side_count == 1,
        lengths=np.linalg.norm(points[tail[side]] - points[head[side]], axis=1),
    )


def extent(points: FloatArray) -> float:
    """Diagonal of the box round all finite points; 0 for none."""
    finite = points[np.isfinite(points).all(axis=1)]
    return float(np.linalg.norm(np.ptp(finite, axis=0))) if len(finite) else 0.0


def faces_mapped(part: Part) -> BoolArray:
    """(F,) bool: every corner has a UV."""
    mapped = np.ones(part.face_count, dtype=bool)
    mapped[corner_faces(part.face_start)[part.corner_uv < 0]] = False
    return mapped & (np.diff(part.face_start) > 0)


def _uvs_agree(
    part: Part, corner_place: IndexArray, first: IndexArray, second: IndexArray
) -> BoolArray:
    """Whether two sides on one edge carry the same UVs at its two ends, however they run."""
    if not len(part.uvs):
        return np.zeros(len(first), dtype=bool)
    follow = next_corners(part.face_start)
    uv = part.uvs[part.corner_uv]
    against = corner_place[first] != corner_place[second]
    tail = np.where(against, follow[second], second)
    head = np.where(against, second, follow[second])
    off = np.maximum(np.abs(uv[first] - uv[tail]), np.abs(uv[follow[first]] - uv[head]))
    return np.asarray(off.max(axis=1) <= UV_TOLERANCE)


def _join_faces(mapped: BoolArray, left: IndexArray, right: IndexArray) -> tuple[IndexArray, int]:
    count = len(mapped)
    graph = coo_array((np.ones(len(left), dtype=np.int8), (left, right)), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    shell = np.full(count, -1, dtype=np.int32)
    _, shell[mapped] = np.unique(label[mapped], return_inverse=True)
    return shell, int(shell.max(initial=-1)) + 1
