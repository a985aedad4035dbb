"""What every measure of a part starts from: its points, faces and edges in the asset's space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.edges import Edges, edges_of
from reviewbot.geometry.polygons import face_centres, newell_vectors, next_corners
from reviewbot.geometry.rows import lowest_and_highest, rows_at, rows_finite
from reviewbot.geometry.weld import places_within
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part, world_points

PLACE_TOLERANCE = 1e-6  # of the part's size: finer differences are rounding of the export


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A part's geometry in the asset's space.

    points        (V, 3) float64
    used          (V,) bool: at least one face stands on the point
    face_vector   (F, 3) float64 area vectors: along the normal, as long as the area; nan where a
                  coordinate is nan or infinite
    face_area     (F,) float64 square units
    face_centre   (F, 3) float64 mean of each face's corners
    edges         edges between point indices
    corner_place  (C,) int32 points by value, within PLACE_TOLERANCE of the size; the part's own
                  corner_point where all points lie apart
    value_edges   edges between places; the very same as `edges` where all points lie apart
    lengths       (E,) float64 of `value_edges`, units
    box           (2, 3) float64 corners of the box round the used, finite points; nan for none
    size          diagonal of that box, units; 0 for none
    """

    points: FloatArray
    used: BoolArray
    face_vector: FloatArray
    face_area: FloatArray
    face_centre: FloatArray
    edges: Edges
    corner_place: IndexArray
    value_edges: Edges
    lengths: FloatArray
    box: FloatArray
    size: float


def surface_of(part: Part) -> Surface:
    """The surface of a part; a part without faces gives empty arrays, a box of nan and size 0."""
    points = world_points(part)
    used = np.zeros(len(points), dtype=bool)
    used[part.corner_point] = True
    vectors = newell_vectors(points, part.corner_point, part.face_start)
    if mirrors(part.transform):
        # A mirroring transform turns the drawing order round with it (glTF 2.0, 3.7.4).
        vectors = -vectors
    box = box_round(points if used.all() else points[used])
    size = diagonal(box)
    edges = edges_of(part.corner_point, part.face_start)
    corner_place = places_within(points, PLACE_TOLERANCE * size)[part.corner_point]
    apart = np.array_equal(corner_place, part.corner_point)
    value_edges = edges if apart else edges_of(corner_place, part.face_start)
    return Surface(
        points=points,
        used=used,
        face_vector=vectors,
        face_area=np.sqrt(np.einsum("ij,ij->i", vectors, vectors)),
        face_centre=face_centres(points, part.corner_point, part.face_start),
        edges=edges,
        corner_place=part.corner_point if apart else corner_place,
        value_edges=value_edges,
        lengths=_edge_lengths(points, part, value_edges),
        box=box,
        size=size,
    )


def _edge_lengths(points: FloatArray, part: Part, edges: Edges) -> FloatArray:
    side = edges.sides[edges.side_start[:-1]]
    along = rows_at(points, part.corner_point[next_corners(part.face_start)[side]])
    along -= rows_at(points, part.corner_point[side])
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", along, along)))


def mirrors(transform: FloatArray) -> bool:
    """Whether a (4, 4) transform turns right hands into left hands."""
    return bool(np.linalg.det(transform[:3, :3]) < 0)


def extent(points: FloatArray) -> float:
    """Diagonal of the box round all finite points; 0 for none."""
    return diagonal(box_round(points))


def diagonal(box: FloatArray) -> float:
    """Of a box (2, 3), units; 0 for one of nan."""
    return float(np.nan_to_num(np.linalg.norm(box[1] - box[0])))


def box_round(points: FloatArray) -> FloatArray:
    """(2, 3) lowest and highest corner round the finite points; nan for none."""
    finite = rows_finite(points)
    some = points if finite.all() else points[finite]
    if not len(some):
        return np.full((2, 3), np.nan)
    return lowest_and_highest(some)


def box_round_boxes(boxes: FloatArray) -> FloatArray:
    """(2, 3) the box round boxes (N, 2, 3), those of nan left out; nan for none."""
    known = boxes[np.isfinite(boxes).all(axis=(1, 2))]
    if not len(known):
        return np.full((2, 3), np.nan)
    return np.stack([known[:, 0].min(axis=0), known[:, 1].max(axis=0)])
