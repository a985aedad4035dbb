"""Where a part's edges lie in space and how its faces turn over them. Edges are between places."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.polygons import corner_faces
from reviewbot.geometry.rows import rows_at
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part


def points_of_places(part: Part, surface: Surface) -> FloatArray:
    """(P, 3) a point of each place; nan for a place that no corner stands on."""
    point = np.full(int(surface.corner_place.max(initial=-1)) + 1, -1, dtype=np.int32)
    point[surface.corner_place] = part.corner_point
    places = rows_at(surface.points, point)
    places[point < 0] = np.nan
    return places


def two_sided_edges(surface: Surface) -> IndexArray:
    """(N,) int32 edges with exactly two sides, collapsed ones left out."""
    edges = surface.value_edges
    solid = edges.ends[:, 0] != edges.ends[:, 1]
    return np.flatnonzero((edges.side_count == 2) & solid).astype(np.int32)


def edge_faces(part: Part, surface: Surface, edge: IndexArray) -> IndexArray:
    """(N, 2) int32 the first and the last face at each edge; twice the same at a border."""
    edges = surface.value_edges
    first, last = edges.side_start[edge], edges.side_start[edge + 1] - 1
    sides = np.stack([edges.sides[first], edges.sides[last]], axis=1)
    return corner_faces(part.face_start)[sides]


def edge_normals(part: Part, surface: Surface, edge: IndexArray) -> FloatArray:
    """(N, 2, 3) unit normals of those faces; nan for one without area.

    The last is turned over where it is wound against the first.
    """
    edges = surface.value_edges
    face = edge_faces(part, surface, edge)
    with np.errstate(divide="ignore", invalid="ignore"):
        normals = rows_at(surface.face_vector, face) / surface.face_area[face][..., None]
    first = edges.sides[edges.side_start[edge]]
    last = edges.sides[edges.side_start[edge + 1] - 1]
    against = (edges.forward[first] == edges.forward[last]) & (first != last)
    normals[against, 1] *= -1.0
    return np.asarray(normals)


def turns_by(normals: FloatArray, degrees: float) -> BoolArray:
    """(N,) bool: the two normals (N, 2, 3) turn by at least so much; False where one is nan."""
    cosine = np.einsum("ij,ij->i", normals[:, 0], normals[:, 1])
    return np.asarray(cosine <= np.cos(np.radians(degrees)))
