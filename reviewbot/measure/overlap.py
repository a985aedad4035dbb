"""Which charts lie on each other in the UV plane: stacked copies, and accidents."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.boxes import overlapping_boxes
from reviewbot.geometry.outlines import (
    areas_covered_again,
    shared_areas,
    slopes_of,
    times_covered,
)
from reviewbot.geometry.polygons import corners_of, sum_per_face
from reviewbot.geometry.rows import rows_at
from reviewbot.geometry.weld import places_within
from reviewbot.measure.atlas import Atlas
from reviewbot.measure.shells import UV_TOLERANCE
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

_LIKE = 0.95  # of both areas shared: congruent but for rounding and other subdivision
_ROUNDS = 16  # more unlike charts than this in one box are not looked through
_NOISE = 1e-5  # of the smaller chart's area


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlaps:
    """How charts lie on each other.

    stack     (K,) int32 charts of one number are congruent and lie in one place, or whole tiles
              apart; mirrored ones count too
    is_copy   (K,) bool: an earlier chart of its stack lies in the same tile
    is_parked (K,) bool: an earlier chart of its stack lies in a lower tile, so that this one needs
              no texture of its own
    first, second  (P,) int32 charts that overlap, and are neither copies nor congruent; equal for a
              chart that lies over itself
    area      (P,) float64 tiles that both cover
    share     (P,) float64 `area` over that of the smaller chart
    likeness  (P,) float64 `area` over that of both together (IoU); 0 for a chart over itself
    apart     (P,) bool: the two are of different materials and may have textures of their own
    """

    stack: IndexArray
    is_copy: BoolArray
    is_parked: BoolArray
    first: IndexArray
    second: IndexArray
    area: FloatArray
    share: FloatArray
    likeness: FloatArray
    apart: BoolArray


def find_overlaps(atlas: Atlas, *, texture_size: int) -> Overlaps:
    """Overlaps of all charts whose textures may be the same picture.

    texture_size  pixels along one side of a tile: copies may be off by one pixel, and by a fiftieth
                  of their own size
    """
    stack = _stacks(atlas, texture_size)
    tile = _tile_ranks(atlas)
    is_copy, is_parked = _later_in_stack(stack, tile)
    alone = np.flatnonzero(~is_copy).astype(np.int32)
    shrunk = atlas.box[alone] + UV_TOLERANCE * np.array([[1.0], [-1.0]])
    pairs = alone[overlapping_boxes(shrunk)]
    pairs = pairs[_may_share_texture(atlas, pairs)]
    slopes = slopes_of(atlas.start, atlas.end, atlas.segment_chart, atlas.count)
    area = shared_areas(slopes, pairs)
    again = areas_covered_again(slopes, atlas.area)[alone]
    first = np.concatenate([pairs[:, 0], alone])
    second = np.concatenate([pairs[:, 1], alone])
    area = np.concatenate([area, again])
    share = area / np.minimum(atlas.area[first], atlas.area[second])
    keep = np.flatnonzero(share > _NOISE)
    keep = keep[np.lexsort((second[keep], first[keep]))]
    first, second, area = first[keep], second[keep], area[keep]
    either = atlas.area[first] + atlas.area[second] - area
    return Overlaps(
        stack=stack,
        is_copy=is_copy,
        is_parked=is_parked,
        first=first,
        second=second,
        area=area,
        share=share[keep],
        likeness=np.where(first == second, 0.0, area / either),
        apart=_differ_in_material(atlas, first, second),
    )


def overlap_faces(atlas: Atlas, part: Part, chart: int, other: int) -> IndexArray:
    """(F,) int32 faces of a chart whose middle the other chart covers too; all where none is.

    part   the one that the chart is of
    other  may be the chart itself: then those that lie over others of the chart
    """
    faces = np.flatnonzero(atlas.face_chart[int(atlas.part[chart])] == chart).astype(np.int32)
    step = -(-len(faces) // 4096)  # enough to find a place
    some = faces[::step]
    sizes = np.diff(part.face_start)[some]
    uv = rows_at(part.uvs, part.corner_uv[corners_of(part.face_start, some)])
    middle = sum_per_face(uv, np.append(0, np.cumsum(sizes))) / sizes[:, None]
    rows = slice(int(atlas.first[other]), int(atlas.first[other + 1]))
    region = np.zeros(rows.stop - rows.start, dtype=np.int32)
    covered = times_covered(slopes_of(atlas.start[rows], atlas.end[rows], region, 1), middle)
    hit = some[covered > (1 if chart == other else 0)]
    return hit if len(hit) else faces


def _tile_ranks(atlas: Atlas) -> npt.NDArray[np.int64]:
    """(K,) tiles numbered row by row, so that a lower tile has a lower number; others come last."""
    column, row = atlas.tile.astype(np.int64).T
    numbered = (column >= 0) & (column <= 9) & (row >= 0)
    return np.asarray(np.where(numbered, 0, 1 << 62) + row * (1 << 31) + column)


def _stacks(atlas: Atlas, texture_size: int) -> IndexArray:
    """(K,) int32 charts that are congruent but for whole tiles, by the lowest of them."""
    home = atlas.tile.astype(np.float64)
    box = atlas.box - home[:, None]
    chart = atlas.segment_chart
    slopes = slopes_of(atlas.start - home[chart], atlas.end - home[chart], chart, atlas.count)
    own_size = np.hypot(*(box[:, 1] - box[:, 0]).T)
    tolerance = np.clip(0.02 * own_size, UV_TOLERANCE, 1 / texture_size)[:, None, None]
    lot = places_within(box.reshape(-1, 4), 1 / texture_size).astype(np.int64)
    lot = lot * (int(atlas.picture.max(initial=-1)) + 2) + atlas.picture
    stack = np.arange(atlas.count, dtype=np.int32)
    left = np.lexsort((_tile_ranks(atlas), lot)).astype(np.int32)
    for _ in range(_ROUNDS):
        leader = left[_run_starts(lot[left])]
        trial = np.flatnonzero(left != leader)
        near = np.abs(box[left[trial]] - box[leader[trial]]) <= tolerance[left[trial]]
        trial = trial[near.all(axis=(1, 2))]
        pairs = np.stack([leader[trial], left[trial]], axis=1)
        like = shared_areas(slopes, pairs) >= _LIKE * atlas.area[pairs].max(axis=1)
        stack[pairs[like, 1]] = pairs[like, 0]
        unlike = left != leader
        unlike[trial[like]] = False
        left = left[unlike]
        if not len(left):
            break
    return stack


def _run_starts(values: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """(N,) the first row of the run of equal values that each row is in."""
    new = np.ones(len(values), dtype=bool)
    new[1:] = values[1:] != values[:-1]
    return np.asarray(np.flatnonzero(new)[np.cumsum(new) - 1])


def _later_in_stack(stack: IndexArray, tile: npt.NDArray[np.int64]) -> tuple[BoolArray, BoolArray]:
    """Whether an earlier chart of the stack lies in the same tile, and in a lower one."""
    order = np.lexsort((tile, stack))
    of_stack = _run_starts(stack[order].astype(np.int64))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (stack[order][1:] != stack[order][:-1]) | (tile[order][1:] != tile[order][:-1])
    copy, parked = np.zeros(len(order), dtype=bool), np.zeros(len(order), dtype=bool)
    copy[order] = ~new
    parked[order] = tile[order] != tile[order][of_stack]
    return copy, parked


def _may_share_texture(atlas: Atlas, pairs: IndexArray) -> BoolArray:
    first, second = atlas.picture[pairs[:, 0]], atlas.picture[pairs[:, 1]]
    return np.asarray((first == second) | (first < 0) | (second < 0))


def _differ_in_material(atlas: Atlas, first: IndexArray, second: IndexArray) -> BoolArray:
    """Of other materials that do not name one and the same picture."""
    one_picture = (atlas.picture[first] == atlas.picture[second]) & (atlas.picture[first] >= 0)
    return np.asarray((atlas.material[first] != atlas.material[second]) & ~one_picture)
