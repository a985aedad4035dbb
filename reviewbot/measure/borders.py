"""Open borders: where a surface ends and no other part takes it up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from reviewbot.geometry.groups import joined_labels, lot_is_mixed, renumbered
from reviewbot.geometry.polygons import corner_faces, next_corners
from reviewbot.geometry.weld import places_within
from reviewbot.measure.joints import Joints
from reviewbot.measure.surface import PLACE_TOLERANCE, Surface
from reviewbot.measure.winding import Winding
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part


class Bordered(Protocol):
    """What borders need of a part."""

    @property
    def part(self) -> Part: ...
    @property
    def surface(self) -> Surface: ...
    @property
    def joints(self) -> Joints: ...
    @property
    def winding(self) -> Winding: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Borders:
    """The open borders of one part.

    sides         (O,) int32 open sides, by their corners
    side_loop     (O,) int32 the loop of each; a loop is what hangs together
    loop_length   (L,) float64 units
    loop_middle   (L, 3) float64 mean of the loop's sides, weighted by length
    loop_opening  (L,) float64 the most area a flat cap could have, length^2 / 4 pi (isoperimetric
                  inequality), against the area of the sheet the loop is in; small for a hole in
                  something solid, 1 for a disc, infinite for a sheet without area
    joined_sides  sides left out because another part's open border lies on them
    """

    sides: IndexArray
    side_loop: IndexArray
    loop_length: FloatArray
    loop_middle: FloatArray
    loop_opening: FloatArray
    joined_sides: int


def measure_borders(parts: Sequence[Bordered], size: float) -> tuple[Borders, ...]:
    """The borders of all parts of an asset, which decide together what is open.

    size  of the asset, units; ends nearer than PLACE_TOLERANCE of it are in one place
    """
    if not parts:
        return ()
    ends = [_side_ends(one) for one in parts]
    counts = [len(tail) for tail, _ in ends]
    spots = np.concatenate([np.stack(pair, axis=1).reshape(-1, 3) for pair in ends])
    place = np.sort(places_within(spots, PLACE_TOLERANCE * size).reshape(-1, 2), axis=1)
    taken_up = _shared_between(place, np.repeat(np.arange(len(parts)), counts))
    cuts = np.cumsum(counts)[:-1]
    return tuple(
        _borders_of(one, place=own, taken_up=taken)
        for one, own, taken in zip(
            parts, np.split(place, cuts), np.split(taken_up, cuts), strict=True
        )
    )


def _side_ends(one: Bordered) -> tuple[FloatArray, FloatArray]:
    """(O, 3) each: where the open sides of a part start and end."""
    part, sides = one.part, one.joints.open_sides
    heads = next_corners(part.face_start)[sides]
    points = one.surface.points
    return points[part.corner_point[sides]], points[part.corner_point[heads]]


def _shared_between(place: IndexArray, owner: IndexArray) -> BoolArray:
    """(N,) bool: a side of another owner lies between the same two places (N, 2)."""
    key = place[:, 0].astype(np.int64) * (int(place.max(initial=0)) + 1) + place[:, 1]
    _, lot = np.unique(key, return_inverse=True)
    return lot_is_mixed(lot.astype(np.int32), owner)


def _borders_of(one: Bordered, *, place: IndexArray, taken_up: BoolArray) -> Borders:
    tail, head = (end[~taken_up] for end in _side_ends(one))
    ends = renumbered(place[~taken_up].reshape(-1)).reshape(-1, 2)
    label = joined_labels(int(ends.max(initial=-1)) + 1, ends[:, 0], ends[:, 1])
    loop = renumbered(label[ends[:, 0]])
    loops = int(loop.max(initial=-1)) + 1
    length = np.linalg.norm(head - tail, axis=1)
    loop_length = np.bincount(loop, weights=length, minlength=loops).astype(np.float64)
    weighted = [
        np.bincount(loop, weights=length * along, minlength=loops)
        for along in ((head + tail) / 2).T
    ]
    with np.errstate(invalid="ignore", divide="ignore"):
        loop_middle = np.stack(weighted, axis=1) / loop_length[:, None]
    sides = one.joints.open_sides[~taken_up]
    return Borders(
        sides=sides,
        side_loop=loop,
        loop_length=loop_length,
        loop_middle=loop_middle,
        loop_opening=loop_length**2 / (4 * np.pi) / _areas_round(one, sides, loop, loops),
        joined_sides=int(np.count_nonzero(taken_up)),
    )


@np.errstate(divide="ignore")
def _areas_round(one: Bordered, sides: IndexArray, loop: IndexArray, loops: int) -> FloatArray:
    """(L,) area of the sheet that each loop is in, the least number above 0 where it has none."""
    face_sheet = one.winding.face_sheet
    area = np.nan_to_num(one.surface.face_area, nan=0.0, posinf=0.0)
    of_sheet = np.bincount(face_sheet, weights=area, minlength=1)
    of_loop = np.zeros(loops)
    of_loop[loop] = of_sheet[face_sheet[corner_faces(one.part.face_start)[sides]]]
    return np.maximum(of_loop, np.finfo(np.float64).tiny)
