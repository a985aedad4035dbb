"""Texture tiles: which are used, and how much of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.outlines import covered_area
from reviewbot.geometry.ranges import ranges
from reviewbot.measure.atlas import Atlas
from reviewbot.measure.overlap import Overlaps
from reviewbot.measure.shells import UV_TOLERANCE
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

_MOST_SPANNED = 16  # tiles along one side of a chart; what spans more is no texture layout
_FEW_SEGMENTS = 4096  # an area is worked out at one go up to here, else half by half


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One tile that charts lie on.

    number       1001 + column + 10 row, or None left of column 0, below row 0, right of column 9
                 (numbering as in OpenUSD's texture sets)
    column, row  of the unit square (column, row) to (column + 1, row + 1)
    used         share of the tile that is covered, 0 to 1; what is covered twice counts once
    charts       that lie on it, copies left out
    """

    number: int | None
    column: int
    row: int
    used: float
    charts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiles:
    """Tiles of an asset, and how charts keep to them.

    tiles    in order of their numbers; those that hold nothing but copies of charts of other tiles
             are left out
    homes    numbers of the tiles that charts which are no copies, and cross no border, lie in
    crosses  (K,) bool: the chart reaches over the border of its tile by more than UV_TOLERANCE
    outside  (K,) bool: the tile that the chart's middle lies in has no number
    """

    tiles: tuple[Tile, ...]
    homes: tuple[int, ...]
    crosses: BoolArray
    outside: BoolArray


def measure_tiles(atlas: Atlas, overlaps: Overlaps) -> Tiles:
    """Tiles of an asset; none where nothing has UVs."""
    tile = atlas.tile.astype(np.float64)
    below = atlas.box[:, 0] < tile - UV_TOLERANCE
    beyond = atlas.box[:, 1] > tile + 1 + UV_TOLERANCE
    crosses = np.asarray(below.any(axis=1) | beyond.any(axis=1), dtype=bool)
    own = np.flatnonzero(~overlaps.is_copy & ~overlaps.is_parked).astype(np.int32)
    chart, square = _charts_on_squares(atlas, own)
    squares, which = np.unique(square, axis=0, return_inverse=True)
    order = np.lexsort((squares[:, 0], squares[:, 1]))
    shared = np.zeros(atlas.count, dtype=bool)
    shared[overlaps.first] = shared[overlaps.second] = True
    return Tiles(
        tiles=tuple(
            _tile(atlas, shared, chart[which.reshape(-1) == row], squares[row])
            for row in order.tolist()
        ),
        homes=_homes(atlas, own[~crosses[own]]),
        crosses=crosses,
        outside=np.array([_number(*of) is None for of in atlas.tile.tolist()], dtype=bool),
    )


def _number(column: int, row: int) -> int | None:
    return 1001 + column + 10 * row if 0 <= column <= 9 and row >= 0 else None


def _homes(atlas: Atlas, charts: IndexArray) -> tuple[int, ...]:
    squares = np.unique(atlas.tile[charts], axis=0).tolist()
    return tuple(sorted(n for n in (_number(*of) for of in squares) if n is not None))


def _charts_on_squares(atlas: Atlas, charts: IndexArray) -> tuple[IndexArray, IndexArray]:
    """(M,) charts and (M, 2) the tiles each of them reaches into."""
    low = np.floor(atlas.box[charts, 0] + UV_TOLERANCE).astype(np.int64)
    high = np.ceil(atlas.box[charts, 1] - UV_TOLERANCE).astype(np.int64)
    span = np.maximum(high - low, 1)
    sane = (span <= _MOST_SPANNED).all(axis=1)
    charts, low, span = charts[sane], low[sane], span[sane]
    count = span[:, 0] * span[:, 1]
    step = ranges(count)
    across = np.repeat(span[:, 0], count)
    square = np.repeat(low, count, axis=0) + np.stack([step % across, step // across], axis=1)
    return np.repeat(charts, count), square.astype(np.int32)


def _tile(atlas: Atlas, shared: BoolArray, charts: IndexArray, square: IndexArray) -> Tile:
    """The tile at a column and row, with the charts on it; those shared overlap others."""
    box = np.stack([square, square + 1]).astype(np.float64)
    inside = (atlas.box[charts, 0] >= box[0] - UV_TOLERANCE).all(axis=1)
    inside &= (atlas.box[charts, 1] <= box[1] + UV_TOLERANCE).all(axis=1)
    simple = inside & ~shared[charts]
    used = float(atlas.area[charts[simple]].sum())
    used += _union(atlas, charts[~simple], box)
    column, row = square.tolist()
    return Tile(
        number=_number(column, row),
        column=column,
        row=row,
        used=min(used, 1.0),
        charts=len(charts),
    )


def _union(atlas: Atlas, charts: IndexArray, box: FloatArray, depth: int = 24) -> float:
    """Area of a box that the charts cover together; halved until each half has few segments."""
    charts = charts[(atlas.box[charts, 0] < box[1]).all(axis=1)]
    charts = charts[(atlas.box[charts, 1] > box[0]).all(axis=1)]
    if not len(charts):
        return 0.0
    sizes = np.diff(atlas.first)[charts]
    if sizes.sum() > _FEW_SEGMENTS and len(charts) > 1 and depth:
        axis = depth % 2
        middle = float(np.median(atlas.box[charts, :, axis].mean(axis=1)))
        if box[0, axis] < middle < box[1, axis]:
            low, high = box.copy(), box.copy()
            low[1, axis] = high[0, axis] = middle
            return _union(atlas, charts, low, depth - 1) + _union(atlas, charts, high, depth - 1)
    rows = np.repeat(atlas.first[charts], sizes) + ranges(sizes)
    return covered_area(atlas.start[rows], atlas.end[rows], box)
