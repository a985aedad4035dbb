"""What every measure of a part starts from: its points, faces and edges in the asset's space."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.edges import Edges, edges_of
from reviewbot.geometry.polygons import face_centres, newell_vectors
from reviewbot.mesh import FloatArray, Part, world_points


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A part's geometry in the asset's space.

    points       (V, 3) float64
    face_vector  (F, 3) float64 area vectors: along the normal, as long as the area; nan where a
                 coordinate is
    face_area    (F,) float64 square units
    face_centre  (F, 3) float64 mean of each face's corners
    edges        edges between point indices
    size         diagonal of the box round all used points, units; 0 for none
    """

    points: FloatArray
    face_vector: FloatArray
    face_area: FloatArray
    face_centre: FloatArray
    edges: Edges
    size: float


def surface_of(part: Part) -> Surface:
    """The surface of a part; a part without faces gives empty arrays and size 0."""
    points = world_points(part)
    vectors = newell_vectors(points, part.corner_point, part.face_start)
    if np.linalg.det(part.transform[:3, :3]) < 0:
        # A mirroring transform turns the drawing order round with it (glTF 2.0, 3.7.4).
        vectors = -vectors
    return Surface(
        points=points,
        face_vector=vectors,
        face_area=np.asarray(np.linalg.norm(vectors, axis=1)),
        face_centre=face_centres(points, part.corner_point, part.face_start),
        edges=edges_of(part.corner_point, part.face_start),
        size=extent(points[part.corner_point]),
    )


def extent(points: FloatArray) -> float:
    """Diagonal of the box round all finite points; 0 for none."""
    finite = points[np.isfinite(points).all(axis=1)]
    return float(np.linalg.norm(np.ptp(finite, axis=0))) if len(finite) else 0.0
