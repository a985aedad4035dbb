"""Edges of polygons, found from their corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import next_corners
from reviewbot.mesh import BoolArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """Undirected edges and the face sides that lie on them.

    A side is named by its corner: it runs from that corner to the next one round the face.

    ends         (E, 2) int32, the two places, lower first; equal for a collapsed side
    corner_edge  (C,) int32, the edge under each side
    sides        (C,) int32, all sides, those on one edge next to each other
    side_start   (E + 1,) int32, offsets into `sides`
    forward      (C,) bool, the side runs from the lower place to the higher
    """

    ends: IndexArray
    corner_edge: IndexArray
    sides: IndexArray
    side_start: IndexArray
    forward: BoolArray

    @property
    def side_count(self) -> IndexArray:
        """(E,) int32 sides on each edge: 1 at a border, 2 inside, more where it is not manifold."""
        return np.diff(self.side_start)


def edges_of(corner_place: IndexArray, face_start: IndexArray) -> Edges:
    """The edges of faces whose corners stand on the given places.

    corner_place  (C,) int32: point indices, or places by value (see `geometry.weld`)
    """
    here = corner_place.astype(np.int64)
    there = here[next_corners(face_start)]
    low, high = np.minimum(here, there), np.maximum(here, there)
    key = low * (int(here.max(initial=0)) + 1) + high
    sides = np.argsort(key, kind="stable").astype(np.int32)
    ordered = key[sides]
    first = np.ones(len(key), dtype=bool)
    first[1:] = ordered[1:] != ordered[:-1]
    corner_edge = np.empty(len(key), dtype=np.int32)
    corner_edge[sides] = np.cumsum(first, dtype=np.int32) - 1
    starts = np.flatnonzero(first)
    return Edges(
        ends=np.stack([low[sides[starts]], high[sides[starts]]], axis=1).astype(np.int32),
        corner_edge=corner_edge,
        sides=sides,
        side_start=np.append(starts, len(key)).astype(np.int32),
        forward=here < there,
    )


def paired_sides(edges: Edges) -> tuple[IndexArray, IndexArray, IndexArray]:
    """Edges with exactly two sides: (edge (P,), first side (P,), second side (P,))."""
    edge = np.flatnonzero((edges.side_count == 2) & (edges.ends[:, 0] != edges.ends[:, 1]))
    start = edges.side_start[edge]
    return edge.astype(np.int32), edges.sides[start], edges.sides[start + 1]
