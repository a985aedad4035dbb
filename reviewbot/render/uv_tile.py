"""One UV tile as pixels: which shells lie where, what lies on what, and where it is too tight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.samples import Floats32, Scene
from reviewbot.render.uv_raster import covered_pixels

RIM = 0.03  # of a tile, drawn round it, so that what hangs over its border is seen
_FARTHEST = 1e6  # tiles: beyond, coordinates are broken
_FINE = 2  # each pixel is cut into 2 x 2
_MOST_FINE = 400_000  # faces in a tile, above which it is drawn coarser too
_TURNED = 1 << 16  # triangles a turn: what is worked out for them stays in the processor's cache
_MOST_PIXELS = 60_000_000  # covered in all, above which a tile is drawn coarser


@dataclass(frozen=True, slots=True, kw_only=True)
class UvTile:
    """A tile drawn into a square of `size` pixels, its rim included; row 0 is at the top.

    column, row  the tile's place: UVs from (column, row) to (column + 1, row + 1)
    region       (n, n) int32 a number for each shell (each part, where shells are not known), the
                 last drawn of several, -1 for none; n is `fine` times the size
    part         (n, n) int32 the scene's part there, -1 for none
    accidental   (n, n) bool: two or more faces lie there, not all of them copies stacked on purpose
    stacked      (n, n) bool: copies stacked on purpose, and nothing else
    mirrored     (n, n) bool: a mirrored face lies there
    used         share of the tile proper that is covered
    grain        side of a square as large as two of its triangles, as a share of the tile
    """

    column: int
    row: int
    size: int
    fine: int
    region: IndexArray
    part: IndexArray
    accidental: BoolArray
    stacked: BoolArray
    mirrored: BoolArray
    used: float
    grain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UvFaces:
    """The triangles of a scene as they lie in the UV plane; unmapped and broken ones left out.

    triangle  (N,) int32 into the scene's
    corners   (N, 3) int32 into its UVs
    tile      (N, 2) int32 column and row of the tile that each one's middle lies in
    """

    triangle: IndexArray
    corners: IndexArray
    tile: IndexArray


def uv_faces(scene: Scene) -> UvFaces:
    """Gather what lies in the UV plane, once for all tiles."""
    mapped = np.flatnonzero(scene.uv[:, 0] >= 0).astype(np.int32)
    corners = scene.uv if len(mapped) == len(scene.uv) else scene.uv[mapped]
    with np.errstate(invalid="ignore"):
        sound = np.asarray((np.abs(scene.uvs) < _FARTHEST).all(axis=1))  # nan and infinity are not
    if not sound.all():
        whole = sound[corners].all(axis=1)
        mapped, corners = mapped[whole], corners[whole]
    tile = np.empty((len(mapped), 2), dtype=np.int32)
    for axis in (0, 1):
        along = np.ascontiguousarray(scene.uvs[:, axis])
        middle = sum(along[corners[:, k]] for k in range(3)) / 3
        np.floor(middle, out=tile[:, axis], casting="unsafe")
    return UvFaces(triangle=mapped, corners=corners, tile=tile)


def tiles_of(faces: UvFaces) -> list[tuple[int, int]]:
    """Column and row of every tile that some triangle's middle lies in, row by row."""
    differs = np.ones(len(faces.tile), dtype=bool)
    differs[1:] = (faces.tile[1:] != faces.tile[:-1]).any(axis=1)  # most lie where the last did
    found = {(column, row) for column, row in faces.tile[differs].tolist()}
    return sorted(found, key=lambda tile: (tile[1], tile[0]))


def _reaching(scene: Scene, faces: UvFaces, column: int, row: int) -> IndexArray:
    """Rows of the faces whose box reaches into a tile or its rim."""
    beyond = np.zeros(len(scene.uvs), dtype=np.uint8)  # a bit for each side that a UV lies beyond
    with np.errstate(invalid="ignore"):
        for axis, place in enumerate((column, row)):
            along = scene.uvs[:, axis]
            beyond |= (along < place - RIM).view(np.uint8) << 2 * axis
            beyond |= (along > place + 1 + RIM).view(np.uint8) << (2 * axis + 1)
    if not beyond.any():
        return np.arange(len(faces.corners), dtype=np.int32)
    a, b, c = (beyond[faces.corners[:, k]] for k in range(3))
    return np.flatnonzero((a & b & c) == 0).astype(np.int32)


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
    rows = _reaching(scene, faces, column, row)
    own, corners = faces.triangle, faces.corners
    if len(rows) < len(own):
        own, corners = own[rows], corners[rows]
    u, v = scene.uvs[:, 0] - column, scene.uvs[:, 1] - row
    turn = _turn(u, v, corners)
    doubled = float(np.abs(turn).sum())
    busy = doubled / 2 * (size * _FINE) ** 2 > _MOST_PIXELS or len(rows) > _MOST_FINE
    fine = 1 if busy else _FINE
    side = size * fine
    square = (side, side)
    shell, part_of_shell = _shells(scene, own)
    region = np.full(side * side, -1, dtype=np.int32)
    alone, copies = (np.zeros(side * side, dtype=np.int32) for _ in range(2))
    mirrored = np.zeros(side * side, dtype=bool)
    is_mirrored = turn < 0
    purpose = np.zeros(len(own), dtype=bool) if is_stacked is None else is_stacked[own]
    some_mirrored, some_copies = bool(is_mirrored.any()), bool(purpose.any())
    x, y = tile_pixels(np.stack([u, v]), side)
    for triangle, pixel in covered_pixels(x, y, corners, side, side):
        region[pixel] = shell[triangle]
        if some_mirrored:
            mirrored[pixel[is_mirrored[triangle]]] = True
        if some_copies:
            copy = purpose[triangle]
            _count(alone, pixel[~copy])
            _count(copies, pixel[copy])
        else:
            _count(alone, pixel)
    low, high = tile_span(side)
    part = part_of_shell[region].reshape(square)
    return UvTile(
        column=column,
        row=row,
        size=size,
        fine=fine,
        region=region.reshape(square),
        part=part,
        accidental=((alone > 1) | ((alone > 0) & (copies > 0))).reshape(square),
        stacked=((alone == 0) & (copies > 1)).reshape(square),
        mirrored=mirrored.reshape(square),
        used=float((part[low:high, low:high] >= 0).mean()),
        grain=float(np.sqrt(doubled / len(own))) if len(own) else 0.0,
    )


