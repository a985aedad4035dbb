"""Whether faces were subdivided: what one or two steps would give is compared with what is there.

Steps tried: each face of n corners into n quads (points kept, or smoothed by Catmull–Clark), and
each triangle into four.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.moved_edges import supposed_pairs
from reviewbot.compare.polygons import Rounds, SameFaces, same_faces
from reviewbot.geometry.catmull_clark import refine, step_over
from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.polygons import corners_of, previous_corners
from reviewbot.geometry.rows import rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.geometry.weld import rows_finite
from reviewbot.measure.surface import extent
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

FOUND = 0.8  # of the faces after must be those of the step
BEYOND = 0.03  # of the faces: what points that moved besides must explain more than none
STRANGE = 0.25  # of the size: points half of which went so far are no pairs
SMOOTHED_NOISE = 20.0  # times the tolerance: smoothed points are sums of rounded ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Cage:
    """Faces before a step and, after steps, where each face and corner came from.

    origin_face    (F,) int32 face of the body
    origin_corner  (C,) int32 corner of the body that lies here, -1 for a new point
    """

    points: FloatArray
    corner_point: IndexArray
    face_start: IndexArray
    origin_face: IndexArray
    origin_corner: IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Refined:
    """Faces after that a step explains.

    parent     (K,) int32 for each face after that was asked about, the face before, -1 unknown
    corner     (L,) int32 for each of their corners, the corner before that it lies on, -1 unknown
    turned     (K,) bool: wound the other way
    smooth     the points were smoothed
    stretched  the whole was sized along its axes as well
    moved_by   how far points were moved before the step; 0 where none were
    moved      (K,) bool: the face before was among them
    missing    so many pieces of the step are not there
    torn  rows of faces before with such pieces
    """

    parent: IndexArray
    corner: IndexArray
    turned: BoolArray
    smooth: bool
    moved: BoolArray
    stretched: bool = False
    moved_by: float = 0.0
    missing: int = 0
    torn: IndexArray = field(default_factory=lambda: np.empty(0, dtype=np.int32))


def find_refined(
    before: Body,
    faces_before: IndexArray,
    after: Body,
    faces_after: IndexArray,
    tolerance: float,
) -> Refined | None:
    """The step from these faces before to those after, None where no step explains them.

    Where all faces are asked about, points may also have been sized along the axes, or smoothed
    by a rule unknown here: then the numbers of faces, edges and points still fit those of a step.
    """
    if len(faces_after) < 2 * len(faces_before) or not len(faces_before):
        return None
    whole = len(faces_before) == before.faces and len(faces_after) == after.faces
    best, most = None, FOUND
    for found in _tries(before, faces_before, after, faces_after, tolerance):
        share = float((found.parent >= 0).mean())
        edited = found.stretched or found.moved_by > 0
        if share < most + (BEYOND if edited and best is not None else 0.0):
            continue
        best, most = found, share
        if share == 1:
            break
    return best or (_unknown_step(before, after) if whole else None)


def _tries(
    before: Body,
    faces_before: IndexArray,
    after: Body,
    faces_after: IndexArray,
    tolerance: float,
) -> Iterator[Refined]:
    """Steps as they fit, the plainest first."""
    cage, landing = _cage_of(before, faces_before), _Landing(after, faces_after)
    whole = len(faces_before) == before.faces and len(faces_after) == after.faces
    for stretched in (False, True) if whole else (False,):
        for refined, smooth in _steps(cage, len(faces_after), smooth_too=whole and not stretched):
            reach = tolerance * (SMOOTHED_NOISE if smooth or stretched else 3.0)
            points = _into_box(refined.points, after) if stretched else refined.points
            found = landing.found(refined, points, reach)
            yield _explained(refined, found, smooth=smooth, stretched=stretched)
    for bent, away in _moved_cages(cage, before, after, tolerance):
        moved = np.zeros(before.faces + 1, dtype=bool)
        moved[before.corner_face[away[before.shells.corner_place] > tolerance]] = True
        for refined, _ in _steps(bent, len(faces_after), smooth_too=False):
            found = landing.found(refined, refined.points, 3.0 * tolerance)
            explained = _explained(refined, found, smooth=False, stretched=False)
            yield replace(explained, moved_by=float(away.max()), moved=moved[explained.parent])


def _moved_cages(
    cage: Cage, before: Body, after: Body, tolerance: float
) -> Iterator[tuple[Cage, FloatArray]]:
    """The cage with its points where they may have been moved before the step, and how far each
    went, (P,)."""
    places = before.shells.corner_place, after.shells.corner_place
    for pairs in supposed_pairs(before, after, *places):
        points = cage.points.copy()
        points[pairs[:, 0]] = after.spots[pairs[:, 1]]
        away = np.nan_to_num(np.linalg.norm(points - cage.points, axis=1))
        if away.max(initial=0.0) > tolerance:
            yield replace(cage, points=points), away


class _Landing:
    """Which of the faces after the faces of a step are, once its points lie on places after."""

    def __init__(self, after: Body, faces: IndexArray) -> None:
        self._target = _cage_of(after, faces)
        self._tree = tree_of(after.used_spots)
        self._rows = rows_where(rows_finite(after.spots))
        self._places = len(after.spots)

    def found(self, refined: Cage, points: FloatArray, reach: float) -> SameFaces:
        _, row = nearest_within(self._tree, points, reach)
        elsewhere = self._places + np.arange(len(row))
        place = np.where(row >= 0, self._rows[row], elsewhere).astype(np.int32)
        own = np.arange(self._places, dtype=np.int32)
        return same_faces(_rounds(refined, place), _rounds(self._target, own))


def _explained(refined: Cage, found: SameFaces, *, smooth: bool, stretched: bool) -> Refined:
    face = np.where(found.face >= 0, refined.origin_face[found.face], -1)
    corner = np.where(found.corner >= 0, refined.origin_corner[found.corner], -1)
    missing = np.ones(len(refined.origin_face), dtype=bool)
    missing[found.face[found.face >= 0]] = False
    return Refined(
        parent=face.astype(np.int32),
        corner=corner.astype(np.int32),
        turned=found.reversed,
        smooth=smooth,
        stretched=stretched,
        moved=np.full(len(face), stretched),
        missing=int(missing.sum()),
        torn=np.unique(refined.origin_face[missing]).astype(np.int32),
    )


def _into_box(points: FloatArray, after: Body) -> FloatArray:
    """Points sized along each axis so that their box is that of the version after."""
    finite = points[rows_finite(points)]
    low, sides = finite.min(axis=0), np.ptp(finite, axis=0)
    aim, aim_sides = after.used_spots.min(axis=0), np.ptp(after.used_spots, axis=0)
    factor = np.where(sides > 0, aim_sides / np.where(sides > 0, sides, 1), 1)
    return np.asarray((points - low) * factor + aim)


def _unknown_step(before: Body, after: Body) -> Refined | None:
    """A step by its numbers: F faces of C corners, E edges and V points become C quads on
    V + E + F points, or, all being triangles, 4 F triangles on V + E."""
    faces, corners = before.faces, len(before.corner_face)
    edges = before.shells.edges.ends
    count = int((edges[:, 0] != edges[:, 1]).sum())
    points, places = len(before.used_spots), len(after.used_spots)
    sizes = np.unique(np.diff(after.part.face_start)).tolist()
    quads = sizes == [4] and after.faces == corners and places == points + count + faces
    triangles = sizes == [3] and after.faces == 4 * faces and places == points + count
    if not (quads or (triangles and corners == 3 * faces)):
        return None
    moved_by = _moved_beyond_smoothing(before, after)
    return Refined(
        parent=np.full(after.faces, -1, dtype=np.int32),
        corner=np.full(len(after.corner_face), -1, dtype=np.int32),
        turned=np.zeros(after.faces, dtype=bool),
        smooth=not moved_by,
        moved_by=moved_by,
        moved=np.ones(after.faces, dtype=bool),
    )


def _moved_beyond_smoothing(before: Body, after: Body) -> float:
    """How far points were moved that a smoothing step would hardly move; 0 where none were."""
    cage = _cage_of(before, np.arange(before.faces, dtype=np.int32))
    edges = edges_of(cage.corner_point, cage.face_start)
    smoothed = step_over(cage.points, cage.corner_point, cage.face_start, edges).vertex_points
    by_smoothing = float(np.nanmax(np.linalg.norm(smoothed - cage.points, axis=1), initial=0.0))
    places = before.shells.corner_place, after.shells.corner_place
    for pairs in supposed_pairs(before, after, *places):
        away = np.linalg.norm(after.spots[pairs[:, 1]] - before.spots[pairs[:, 0]], axis=1)
        moved_by = float(np.nanmax(away, initial=0.0))
        if float(np.nanmedian(away)) > STRANGE * extent(before.used_spots):
            continue  # their order is another one
        if len(pairs) >= 0.5 * len(before.used_spots):
            return moved_by if moved_by > 2 * by_smoothing else 0.0
    return 0.0


def _cage_of(body: Body, faces: IndexArray) -> Cage:
    corners = corners_of(body.part.face_start, faces)
    sizes = np.diff(body.part.face_start)[faces]
    return Cage(
        points=body.spots,
        corner_point=body.shells.corner_place[corners],
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        origin_face=faces,
        origin_corner=corners,
    )


def _rounds(cage: Cage, place: IndexArray) -> Rounds:
    return Rounds(
        places=place[cage.corner_point],
        face_start=cage.face_start,
        order=np.zeros(len(cage.face_start) - 1),
    )


def _steps(cage: Cage, wanted: int, *, smooth_too: bool) -> Iterator[tuple[Cage, bool]]:
    """Cages after one to three steps whose number of faces is about the wanted one."""
    for smooth in (False, True) if smooth_too else (False,):
        current = cage
        for _ in range(3):
            if len(current.corner_point) > 1.3 * wanted:
                break
            current = _quad_step(current, smooth=smooth)
            if len(current.origin_face) >= 0.7 * wanted:
                yield current, smooth
    current = cage
    for _ in range(3):
        triangles = np.all(np.diff(current.face_start) == 3)
        if not triangles or 4 * len(current.origin_face) > 1.3 * wanted:
            break
        current = _triangle_step(current)
        yield current, False


def _quad_step(cage: Cage, *, smooth: bool) -> Cage:
    edges = edges_of(cage.corner_point, cage.face_start)
    done = step_over(cage.points, cage.corner_point, cage.face_start, edges)
    if not smooth:
        middle = 0.5 * (cage.points[edges.ends[:, 0]] + cage.points[edges.ends[:, 1]])
        done = replace(done, vertex_points=cage.points, edge_points=middle)
    points, corner_point, face_start = refine(done)
    origin_corner = np.full(len(corner_point), -1, dtype=np.int32)
    origin_corner[::4] = cage.origin_corner
    sizes = np.diff(cage.face_start)
    return Cage(
        points=points,
        corner_point=corner_point,
        face_start=face_start,
        origin_face=np.repeat(cage.origin_face, sizes),
        origin_corner=origin_corner,
    )


def _triangle_step(cage: Cage) -> Cage:
    """Each triangle into one at each corner and one in the middle."""
    edges = edges_of(cage.corner_point, cage.face_start)
    middle = 0.5 * (cage.points[edges.ends[:, 0]] + cage.points[edges.ends[:, 1]])
    own = len(cage.points) + edges.corner_edge
    previous = previous_corners(cage.face_start)
    at_corners = np.stack([cage.corner_point, own, own[previous]], axis=1).reshape(-1, 9)
    corners = np.concatenate([at_corners, own.reshape(-1, 3)], axis=1)
    origin = np.full(corners.shape, -1, dtype=np.int32)
    origin[:, [0, 3, 6]] = cage.origin_corner.reshape(-1, 3)
    return Cage(
        points=np.concatenate([cage.points, middle]),
        corner_point=corners.reshape(-1).astype(np.int32),
        face_start=np.arange(0, corners.size + 1, 3, dtype=np.int32),
        origin_face=np.repeat(cage.origin_face, 4),
        origin_corner=origin.reshape(-1),
    )
