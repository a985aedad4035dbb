"""How a part's faces hang together, and what does not hang on any."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.ranges import ranges
from reviewbot.geometry.rows import rows_finite
from reviewbot.measure.surface import PLACE_TOLERANCE, Surface
from reviewbot.mesh import BoolArray, IndexArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Topology:
    """Counts of one part, by index: points count as the file shares them.

    points        used by at least one face
    faces         of at least three corners
    triangles, quads, ngons
    edges         between used points
    euler         points - edges + faces: the Euler characteristic, 2 for each closed piece without
                  a hole through it (Euler–Poincaré)
    open_edges    edges with one face side
    face_piece    (F,) int32 piece of each face, -1 for one without corners; faces that share a
                  point are of one piece
    piece_euler   (P,) int32 Euler characteristic of each piece
    collapsed     (F,) bool: faces thinner than PLACE_TOLERANCE of the size, by twice the area
                  over the longest side; a face without corners is one
    loose_points  (L,) int32 points that no face stands on
    bad_points    (B,) int32 points with a coordinate that is nan or infinite
    bad_uvs       UV entries with such a coordinate
    """

    points: int
    faces: int
    triangles: int
    quads: int
    ngons: int
    edges: int
    euler: int
    open_edges: int
    face_piece: IndexArray
    piece_euler: IndexArray
    collapsed: BoolArray
    loose_points: IndexArray
    bad_points: IndexArray
    bad_uvs: int

    @property
    def pieces(self) -> int:
        return len(self.piece_euler)


def measure_topology(part: Part, surface: Surface) -> Topology:
    """Counts of a part; all 0 for a part without faces."""
    sizes = np.diff(part.face_start)
    ends = surface.edges.ends
    solid = ends[:, 0] != ends[:, 1]
    point_piece = _pieces_of_points(surface)
    face_piece = np.full(len(sizes), -1, dtype=np.int32)
    face_piece[sizes > 0] = point_piece[part.corner_point[part.face_start[:-1][sizes > 0]]]
    piece_euler = _characteristics(
        point_piece[surface.used], point_piece[ends[solid, 0]], face_piece[sizes >= 3]
    )
    return Topology(
        points=int(np.count_nonzero(surface.used)),
        faces=int(np.count_nonzero(sizes >= 3)),
        triangles=int(np.count_nonzero(sizes == 3)),
        quads=int(np.count_nonzero(sizes == 4)),
        ngons=int(np.count_nonzero(sizes > 4)),
        edges=int(np.count_nonzero(solid)),
        euler=int(piece_euler.sum()),
        open_edges=int(np.count_nonzero(solid & (surface.edges.side_count == 1))),
        face_piece=face_piece,
        piece_euler=piece_euler,
        collapsed=_collapsed(part, surface),
        loose_points=np.flatnonzero(~surface.used).astype(np.int32),
        bad_points=np.flatnonzero(~rows_finite(surface.points)).astype(np.int32),
        bad_uvs=count_bad_uvs(part),
    )


def count_bad_uvs(part: Part) -> int:
    """UV entries of the first set with a coordinate that is nan or infinite."""
    return int(np.count_nonzero(~rows_finite(part.uvs)))


def _collapsed(part: Part, surface: Surface) -> BoolArray:
    least = PLACE_TOLERANCE * surface.size
    collapsed = ~(2 * surface.face_area > least * surface.size)  # no side is longer than the size
    collapsed &= ~np.isnan(surface.face_area)
    faces = np.flatnonzero(collapsed)
    sizes = np.diff(part.face_start)[faces]
    side = np.repeat(part.face_start[:-1][faces], sizes) + ranges(sizes)
    longest = np.zeros(part.face_count)
    length = surface.lengths[surface.value_edges.corner_edge[side]]
    np.maximum.at(longest, np.repeat(faces, sizes), length)
    collapsed[faces] = 2 * surface.face_area[faces] <= least * longest[faces]
    return collapsed


def _pieces_of_points(surface: Surface) -> IndexArray:
    """(V,) int32 piece of each used point; of no meaning for a loose one."""
    ends = surface.edges.ends
    label = joined_labels(len(surface.points), ends[:, 0], ends[:, 1])
    label[surface.used] = renumbered(label[surface.used])
    return label


def _characteristics(points: IndexArray, edges: IndexArray, faces: IndexArray) -> IndexArray:
    """(P,) int32 Euler characteristics from the pieces of points, edges and faces."""
    count = int(points.max(initial=-1)) + 1
    counted = [np.bincount(of, minlength=count) for of in (points, edges, faces)]
    return np.asarray(counted[0] - counted[1] + counted[2], dtype=np.int32)
