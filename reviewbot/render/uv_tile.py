"""One UV tile as pixels: which shells lie where, what lies on what, and where it is too tight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.samples import Floats32, Scene
from reviewbot.render.uv_raster import covered_pixels

RIM = 0.03  # of a tile, drawn round it, so that what hangs over its border is seen
_FARTHEST = 1e6  # tiles: beyond, coordinates are broken
_FINE = 2  # each pixel is cut into 2 x 2
_MOST_FINE = 400_000  # faces in a tile, above which it is drawn coarser too
_MOST_PIXELS = 60_000_000  # covered in all, above which a tile is drawn coarser


@dataclass(frozen=True, slots=True, kw_only=True)
class UvTile:
    """A tile drawn into a square of `size` pixels, its rim included; row 0 is at the top.

    column, row  the tile's place: UVs from (column, row) to (column + 1, row + 1)
    chart        (n, n) int32 the scene's chart there, the last drawn of several, -1 for none;
                 n is `fine` times the size
    part         (n, n) int32 its part, -1 for none
    accidental   (n, n) bool: two or more faces lie there, not all of them copies stacked on purpose
    stacked      (n, n) bool: copies stacked on purpose, and nothing else
    mirrored     (n, n) bool: a mirrored face lies there
    used         share of the tile proper that is covered
    """

    column: int
    row: int
    size: int
    fine: int
    chart: IndexArray
    part: IndexArray
    accidental: BoolArray
    stacked: BoolArray
    mirrored: BoolArray
    used: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UvFaces:
    """The triangles of a scene as they lie in the UV plane; unmapped and broken ones left out.

    triangle  (N,) int32 into the scene's
    corners   (N, 3, 2) float64
    tile      (N, 2) int32 column and row of the tile that each one's middle lies in
    low, high (N, 2) float64 its box
    """

    triangle: IndexArray
    corners: FloatArray
    tile: IndexArray
    low: FloatArray
    high: FloatArray


def uv_faces(scene: Scene) -> UvFaces:
    """Gather what lies in the UV plane, once for all tiles."""
    mapped = np.flatnonzero(scene.uv[:, 0] >= 0).astype(np.int32)
    uvs = scene.uvs if len(scene.uvs) else np.zeros((1, 2))
    with np.errstate(invalid="ignore"):
        sound = np.asarray((np.abs(uvs) < _FARTHEST).all(axis=1))  # nan and infinity are not
    if not sound.all():
        mapped = mapped[sound[scene.uv[mapped]].all(axis=1)]
    a, b, c = (uvs[scene.uv[mapped, k]] for k in range(3))
    return UvFaces(
        triangle=mapped,
        corners=np.stack([a, b, c], axis=1),
        tile=np.floor((a + b + c) / 3).astype(np.int32),
        low=np.minimum(np.minimum(a, b), c),
        high=np.maximum(np.maximum(a, b), c),
    )


def tiles_of(faces: UvFaces) -> list[tuple[int, int]]:
    """Column and row of every tile that some triangle's middle lies in, row by row."""
    width = np.int64(4 * _FARTHEST)
    number = faces.tile[:, 1].astype(np.int64) * width + faces.tile[:, 0] + width // 2
    rows, columns = np.divmod(np.unique(number), width)
    return list(zip((columns - width // 2).tolist(), rows.tolist(), strict=True))


def _reaching(faces: UvFaces, column: int, row: int) -> IndexArray:
    """Rows of the faces whose box reaches into a tile or its rim."""
    place = np.array([column, row])
    inside = faces.high >= place - RIM
    inside &= faces.low <= place + (1 + RIM)
    return np.flatnonzero(inside[:, 0] & inside[:, 1]).astype(np.int32)


def draw_tile(
    scene: Scene,
    faces: UvFaces,
    column: int,
    row: int,
    *,
    size: int,
    is_stacked: BoolArray | None = None,
) -> UvTile:
    """Draw all faces that reach into a tile or its rim.

    is_stacked  (T,) bool: triangles of shells that are copies stacked on purpose
    """
    rows = _reaching(faces, column, row)
    own, corners = faces.triangle[rows], faces.corners[rows] - [column, row]
    busy = _pixel_sum(corners, size * _FINE) > _MOST_PIXELS or len(rows) > _MOST_FINE
    fine = 1 if busy else _FINE
    side = size * fine
    square = (side, side)
    chart, part = (np.full(side * side, -1, dtype=np.int32) for _ in range(2))
    alone, copies = (np.zeros(side * side, dtype=np.int32) for _ in range(2))
    mirrored = np.zeros(side * side, dtype=bool)
    turn = _turn(corners) < 0
    purpose = np.zeros(len(own), dtype=bool) if is_stacked is None else is_stacked[own]
    for triangle, pixel in covered_pixels(tile_pixels(corners, side), side, side):
        chart[pixel] = scene.chart[own[triangle]]
        part[pixel] = scene.part[own[triangle]]
        mirrored[pixel[turn[triangle]]] = True
        copy = purpose[triangle]
        _count(alone, pixel[~copy])
        _count(copies, pixel[copy])
    low, high = tile_span(side)
    return UvTile(
        column=column,
        row=row,
        size=size,
        fine=fine,
        chart=chart.reshape(square),
        part=part.reshape(square),
        accidental=((alone > 1) | ((alone > 0) & (copies > 0))).reshape(square),
        stacked=((alone == 0) & (copies > 1)).reshape(square),
        mirrored=mirrored.reshape(square),
        used=float((part.reshape(square)[low:high, low:high] >= 0).mean()),
    )


def _count(totals: IndexArray, pixel: IndexArray) -> None:
    """Add how often each pixel comes."""
    if len(pixel) > len(totals) // 8:
        totals += np.bincount(pixel, minlength=len(totals)).astype(np.int32)
    else:
        np.add.at(totals, pixel, 1)


def tile_edges(scene: Scene, faces: UvFaces, column: int, row: int, *, finest: float) -> FloatArray:
    """(K, 2, 2) the edges, in UVs within the tile, of polygons that reach into it.

    finest  of a tile: none where the faces' sides are shorter than this on average
    """
    rows = _reaching(faces, column, row)
    corners = faces.corners[rows] - [column, row]
    if not len(rows) or np.sqrt(np.abs(_turn(corners)).mean()) < finest:
        return np.empty((0, 2, 2))
    face, corner = np.nonzero(scene.is_drawn_edge[faces.triangle[rows]])
    ends = [corners[face, (corner + k) % 3] for k in (1, 2)]
    return np.stack(ends, axis=1)


def tile_pixels(uv: FloatArray, side: int) -> FloatArray:
    """(..., 2) places in a picture of `side` pixels, x to the right and y downwards, of UVs."""
    place = (uv + RIM) * (side / (1 + 2 * RIM))
    place[..., 1] = side - place[..., 1]
    return np.asarray(place)


def tile_span(side: int) -> tuple[int, int]:
    """First pixel of the tile proper along a side, and the one after its last."""
    return round(side * RIM / (1 + 2 * RIM)), round(side * (1 + RIM) / (1 + 2 * RIM))


def _pixel_sum(corners: FloatArray, side: int) -> float:
    return float(np.nansum(np.abs(_turn(corners)))) / 2 * side * side


def _turn(corners: FloatArray) -> FloatArray:
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def region_of(tile: UvTile) -> IndexArray:
    """(n, n) a number for each shell (each part, where shells are not known); -1 for none."""
    known = tile.chart >= 0
    beyond = int(tile.chart.max(initial=-1)) + 1
    region = np.where(known, tile.chart, tile.part + beyond)
    return np.where(tile.part >= 0, region, -1).astype(np.int32)


def borders_of(tile: UvTile) -> BoolArray:
    """(n, n) bool: pixels of a shell beside another or beside nothing."""
    region = region_of(tile)
    border = np.zeros(region.shape, dtype=bool)
    across, down = region[:, 1:] != region[:, :-1], region[1:] != region[:-1]
    border[:, 1:] |= across
    border[:, :-1] |= across
    border[1:] |= down
    border[:-1] |= down
    return border & (region >= 0)


def padding_of(tile: UvTile, padding: float) -> tuple[BoolArray, BoolArray]:
    """The ground that shells' padding takes, and where two shells' paddings meet.

    padding  width round each shell, as a share of the tile
    returns  (size, size) bool each
    """
    region = region_of(tile)[:: tile.fine, :: tile.fine]
    if not (region >= 0).any():
        nothing = np.zeros(region.shape, dtype=bool)
        return nothing, nothing
    reach = padding * region.shape[0] / (1 + 2 * RIM)
    distance, nearest = ndimage.distance_transform_edt(region < 0, return_indices=True)
    owner = region[nearest[0], nearest[1]]
    padded = (distance > 0) & (distance <= max(reach, 1.0))
    tight = np.zeros(region.shape, dtype=bool)
    for axis in (0, 1):
        here = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        there = (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        meets = (owner[here] != owner[there]) & (distance[here] + distance[there] + 1 < 2 * reach)
        meets &= (distance[here] > 0) | (distance[there] > 0)
        tight[here] |= meets
        tight[there] |= meets
    return padded, tight & (region < 0)


def shrunk(fine: BoolArray, factor: int) -> Floats32:
    """(size, size) float32 share of each pixel's fine cells that are set."""
    cells = fine.view(np.uint8)
    total = sum(cells[i::factor, j::factor] for i in range(factor) for j in range(factor))
    return np.asarray(total, dtype=np.float32) / np.float32(factor**2)
