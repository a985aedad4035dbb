"""What two versions have in common, so that a view of the second traces only what changed.

A pixel that no changed triangle of either version reaches into sees the same in both: what was
traced there before holds after. Which pixels those are is judged by boxes round a few changed
triangles each, and by blocks of pixels, generously: a pixel too many is only traced again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.camera import Camera, projected, turned
from reviewbot.render.samples import Scene

_BOXES = 4096  # about as many a version: more cost more to draw than they save in rays
_BLOCK = 4  # pixels a side, told changed or not as one: finer ones cost more, too


@dataclass(frozen=True, slots=True, kw_only=True)
class Unchanged:
    """The triangles that lie where they lay, and where the others lie.

    number     (T,) int32 of each triangle before its number after; -1 where it changed
    low, high  (K, 3) boxes that hold the changed triangles of both versions, hidden ones too
    """

    number: IndexArray
    low: FloatArray
    high: FloatArray


def find_unchanged(before: Scene, after: Scene) -> Unchanged:
    """Looked for by name of part and row within it: after another order all counts as changed."""
    number = np.full(len(before.triangles), -1, dtype=np.int32)
    stays = np.zeros(len(after.triangles), dtype=bool)
    old_rows, new_rows = _rows_of_parts(before), _rows_of_parts(after)
    for name in old_rows.keys() & new_rows.keys():
        old, new = old_rows[name], new_rows[name]
        if old.stop - old.start != new.stop - new.start:
            continue
        same = _same_places(before, after, old, new)
        same &= before.hidden_twin[old] == after.hidden_twin[new]
        stays[new] = same
        number[old][same] = np.arange(new.start, new.stop, dtype=np.int32)[same]
    boxes = [_boxes(before, number < 0), _boxes(after, ~stays)]
    low, high = (np.concatenate([box[k] for box in boxes]) for k in (0, 1))
    return Unchanged(number=number, low=low, high=high)


def changed_pixels(unchanged: Unchanged, camera: Camera, size: int) -> BoolArray:
    """(size, size) bool: pixels that a changed triangle of either version may reach into."""
    middle = 0.5 * unchanged.low + 0.5 * unchanged.high
    half = 0.5 * unchanged.high - 0.5 * unchanged.low
    place = projected(camera, middle, size)[:, :2].T
    reach = turned(half, np.abs(camera.axes))[:2] * (size / camera.span) + 1.0
    blocks = -(-size // _BLOCK)
    left, top = np.clip(np.floor((place - reach) / _BLOCK), 0, blocks).astype(np.intp)
    right, bottom = np.clip(np.ceil((place + reach) / _BLOCK), 0, blocks).astype(np.intp)
    # Each rectangle opens at two of its corners and closes at the others; summed up along both
    # axes that counts the rectangles over each block.
    side = blocks + 1
    opened = np.bincount(np.append(top * side + left, bottom * side + right), minlength=side**2)
    closed = np.bincount(np.append(top * side + right, bottom * side + left), minlength=side**2)
    count = (opened - closed).reshape(side, side).cumsum(axis=0).cumsum(axis=1)
    changed = np.asarray(count[:blocks, :blocks] > 0)
    return changed.repeat(_BLOCK, axis=0).repeat(_BLOCK, axis=1)[:size, :size]


def _rows_of_parts(scene: Scene) -> dict[str, slice]:
    """The triangles of each part, which lie together; the last of those with one name."""
    ends = np.searchsorted(scene.part, np.arange(len(scene.part_names) + 1))
    return {name: slice(int(ends[k]), int(ends[k + 1])) for k, name in enumerate(scene.part_names)}


def _same_places(before: Scene, after: Scene, old: slice, new: slice) -> BoolArray:
    """(N,) bool: rows of triangles whose corners are the very same points in both."""
    same = np.ones(old.stop - old.start, dtype=bool)
    for k in range(3):
        here = rows_at(before.points, before.triangles[old, k])
        there = rows_at(after.points, after.triangles[new, k])
        for axis in range(3):
            same &= here[:, axis] == there[:, axis]
    return same


def _boxes(scene: Scene, wanted: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Boxes (K, 3) low and high round runs of the wanted triangles."""
    rows = np.flatnonzero(wanted)
    if not len(rows):
        return np.empty((0, 3)), np.empty((0, 3))
    run = -(-len(rows) // _BOXES)
    points = rows_at(scene.points, rows_at(scene.triangles, rows).reshape(-1))
    starts = np.arange(0, len(points), 3 * run)
    return np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)