def _shells(scene: Scene, own: IndexArray) -> tuple[IndexArray, IndexArray]:
    """A number for the shell of each of some triangles, for its part where that is not known; and
    the part of each number, -1 for number -1."""
    chart, part = scene.chart[own], scene.part[own]
    beyond = int(chart.max(initial=-1)) + 1
    shell = np.where(chart >= 0, chart, part + beyond)
    part_of_shell = np.full(beyond + len(scene.part_names) + 1, -1, dtype=np.int32)
    part_of_shell[shell] = part
    return shell, part_of_shell


_ONE = np.int32(1)


def _count(totals: IndexArray, pixel: npt.NDArray[np.int64]) -> None:
    """Add how often each pixel comes."""
    np.add.at(totals, pixel, _ONE)  # ten times as quick as with a plain 1


def tile_edges(scene: Scene, faces: UvFaces, column: int, row: int) -> FloatArray:
    """(K, 2, 2) the edges, in UVs within the tile, of polygons that reach into it."""
    rows = _reaching(scene, faces, column, row)
    face, corner = np.nonzero(scene.is_drawn_edge[faces.triangle[rows]])
    ends = [scene.uvs[faces.corners[rows[face], (corner + k) % 3]] for k in (1, 2)]
    return np.stack(ends, axis=1) - [column, row]


def tile_pixels(uv: FloatArray, side: int) -> FloatArray:
    """(2, ...) places in a picture of `side` pixels, x to the right and y downwards, of UVs."""
    x, y = (uv + RIM) * (side / (1 + 2 * RIM))
    return np.stack([x, side - y])


def tile_span(side: int) -> tuple[int, int]:
    """First pixel of the tile proper along a side, and the one after its last."""
    return round(side * RIM / (1 + 2 * RIM)), round(side * (1 + RIM) / (1 + 2 * RIM))


def _turn(u: FloatArray, v: FloatArray, corners: IndexArray) -> FloatArray:
    """(N,) twice the area of each triangle, below 0 where it is mirrored."""
    turn = np.empty(len(corners))
    for at in range(0, len(corners), _TURNED):
        a, b, c = (corners[at : at + _TURNED, k] for k in range(3))
        from_u, from_v = u[a], v[a]
        first = (u[b] - from_u) * (v[c] - from_v)
        turn[at : at + _TURNED] = first - (v[b] - from_v) * (u[c] - from_u)
    return turn


def borders_of(tile: UvTile) -> BoolArray:
    """(n, n) bool: pixels of a shell beside another or beside nothing."""
    region = tile.region
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
    region = tile.region[:: tile.fine, :: tile.fine]
    if not (region >= 0).any():
        nothing = np.zeros(region.shape, dtype=bool)
        return nothing, nothing
    reach = padding * region.shape[0] / (1 + 2 * RIM)
    ground = np.nonzero(region < 0)
    indices = ndimage.distance_transform_edt(
        region < 0, return_distances=False, return_indices=True
    )
    nearest = tuple(axis[ground] for axis in indices)
    owner, distance = region.copy(), np.zeros(region.shape)
    owner[ground] = region[nearest]
    distance[ground] = np.hypot(nearest[0] - ground[0], nearest[1] - ground[1])
    padded = (distance > 0) & (distance <= max(reach, 1.0))
    tight = np.zeros(region.shape, dtype=bool)
    flat, gap = tight.reshape(-1), distance.reshape(-1)
    for axis, step in ((0, region.shape[1]), (1, 1)):
        one, other = np.nonzero(np.diff(owner, axis=axis))
        here = one * region.shape[1] + other
        between = gap[here] + gap[here + step]
        meets = here[(between > 0) & (between + 1 < 2 * reach)]
        flat[meets] = flat[meets + step] = True
    return padded, tight & (region < 0)


def shrunk(fine: BoolArray, factor: int) -> Floats32:
    """(size, size) float32 share of each pixel's fine cells that are set."""
    if factor == 1:
        return fine.astype(np.float32)
    cells = fine.view(np.uint8)
    total = sum(cells[i::factor, j::factor] for i in range(factor) for j in range(factor))
    return np.asarray(total, dtype=np.float32) / np.float32(factor**2)
