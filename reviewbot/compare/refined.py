"""Whether some faces were subdivided: what steps would give is compared with what is there."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.grown import Grown, grown_from, place_count, some_faces
from reviewbot.compare.moved_edges import supposed_pairs
from reviewbot.compare.polygons import Rounds, same_faces
from reviewbot.compare.steps import steps
from reviewbot.geometry.catmull_clark import step_over
from reviewbot.geometry.edges import edges_of
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.measure.surface import extent
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

FOUND = 0.8  # of the faces after must be those of the step
HELD = 0.5  # of the old places must still be there
STRANGE = 0.25  # of the size: points half of which went so far are no pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Refined:
    """Faces after that a step explains.

    parent     (K,) int32 for each face after that was asked about, the face before, -1 unknown
    corner     (L,) int32 for each of their corners, the corner before that it lies on, -1 unknown
    turned     (K,) bool: wound the other way
    smooth     the points were smoothed
    moved_by   how far points were moved as well; 0 where none were
    missing    so many pieces of the step are not there
    torn       rows of faces before with such pieces
    """

    parent: IndexArray
    corner: IndexArray
    turned: BoolArray
    smooth: bool = False
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

    Where all faces are asked about, points may also have been smoothed by a rule unknown here:
    then the numbers of faces, edges and points still fit those of a step.
    """
    if len(faces_after) < 2 * len(faces_before) or not len(faces_before):
        return None
    whole = len(faces_before) == before.faces and len(faces_after) == after.faces
    best, most = None, FOUND
    landing = _Landing(after, faces_after)
    grown = some_faces(grown_from(before), faces_before)
    held = landing.holds(before.spots[np.unique(grown.place)], 3.0 * tolerance)
    for done in steps(grown, place_count(landing.target), smooth=False) if held else ():
        found = landing.explained(done, 3.0 * tolerance)
        share = float((found.parent >= 0).mean())
        if share >= most:
            best, most = found, share
        if share == 1:
            break
    return best or (_unknown_step(before, after) if whole else None)


class _Landing:
    """Which of the faces after the faces of a step are, once its points lie on places after."""

    def __init__(self, after: Body, faces: IndexArray) -> None:
        self.target = some_faces(grown_from(after), faces)
        self._tree = tree_of(after.used_spots)
        self._rows = rows_where(rows_finite(after.spots))
        self._places = len(after.spots)

    def holds(self, spots: FloatArray, reach: float) -> bool:
        """Whether many of these places are places after: a step leaves them where they are."""
        _, row = nearest_within(self._tree, spots, reach)
        return bool(np.count_nonzero(row >= 0) >= HELD * len(row))

    def explained(self, done: Grown, reach: float) -> Refined:
        _, row = nearest_within(self._tree, done.spots, reach)
        elsewhere = self._places + np.arange(len(row))
        place = np.where(row >= 0, self._rows[row], elsewhere).astype(np.int32)
        own = np.arange(self._places, dtype=np.int32)
        found = same_faces(_rounds(done, place), _rounds(self.target, own))
        face = np.where(found.face >= 0, done.face[found.face], -1)
        corner = np.where(found.corner >= 0, done.corner[found.corner], -1)
        missing = np.ones(len(done.face), dtype=bool)
        missing[found.face[found.face >= 0]] = False
        return Refined(
            parent=face.astype(np.int32),
            corner=corner.astype(np.int32),
            turned=found.reversed,
            missing=int(missing.sum()),
            torn=np.unique(done.face[missing]).astype(np.int32),
        )


def _rounds(grown: Grown, place: IndexArray) -> Rounds:
    return Rounds(
        places=place[grown.place], face_start=grown.start, order=np.zeros(len(grown.face))
    )


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
    )


def _moved_beyond_smoothing(before: Body, after: Body) -> float:
    """How far points were moved that a smoothing step would hardly move; 0 where none were."""
    place, start = before.shells.corner_place, before.part.face_start
    smoothed = step_over(before.spots, place, start, edges_of(place, start)).vertex_points
    by_smoothing = float(np.nanmax(np.linalg.norm(smoothed - before.spots, axis=1), initial=0.0))
    places = before.shells.corner_place, after.shells.corner_place
    for pairs in supposed_pairs(before, after, *places):
        away = np.linalg.norm(after.spots[pairs[:, 1]] - before.spots[pairs[:, 0]], axis=1)
        moved_by = float(np.nanmax(away, initial=0.0))
        if float(np.nanmedian(away)) > STRANGE * extent(before.used_spots):
            continue  # their order is another one
        if len(pairs) >= 0.5 * len(before.used_spots):
            return moved_by if moved_by > 2 * by_smoothing else 0.0
    return 0.0
