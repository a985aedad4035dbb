"""Texture tiles: which are used, and how much of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.groups import joined_labels
from reviewbot.geometry.outlines import covered_area, covered_area_by_columns
from reviewbot.geometry.ranges import ranges
from reviewbot.measure.atlas import Atlas
from reviewbot.measure.overlap import Overlaps
from reviewbot.measure.shells import UV_TOLERANCE
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

_MANY = 1 << 13  # overlaps: with more, the covered area is taken from so many columns
_COLUMNS = 2048
_MOST_SPANNED = 16  # tiles along one side of a chart; what spans more is no texture layout


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One tile that charts lie on.

    number       1001 + column + 10 row, or None left of column 0, below row 0, right of column 9
                 (numbering as in OpenUSD's texture sets)
    column, row  of the unit square (column, row) to (column + 1, row + 1)
    used         share of the tile that is covered, 0 to 1; what is covered twice counts once.
                 Exact, but where thousands of charts lie on each other (there to about 1/2048)
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
    covers = _covers(atlas, overlaps, crosses)
    return Tiles(
        tiles=tuple(
            _tile(atlas, covers, chart[which.reshape(-1) == row], squares[row])
            for row in order.tolist()
        ),
        homes=_homes(atlas, own[~crosses[own]]),
        crosses=crosses,
        outside=np.array([_number(*of) is None for of in atlas.tile.tolist()], dtype=bool),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Covers:
    """What each chart adds to the area that all cover together.

    simple    (K,) bool: the chart's lot of overlapping charts falls into two sides with overlaps
              only between them, so that nothing lies three deep, and all of it lies in one tile
    alone     (K,) float64 tiles, area less half of what the chart shares with others
    meetings  (K,) int64 how many others the chart overlaps with
    """

    simple: BoolArray
    alone: FloatArray
    meetings: npt.NDArray[np.int64]


def _covers(atlas: Atlas, overlaps: Overlaps, crosses: BoolArray) -> _Covers:
    first, second, count = overlaps.first, overlaps.second, atlas.count
    # Each chart is there once for each side; one that meets itself on the other side has none.
    twice = joined_labels(
        2 * count,
        np.concatenate([first, first + count]),
        np.concatenate([second + count, second]),
    )
    lot = joined_labels(count, first, second)
    odd = twice[:count] == twice[count:]
    leader = np.unique(lot, return_index=True)[1][lot]
    odd |= (atlas.tile != atlas.tile[leader]).any(axis=1) | crosses | overlaps.is_parked
    shared = np.bincount(first, weights=overlaps.area, minlength=count)
    shared += np.bincount(second, weights=overlaps.area, minlength=count)
    spoilt = np.zeros(count, dtype=bool)
    spoilt[lot[odd]] = True
    meetings = np.bincount(first, minlength=count) + np.bincount(second, minlength=count)
    return _Covers(simple=~spoilt[lot], alone=atlas.area - shared / 2, meetings=meetings)


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


def _tile(atlas: Atlas, covers: _Covers, charts: IndexArray, square: IndexArray) -> Tile:
    """The tile at a column and row, with the charts on it."""
    box = np.stack([square, square + 1]).astype(np.float64)
    inside = (atlas.box[charts, 0] >= box[0] - UV_TOLERANCE).all(axis=1)
    inside &= (atlas.box[charts, 1] <= box[1] + UV_TOLERANCE).all(axis=1)
    whole = inside & covers.simple[charts]
    cut = charts[~whole]
    used = float(covers.alone[charts[whole]].sum()) + _covered(atlas, covers, cut, box)
    column, row = square.tolist()
    return Tile(
        number=_number(column, row),
        column=column,
        row=row,
        used=min(used, 1.0),
        charts=len(charts),
    )


def _covered(atlas: Atlas, covers: _Covers, charts: IndexArray, box: FloatArray) -> float:
    sizes = np.diff(atlas.first)[charts]
    rows = np.repeat(atlas.first[charts], sizes) + ranges(sizes)
    start, end = atlas.start[rows], atlas.end[rows]
    if covers.meetings[charts].sum() > _MANY:
        return covered_area_by_columns(start, end, box, columns=_COLUMNS)
    return covered_area(start, end, np.repeat(charts, sizes), box)
