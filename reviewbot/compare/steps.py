"""Subdivision steps over faces with all that their corners carry.

Two steps: each face of n corners into n quads (points kept, or smoothed by Catmull–Clark), and
each triangle into four.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from reviewbot.compare.grown import Grown, place_count
from reviewbot.geometry.catmull_clark import refine, step_over
from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.polygons import (
    corner_faces,
    next_corners,
    previous_corners,
    sum_per_face,
)
from reviewbot.mesh import FloatArray, IndexArray

ABOUT = (0.7, 1.4)  # places of a step against those wanted, which may have been edited as well
STEPS = 3


def steps(grown: Grown, wanted: int, *, smooth: bool) -> Iterator[Grown]:
    """The faces after one to three steps that give about the wanted number of places."""
    for triangles in (False,) if smooth else (False, True):
        current = grown
        for _ in range(STEPS):
            if triangles and (np.diff(current.start) != 3).any():
                break
            current = triangle_step(current) if triangles else quad_step(current, smooth=smooth)
            places = place_count(current)
            if places > ABOUT[1] * wanted:
                break
            if places >= ABOUT[0] * wanted:
                yield current


def quad_step(grown: Grown, *, smooth: bool) -> Grown:
    """Each face of n corners into n quads; quads come in the order of the corners."""
    edges = edges_of(grown.place, grown.start)
    done = step_over(grown.spots, grown.place, grown.start, edges)
    if not smooth:
        middle = 0.5 * (grown.spots[edges.ends[:, 0]] + grown.spots[edges.ends[:, 1]])
        done = replace(done, vertex_points=grown.spots, edge_points=middle)
    spots, place, start = refine(done)
    follow, previous = next_corners(grown.start), previous_corners(grown.start)
    ahead, owner = _halfway(grown.uv, follow), corner_faces(grown.start)
    uv = np.stack([grown.uv, ahead, _face_means(grown)[owner], ahead[previous]], axis=1)
    middle_point = _pair_keys(grown.point, grown.point[follow])
    keys = np.stack(
        [_lone_keys(grown.point), middle_point, _face_keys(owner), middle_point[previous]], axis=1
    )
    corner = np.full(len(place), -1, dtype=np.int32)
    corner[::4] = grown.corner
    return Grown(
        spots=spots,
        place=place,
        point=_numbered(keys.reshape(-1)),
        uv=uv.reshape(-1, 2),
        start=start,
        face=np.repeat(grown.face, np.diff(grown.start)),
        corner=corner,
    )


def triangle_step(grown: Grown) -> Grown:
    """Each triangle into one at each corner and one in the middle; all faces must be triangles."""
    edges = edges_of(grown.place, grown.start)
    middle = 0.5 * (grown.spots[edges.ends[:, 0]] + grown.spots[edges.ends[:, 1]])
    follow, previous = next_corners(grown.start), previous_corners(grown.start)
    own = (len(grown.spots) + edges.corner_edge).astype(np.int32)
    ahead, middle_point = (
        _halfway(grown.uv, follow),
        _pair_keys(grown.point, grown.point[follow]),
    )

    def cut(at_corner: np.ndarray, at_middle: np.ndarray) -> np.ndarray:
        around = np.stack([at_corner, at_middle, at_middle[previous]], axis=1)
        shape = (len(grown.face), 3, *around.shape[1:])
        inner = at_middle.reshape(len(grown.face), 1, 3, *at_middle.shape[1:])
        return np.concatenate([around.reshape(shape), inner], axis=1).reshape(
            -1, *at_corner.shape[1:]
        )

    nothing = np.full(len(own), -1, dtype=np.int32)
    count = 12 * len(grown.face)
    return Grown(
        spots=np.concatenate([grown.spots, middle]),
        place=cut(grown.place, own).astype(np.int32),
        point=_numbered(cut(_lone_keys(grown.point), middle_point)),
        uv=cut(grown.uv, ahead),
        start=np.arange(0, count + 1, 3, dtype=np.int32),
        face=np.repeat(grown.face, 4),
        corner=cut(grown.corner, nothing).astype(np.int32),
    )


def _halfway(uv: FloatArray, follow: IndexArray) -> FloatArray:
    return np.asarray(0.5 * (uv + uv[follow]))


def _face_means(grown: Grown) -> FloatArray:
    sizes = np.maximum(np.diff(grown.start), 1)
    return np.asarray(sum_per_face(grown.uv, grown.start) / sizes[:, None])


_Keys = np.ndarray[tuple[int], np.dtype[np.int64]]


def _lone_keys(point: IndexArray) -> _Keys:
    return np.asarray(point.astype(np.int64) << 32 | 0xFFFFFFFF)


def _pair_keys(one: IndexArray, other: IndexArray) -> _Keys:
    low, high = np.minimum(one, other), np.maximum(one, other)
    return np.asarray(low.astype(np.int64) << 32 | high)


def _face_keys(face: IndexArray) -> _Keys:
    return -1 - face.astype(np.int64)


def _numbered(keys: _Keys) -> IndexArray:
    return np.unique(keys, return_inverse=True)[1].reshape(-1).astype(np.int32)
