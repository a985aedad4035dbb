"""Places that stand alike among their polygons, where points moved, order and UVs are of no help.

Each place is coloured by its number of edges, then again and again by the colours round it
(colour refinement, Weisfeiler & Leman 1968); of places of one colour the nearest belong together,
as seen in boxes made equal.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reviewbot.compare.body import Body
from reviewbot.geometry.rows import rows_finite, rows_where
from reviewbot.geometry.twins import nearest_few, tree_of
from reviewbot.mesh import FloatArray, IndexArray

ROUNDS = 10
APART = 16.0  # between colours, in boxes: more than any two places in one box lie apart

Colours = npt.NDArray[np.uint64]


def alike_places(before: Body, after: Body) -> IndexArray:
    """(K, 2) rows of places before and after that are each other's nearest of one colour."""
    old_rows, new_rows = (rows_where(rows_finite(body.spots)) for body in (before, after))
    empty = np.empty((0, 2), dtype=np.int32)
    if not len(old_rows) or not len(new_rows):
        return empty
    old_colour, new_colour = _colours(before)[old_rows], _colours(after)[new_rows]
    common = np.unique(np.concatenate([old_colour, new_colour]))
    old = _in_box(before.spots[old_rows], np.searchsorted(common, old_colour))
    new = _in_box(after.spots[new_rows], np.searchsorted(common, new_colour))
    _, to_old = nearest_few(tree_of(old), new, 1, APART / 2)
    _, to_new = nearest_few(tree_of(new), old, 1, APART / 2)
    hit = rows_where(to_old[:, 0] < len(old))
    hit = hit[to_new[to_old[hit, 0], 0] == hit]
    return np.stack([old_rows[to_old[hit, 0]], new_rows[hit]], axis=1)


def _in_box(spots: FloatArray, colour: npt.NDArray[np.intp]) -> FloatArray:
    low, sides = spots.min(axis=0), np.ptp(spots, axis=0)
    inside = (spots - low) / np.where(sides > 1e-9 * sides.max(initial=0.0), sides, 1.0)
    return np.column_stack([inside, APART * colour])


def _colours(body: Body) -> Colours:
    ends = body.shells.edges.ends
    count = len(body.spots)
    corners = np.bincount(body.shells.corner_place, minlength=count).astype(np.uint64)
    colour = _mixed(corners)
    for _ in range(ROUNDS):
        around = np.zeros(count, dtype=np.uint64)
        np.add.at(around, ends[:, 0], colour[ends[:, 1]])
        np.add.at(around, ends[:, 1], colour[ends[:, 0]])
        colour = _mixed(colour * np.uint64(31) + around)
    return colour


def _mixed(key: Colours) -> Colours:
    key = (key ^ (key >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(key ^ (key >> np.uint64(31)))
