"""A part that was subdivided as a whole: what the version before gives after the same steps.

What else happened to the part is then told by comparing that with the version after, face by
face, whether it was done before the subdivision or after it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.grown import (
    Grown,
    body_from,
    grown_from,
    place_count,
    some_faces,
    with_kept,
)
from reviewbot.compare.moved_edges import supposed_pairs
from reviewbot.compare.recut import Recut, recut_before_step
from reviewbot.compare.steps import steps
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

MORE = 1.5  # times as many places as before, at the least: a step adds one an edge and one a face
FOUND = 0.8  # of the places of a step, and of those after, must be the same
FOUND_SMOOTHED = 0.55  # the same where each place was smoothed: none of them lies there by chance
BEYOND = 0.03  # what points that moved besides, or faces cut before, must explain more than none
HELD = 0.5  # of the old places must still be there, where a step leaves them
SMOOTHED_NOISE = 20.0  # times the tolerance: smoothed points are sums of rounded ones
ASIDE = 0.02  # of the faces: more that are as they were, beside others, were left out of a step


@dataclass(frozen=True, slots=True, kw_only=True)
class Stepped:
    """The version before after one or more subdivision steps.

    body    what the version after is compared with
    face    (F,) int32 for each of its faces, the face before
    corner  (C,) int32 for each of its corners, the corner before, -1 for a new point
    smooth  the points were smoothed
    smoothed_by  how far that took the old points at most, in units; 0 where not smooth
    moved_by     how far points were moved as well, in units; 0 where none were
    moved   (F,) bool: the face was moved
    recut   faces that were cut or merged before the step, None where none were
    done    faces before that the step took
    """

    body: Body
    face: IndexArray
    corner: IndexArray
    smooth: bool
    smoothed_by: float
    moved_by: float
    moved: BoolArray
    recut: Recut | None
    done: IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """One way in which the version after may have come about.

    unsized  (P, 3) where places lay before the part was sized along its axes, if it was
    away     (P,) how far places were moved before the step, if they were
    alone    rows of faces that the step left alone, if some were
    """

    grown: Grown
    smooth: bool = False
    unsized: FloatArray | None = None
    away: FloatArray | None = None
    recut: Recut | None = None
    alone: IndexArray | None = None

    @property
    def is_plain(self) -> bool:
        return self.unsized is None and self.away is None and self.recut is None


def find_step(before: Body, after: Body, still: BoolArray, tolerance: float) -> Stepped | None:
    """The subdivision of the whole part, None where none explains the version after.

    still  (F,) faces before that are as they were; those that touch no other face were left alone
    """
    places = len(before.used_spots)
    if not places or len(after.used_spots) < MORE * places:
        return None
    alone = _left_alone(before, still)
    if not len(alone) and still.sum() > ASIDE * before.faces:
        return None
    landing = _Landing(after)
    best, most = None, 0.0
    for one in _tries(before, after, alone, tolerance, landing):
        noise = SMOOTHED_NOISE if one.smooth or one.unsized is not None else 3.0
        share = landing.share(one.grown.spots[np.unique(one.grown.place)], tolerance * noise)
        enough = FOUND_SMOOTHED if one.smooth else FOUND
        if share < enough or share < most + (0.0 if one.is_plain or best is None else BEYOND):
            continue
        best, most = one, share
        if share == 1:
            break
    return None if best is None else _stepped(best, before)


def _left_alone(before: Body, still: BoolArray) -> IndexArray:
    """Faces that are as they were and touch none that is not."""
    place = before.shells.corner_place
    busy = np.zeros(len(before.spots), dtype=bool)
    busy[place[~still[before.corner_face]]] = True
    touched = np.zeros(before.faces, dtype=bool)
    touched[before.corner_face[busy[place]]] = True
    return rows_where(still & ~touched)


class _Landing:
    """Whether places lie on places of the version after, and the other way round."""

    def __init__(self, after: Body) -> None:
        self._tree = tree_of(after.used_spots)
        self._count = len(after.used_spots)

    def share(self, spots: FloatArray, reach: float) -> float:
        spots = spots[rows_finite(spots)]
        _, row = nearest_within(self._tree, spots, reach)
        hit = np.unique(row[row >= 0])
        return min(float((row >= 0).mean()), len(hit) / max(self._count, 1))

    def holds(self, spots: FloatArray, reach: float) -> bool:
        """Whether many of these places are places of the version after."""
        _, row = nearest_within(self._tree, spots, reach)
        return bool(np.count_nonzero(row >= 0) >= HELD * len(row))


def _tries(
    before: Body, after: Body, alone: IndexArray, tolerance: float, landing: _Landing
) -> Iterator[_Try]:
    """Steps as they fit, the plainest first; a step that does not smooth leaves old points where
    they are."""
    grown, places = grown_from(before), len(after.used_spots)
    if len(alone):
        yield from _partial_tries(grown, alone, places)
        return
    smoothed = []
    if landing.holds(before.used_spots, 3.0 * tolerance):
        for done in steps(grown, places, smooth=False):
            yield _Try(grown=done)
    for done in steps(grown, places, smooth=True):
        smoothed.append(done)
        yield _Try(grown=done, smooth=True)
    recut = recut_before_step(grown, after, SMOOTHED_NOISE * tolerance)
    if recut is not None:
        for smooth in (False, True):
            for done in steps(recut.grown, places, smooth=smooth):
                yield _Try(grown=done, smooth=smooth, recut=recut)
    if landing.holds(_into_box(before.used_spots, after), SMOOTHED_NOISE * tolerance):
        for done in steps(grown, places, smooth=False):
            yield _sized(done, after, smooth=False)
    for done in smoothed:
        yield _sized(done, after, smooth=True)
    for bent, away in _bent(grown, before, after, tolerance):
        for done in steps(bent, places, smooth=False):
            yield _Try(grown=done, away=away)


def _partial_tries(grown: Grown, alone: IndexArray, places: int) -> Iterator[_Try]:
    """Steps of all faces but those that were left alone."""
    others = rows_where(~np.isin(np.arange(len(grown.face)), alone))
    if not len(others):
        return
    some, kept = some_faces(grown, others), place_count(some_faces(grown, alone))
    for smooth in (False, True):
        for done in steps(some, places - kept, smooth=smooth):
            yield _Try(grown=with_kept(done, grown, alone), smooth=smooth, alone=alone)


def _sized(done: Grown, after: Body, *, smooth: bool) -> _Try:
    """Smoothed or not, a step gives the same before the part is sized and after it."""
    grown = replace(done, spots=_into_box(done.spots, after))
    return _Try(grown=grown, smooth=smooth, unsized=done.spots)


def _into_box(spots: FloatArray, after: Body) -> FloatArray:
    """Places sized along each axis so that their box is that of the version after."""
    finite = spots[rows_finite(spots)]
    low, sides = finite.min(axis=0), np.ptp(finite, axis=0)
    aim, aim_sides = after.used_spots.min(axis=0), np.ptp(after.used_spots, axis=0)
    factor = np.where(sides > 0, aim_sides / np.where(sides > 0, sides, 1), 1)
    return np.asarray((spots - low) * factor + aim)


def _bent(
    grown: Grown, before: Body, after: Body, tolerance: float
) -> Iterator[tuple[Grown, FloatArray]]:
    """The part with its points where they may have been moved before the step, and how far each
    place went, (P,)."""
    places = before.shells.corner_place, after.shells.corner_place
    for pairs in supposed_pairs(before, after, *places):
        if len(pairs) < HELD * len(before.used_spots):
            continue
        spots = grown.spots.copy()
        spots[pairs[:, 0]] = after.spots[pairs[:, 1]]
        away = np.nan_to_num(np.linalg.norm(spots - grown.spots, axis=1))
        if away.max(initial=0.0) > tolerance:
            yield replace(grown, spots=spots), np.where(away > tolerance, away, 0.0)


def _stepped(one: _Try, before: Body) -> Stepped:
    own, place = one.grown.corner, one.grown.place
    old = rows_where(own >= 0)
    was = before.spots[before.shells.corner_place[own[old]]]
    went = (one.grown.spots if one.unsized is None else one.unsized)[place[old]]
    by_step = _farthest(went, was)
    moved = np.full(before.faces, one.unsized is not None)
    moved_by = 0.0 if one.unsized is None else _farthest(one.grown.spots[place[old]], went)
    if one.away is not None:
        moved[before.corner_face[one.away[before.shells.corner_place] > 0]] = True
        moved_by = by_step
    return Stepped(
        body=body_from(one.grown, before),
        face=one.grown.face,
        corner=own,
        smooth=one.smooth,
        smoothed_by=by_step if one.smooth else 0.0,
        moved_by=moved_by,
        moved=moved[one.grown.face],
        recut=one.recut,
        done=rows_where(~np.isin(np.arange(before.faces), () if one.alone is None else one.alone)),
    )


def _farthest(one: FloatArray, other: FloatArray) -> float:
    return float(np.nan_to_num(np.linalg.norm(one - other, axis=1)).max(initial=0.0))
