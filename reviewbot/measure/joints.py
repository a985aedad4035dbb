"""Which face sides meet: by index first, and where those stay open, by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import corner_faces
from reviewbot.geometry.ranges import run_starts
from reviewbot.measure.surface import Surface
from reviewbot.measure.twins import Twins
from reviewbot.mesh import BoolArray, IndexArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Joints:
    """Sides that meet, faces lying on another one left out. A side is named by its corner.

    pairs       (J, 2) int32 sides that lie alone together: on one edge by index, or, both open by
                index, on one edge by place
    open_sides  (O,) int32 sides that no other lies on, by index or by place
    crowded     (K,) int32 edges by index with more than two sides
    runs_on     (J,) bool: the two sides run against each other, as in one consistent winding
    """

    pairs: IndexArray
    open_sides: IndexArray
    crowded: IndexArray
    runs_on: BoolArray


def find_joints(part: Part, surface: Surface, twins: Twins) -> Joints:
    """Joints of a part. Files that share no points between faces are joined by place alone."""
    owner = corner_faces(part.face_start)
    places = surface.value_edges
    solid = places.ends[places.corner_edge, 0] != places.ends[places.corner_edge, 1]
    kept = solid & ~twins.left_out[owner]
    sides = surface.edges.sides
    by_index = _Lots(surface.edges.corner_edge, sides if kept.all() else sides[kept[sides]])
    open_by_index = by_index.of_size(1)[:, 0]
    order = np.argsort(places.corner_edge[open_by_index], kind="stable")
    by_place = _Lots(places.corner_edge, open_by_index[order])
    pairs = np.concatenate([by_index.of_size(2), by_place.of_size(2)])
    forward = places.forward
    return Joints(
        pairs=pairs,
        open_sides=by_place.of_size(1)[:, 0],
        crowded=by_index.larger_than(2),
        runs_on=forward[pairs[:, 0]] != forward[pairs[:, 1]],
    )


class _Lots:
    """Sides by the edge they lie on; they come with those of one edge next to each other."""

    def __init__(self, side_edge: IndexArray, sides: IndexArray) -> None:
        self._sides = sides
        edge = side_edge[sides]
        self._starts = run_starts(edge)
        self._edges = edge[self._starts]
        self._sizes = np.diff(self._starts, append=len(edge))

    def of_size(self, size: int) -> IndexArray:
        """(N, size) int32 sides of the edges with that many."""
        starts = self._starts[self._sizes == size]
        return np.asarray(self._sides[starts[:, None] + np.arange(size)], dtype=np.int32)

    def larger_than(self, size: int) -> IndexArray:
        """(N,) int32 edges with more sides than that."""
        return np.asarray(self._edges[self._sizes > size], dtype=np.int32)
