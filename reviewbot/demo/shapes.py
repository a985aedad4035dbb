"""Builders for the demo's props: turned bodies, bent rods and curved plates, all in quads.

Each gives its UVs as well, unfolded to true size in metres: shells that still have to be packed.
Lengths are metres, y is up, z is the front; faces are wound outwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from reviewbot.geometry.exact import exact_places
from reviewbot.mesh import FloatArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Quads and how they unfold.

    points   (V, 3) metres
    quads    (F, 4) indices into them
    flat     (F, 4, 2) each corner's place in its unfolded shell, metres
    shell    (F,) the shell of each quad, from 0
    """

    points: FloatArray
    quads: IndexArray
    flat: FloatArray
    shell: IndexArray

    @property
    def shell_count(self) -> int:
        return int(self.shell.max(initial=-1)) + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Vents:
    """Recessed slots round a band.

    count    how many, evenly round
    columns  quads of the band that each slot takes the place of, across
    rows     and up: from the first row up to, not with, the last
    inset    share of that block left as a rim, across and along
    depth    metres
    """

    count: int
    columns: int
    rows: tuple[int, int]
    inset: tuple[float, float]
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A stretch of a turned body's outline that unfolds as one shell.

    outline  (N, 3) radius, height and ripple (how deep; may be left out), from the bottom up
             over the outside; one point alone is no more than a place for a cap
    layout   "strip" is cut at the back and rolled out, "disc" is pressed flat as a ring
    cap      what closes a disc's middle: a "ladder" of few long quads, a "grid" of even ones
    bulge    how far the cap's middle rises, metres
    teeth    how many ripples go round; 0 leaves them out
    """

    outline: FloatArray
    layout: Literal["strip", "disc"] = "strip"
    cap: Literal["none", "ladder", "grid"] = "none"
    bulge: float = 0.0
    teeth: int = 0
    vents: Vents | None = None


def merged(pieces: Sequence[Piece]) -> Piece:
    """Several pieces as one; nothing is welded."""
    point = np.cumsum([0, *(len(piece.points) for piece in pieces)])
    shell = np.cumsum([0, *(piece.shell_count for piece in pieces)])
    return Piece(
        points=np.concatenate([piece.points for piece in pieces]),
        quads=np.concatenate([p.quads + k for p, k in zip(pieces, point, strict=False)]),
        flat=np.concatenate([piece.flat for piece in pieces]),
        shell=np.concatenate([p.shell + k for p, k in zip(pieces, shell, strict=False)]),
    )


def welded(piece: Piece) -> Piece:
    """Points within a nanometre become one; points of no quad go."""
    used, quads = np.unique(piece.quads, return_inverse=True)
    points = piece.points[used]
    place, first = exact_places(np.round(points, 9))
    # Numbered in the order in which they were built, which is how a modeller would find them.
    rank = np.argsort(np.argsort(first))
    return replace(
        piece,
        points=points[np.sort(first)],
        quads=rank[place][quads].reshape(-1, 4).astype(np.int32),
    )


def placed(piece: Piece, *, axis: ArrayLike, at: ArrayLike) -> Piece:
    """A piece turned so that its y axis points along `axis`, then set down at `at`."""
    up = np.asarray(axis) / np.linalg.norm(axis)
    side = np.cross(up, [0.0, 0.0, 1.0] if abs(up[2]) < 0.9 else [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    frame = np.stack([side, up, np.cross(side, up)])
    return replace(piece, points=piece.points @ frame + np.asarray(at))


def turned(piece: Piece, angle: float) -> Piece:
    """A piece turned about the y axis, from the front towards +x. angle  radians"""
    sine, cosine = np.sin(angle), np.cos(angle)
    frame = np.array([[cosine, 0, -sine], [0, 1, 0], [sine, 0, cosine]])
    return replace(piece, points=piece.points @ frame)


def rounded(corners: Sequence[tuple[float, float, float]], steps: int) -> FloatArray:
    """(N, 3) an outline whose inner corners are cut or rounded, without ripple.

    corners  (radius, height, bevel): how far from the corner its bevel begins, 0 for none
    steps    0 leaves corners sharp, 1 cuts them, more round them
    """
    places = np.array([(radius, height) for radius, height, _ in corners])
    points = [places[:1]]
    for before, here, after, (_, _, bevel) in zip(
        places, places[1:], places[2:], corners[1:], strict=False
    ):
        start = here + bevel * _direction(here, before)
        end = here + bevel * _direction(here, after)
        t = np.linspace(0, 1, steps + 1)[:, None] if bevel and steps else np.full((1, 1), 0.5)
        bent = (1 - t) ** 2 * start + 2 * t * (1 - t) * here + t**2 * end
        points.append(bent if bevel and steps else here[None])
    flat = np.concatenate([*points, places[-1:]])
    return np.column_stack([flat, np.zeros(len(flat))])


def _direction(start: FloatArray, end: FloatArray) -> FloatArray:
    along: FloatArray = (end - start) / np.linalg.norm(end - start)
    return along


def curve(knots: Sequence[Sequence[float]], steps: int) -> FloatArray:
    """(N, K) a smooth line through all knots (Catmull-Rom), `steps` pieces between two of them."""
    p: FloatArray = np.array(knots, dtype=np.float64)
    p = np.concatenate([[2 * p[0] - p[1]], p, [2 * p[-1] - p[-2]]])
    t = np.arange(steps)[:, None] / steps
    spans = [
        b
        + 0.5 * ((c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p, p[1:], p[2:], p[3:], strict=False)
    ]
    return np.concatenate([*spans, p[-2:-1]])


def joined_outline(*pieces: FloatArray) -> FloatArray:
    """(N, 3) outlines end to end, repeated points once; those without ripple get none."""
    whole = np.concatenate(
        [p if p.shape[1] == 3 else np.column_stack([p, np.zeros(len(p))]) for p in pieces]
    )
    apart = np.linalg.norm(np.diff(whole[:, :2], axis=0), axis=1) > 1e-9
    kept: FloatArray = whole[np.concatenate([[True], apart])]
    return kept


def grid_quads(rows: int, columns: int) -> IndexArray:
    """((rows - 1) * (columns - 1), 4) quads over points numbered row by row, counter-clockwise
    where columns run right and rows run up."""
    index = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    corners = [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]]
    return np.stack(corners, axis=-1).reshape(-1, 4)


def border_loop(rows: int, columns: int) -> IndexArray:
    """The border points of such a grid, once round counter-clockwise from the first."""
    index = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    sides = [index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]]
    return np.concatenate(sides)


def loop_quads(outer: IndexArray, inner: IndexArray) -> IndexArray:
    """(N, 4) quads between two loops of N points that run the same way."""
    return np.stack([outer, np.roll(outer, -1), np.roll(inner, -1), inner], axis=1)


def lathe(bands: Sequence[Band], *, around: int) -> Piece:
    """A turned body, welded. Neighbouring bands share a ring; ends without a cap stay open.

    around  quads round it, a multiple of 8; strips are cut at the back
    """
    pieces = []
    for k, plain in enumerate(bands):
        band = replace(plain, outline=joined_outline(plain.outline))
        from_above = _seen_from_above(band, is_first=k == 0)
        whole = _band(band, around, from_above)
        if band.cap != "none":
            middle = whole.shell_count
            whole = merged([whole, _cap(band, around, from_above)])
            whole = replace(whole, shell=np.where(whole.shell == middle, 0, whole.shell))
        pieces.append(whole)
    return welded(merged(pieces))


def _seen_from_above(band: Band, *, is_first: bool) -> bool:
    """Which way a disc faces: it narrows upwards, or is one ring that closes the upper end."""
    radius = band.outline[:, 0]
    return not is_first if len(radius) == 1 else bool(radius[-1] < radius[0])


def _angles(around: int) -> FloatArray:
    return np.linspace(-np.pi, np.pi, around + 1)


def _ring(radius: FloatArray, height: FloatArray, angle: FloatArray) -> FloatArray:
    across = np.broadcast_arrays(radius * np.sin(angle), height, radius * np.cos(angle))
    return np.stack(across, axis=-1)


def _band(band: Band, around: int, from_above: bool) -> Piece:
    """A band's quads; its vents' recesses are shells of their own."""
    angle = _angles(around)
    radius, height, ripple = (column[:, None] for column in band.outline.T)
    wave = np.cos(band.teeth * angle) if band.teeth else 0 * angle
    points = _ring(radius + ripple * wave, height, angle)
    points[:, -1] = points[:, 0]
    flat = _unrolled(band, angle, from_above)
    blocks = [] if band.vents is None else _vent_blocks(band.vents, points.shape[:2])
    kept = np.ones(((points.shape[0] - 1), around), dtype=bool)
    for rows, columns in blocks:
        kept[rows, columns] = False
    quads = grid_quads(*points.shape[:2])[kept.reshape(-1)]
    pieces = [_shell_of(points.reshape(-1, 3), quads, flat.reshape(-1, 2))]
    for rows, columns in blocks:
        block = np.s_[rows.start : rows.stop + 1, columns.start : columns.stop + 1]
        pieces.append(_vent(points[block], flat[block], band))
    whole = merged(pieces)
    # A vent is two shells, rim and recess: the rim goes to the band's own.
    vent, kind = np.divmod(whole.shell - 1, 2)
    shell = np.where((whole.shell == 0) | (kind == 0), 0, vent + 1)
    return replace(whole, shell=shell)


def _shell_of(points: FloatArray, quads: IndexArray, flat: FloatArray) -> Piece:
    """One shell whose points lie at one place each in the flat."""
    return Piece(
        points=points,
        quads=quads,
        flat=flat[quads],
        shell=np.zeros(len(quads), dtype=np.int32),
    )


def _unrolled(band: Band, angle: FloatArray, from_above: bool) -> FloatArray:
    """(rows, columns, 2) a band laid flat, metres, counter-clockwise as seen from outside."""
    radius, height, _ = band.outline.T
    steps = np.hypot(np.diff(radius), np.diff(height))
    along = np.concatenate([[0.0], np.cumsum(steps)])
    if band.layout == "strip":
        mean = np.average((radius[1:] + radius[:-1]) / 2, weights=steps)
        return np.stack(np.broadcast_arrays(mean * angle, along[:, None]), axis=-1)
    out = radius[-1] + along[-1] - along if from_above else radius[0] + along
    return _pressed(out[:, None] * np.sin(angle), out[:, None] * np.cos(angle), from_above)


def _pressed(x: FloatArray, z: FloatArray, from_above: bool) -> FloatArray:
    return np.stack([x, -z if from_above else z], axis=-1)


def _cap(band: Band, around: int, from_above: bool) -> Piece:
    radius, height, _ = band.outline[-1 if from_above else 0]
    angle = _angles(around)[:-1]
    ring = np.stack([radius * np.sin(angle), radius * np.cos(angle)], axis=1)
    if band.cap == "ladder":
        flat, quads = ring, _ladder_quads(around)
    else:
        flat, quads = _even_disc(ring, around // 4)
    rise = band.bulge * (1 - (flat**2).sum(axis=1) / radius**2)
    points = np.stack([flat[:, 0], height + (rise if from_above else -rise), flat[:, 1]], axis=1)
    return _shell_of(
        points,
        quads if from_above else quads[:, ::-1],
        _pressed(flat[:, 0], flat[:, 1], from_above),
    )


def _ladder_quads(count: int) -> IndexArray:
    """Quads straight across a ring of an even number of points."""
    k = np.arange(count // 2 - 1, dtype=np.int32)
    return np.stack([k, k + 1, count - 2 - k, count - 1 - k], axis=1)


def _even_disc(ring: FloatArray, side: int) -> tuple[FloatArray, IndexArray]:
    """Points and quads of a disc: its ring, and inside a rounded square of side x side quads."""
    t = np.linspace(-1, 1, side + 1)
    b, a = np.meshgrid(t, t, indexing="ij")
    # Concentric map (Shirley & Chiu 1997): its border points stand as evenly as the ring's.
    reach = np.maximum(np.abs(a), np.abs(b))
    with np.errstate(invalid="ignore", divide="ignore"):
        wide = np.abs(a) >= np.abs(b)
        turn = np.where(wide, np.pi / 4 * b / a, np.pi / 2 - np.pi / 4 * a / b)
        sign = np.where(wide, np.sign(a), np.sign(b))
    turn = np.where(reach == 0, 0, turn)
    circle = (reach * sign)[..., None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    square = np.stack([a, b], axis=-1) * 0.8
    radius = float(np.linalg.norm(ring[0]))
    inner = 0.7 * radius * (0.55 * circle + 0.45 * square).reshape(-1, 2)
    # Seen from above, x runs right and z down; the ring begins in the middle of the far side.
    inner[:, 1] = -inner[:, 1]
    loop = border_loop(side + 1, side + 1)
    nearest = int(np.argmin(np.linalg.norm(inner[loop] - ring[0], axis=1)))
    loop = np.roll(loop, -nearest) + len(ring)
    own = np.arange(len(ring), dtype=np.int32)
    quads = np.concatenate([loop_quads(own, loop), grid_quads(side + 1, side + 1) + len(ring)])
    return np.concatenate([ring, inner]), quads


def _vent_blocks(vents: Vents, shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    period = (shape[1] - 1) // vents.count
    first = (period - vents.columns) // 2
    return [
        (slice(*vents.rows), slice(first + k * period, first + k * period + vents.columns))
        for k in range(vents.count)
    ]


def _vent(points: FloatArray, flat: FloatArray, band: Band) -> Piece:
    """A slot in place of a block of quads: a rim round a rounded hole, and the recess behind it.

    points, flat  (rows + 1, columns + 1, 3 and 2), the block
    returns       two shells: the rim, where it lies in the band, and the recess
    """
    assert band.vents is not None
    rows, columns = points.shape[:2]
    hole = _rounded_grid(rows, columns, band.vents.inset)
    edge, edge_flat = _between(points, hole), _between(flat, hole)
    loop = border_loop(rows, columns)
    size = rows * columns
    rim = _shell_of(
        np.concatenate([points.reshape(-1, 3), edge]),
        loop_quads(loop, loop + size),
        np.concatenate([flat.reshape(-1, 2), edge_flat]),
    )
    outward = edge * [1, 0, 1] / np.linalg.norm(edge * [1, 0, 1], axis=1, keepdims=True)
    floor = edge - band.vents.depth * outward
    recess = _tray(edge, floor, edge_flat, (rows, columns))
    return merged([rim, recess])


def _tray(
    edge: FloatArray,
    floor: FloatArray,
    flat: FloatArray,
    shape: tuple[int, int],
) -> Piece:
    """A floor and walls round it up to the edge, as one shell: the walls are folded outwards.

    edge, floor  (N, 3), flat (N, 2): grids of the given shape; of the edge only its border counts
    """
    loop = border_loop(*shape)
    quads = np.concatenate([grid_quads(*shape), loop_quads(loop + len(floor), loop)])
    height = float(np.linalg.norm(edge[loop] - floor[loop], axis=1).mean())
    start, end = flat[loop], np.roll(flat[loop], -1, axis=0)
    along = (end - start) / np.linalg.norm(end - start, axis=1, keepdims=True)
    away = height * np.stack([along[:, 1], -along[:, 0]], axis=1)
    walls = np.stack([start + away, end + away, end, start], axis=1)
    return Piece(
        points=np.concatenate([floor, edge]),
        quads=quads,
        flat=np.concatenate([flat[grid_quads(*shape)], walls]),
        shell=np.zeros(len(quads), dtype=np.int32),
    )


def _rounded_grid(rows: int, columns: int, inset: tuple[float, float]) -> FloatArray:
    """(rows * columns, 2) places in the unit square: a grid with its corners drawn in."""
    b, a = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    x = a * np.sqrt(1 - 0.4 * b**2) * (1 - inset[0])
    y = b * np.sqrt(1 - 0.4 * a**2) * (1 - inset[1])
    return np.stack([0.5 + 0.5 * x, 0.5 + 0.5 * y], axis=-1).reshape(-1, 2)


def _between(grid: FloatArray, places: FloatArray) -> FloatArray:
    """(N, K) a grid's values at places of the unit square, (N, 2) across and up; bilinear."""
    rows, columns = grid.shape[:2]
    at = places * [columns - 1, rows - 1]
    cell = np.clip(np.floor(at).astype(int), 0, [columns - 2, rows - 2])
    s, t = (at - cell).T[:, :, None]
    i, j = cell.T
    below = (1 - s) * grid[j, i] + s * grid[j, i + 1]
    above = (1 - s) * grid[j + 1, i] + s * grid[j + 1, i + 1]
    return np.asarray((1 - t) * below + t * above)


def tube(
    path: FloatArray,
    radius: FloatArray,
    *,
    sides: int,
    plane: Sequence[float],
    is_ring: bool = False,
) -> Piece:
    """A round rod along a path that lies in one plane, welded; a ring, or with flat ends.

    path    (N, 3); radius (N,)
    plane   the plane's normal n; the rod is cut along the side n x tangent
    sides   an even number
    """
    if is_ring:
        path, radius = np.concatenate([path, path[:1]]), np.append(radius, radius[0])
    tangent = _tangents(path, is_ring)
    first = np.cross(plane, tangent)
    second = np.cross(tangent, first)
    angle = np.linspace(0, 2 * np.pi, sides + 1)[:, None]
    rings = path[:, None] + radius[:, None, None] * (
        np.cos(angle) * first[:, None] + np.sin(angle) * second[:, None]
    )
    rings[:, -1] = rings[:, 0]
    steps = np.hypot(np.linalg.norm(np.diff(path, axis=0), axis=1), np.diff(radius))
    along = np.concatenate([[0.0], np.cumsum(steps)])[:, None]
    # As wide as the rod on the whole: a taper stays one, a groove does not make the border jagged.
    wide = np.polyval(np.polyfit(along[:, 0], radius, 2), along)
    flat = np.stack(np.broadcast_arrays(wide * (angle[:, 0] - np.pi), along), axis=-1)
    side = _shell_of(rings.reshape(-1, 3), grid_quads(len(path), sides + 1), flat.reshape(-1, 2))
    if is_ring:
        return welded(side)
    return welded(merged([side, *_tube_ends(rings[:, :-1], radius)]))


def _tangents(path: FloatArray, is_ring: bool) -> FloatArray:
    if is_ring:
        around = np.concatenate([path[-2:-1], path, path[1:2]])
        tangent = around[2:] - around[:-2]
    else:
        tangent = np.gradient(path, axis=0)
    return np.asarray(tangent / np.linalg.norm(tangent, axis=1, keepdims=True))


def _tube_ends(rings: FloatArray, radius: FloatArray) -> list[Piece]:
    sides = rings.shape[1]
    angle = 2 * np.pi * np.arange(sides) / sides
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    quads = _ladder_quads(sides)
    end = _shell_of(rings[-1], quads, radius[-1] * circle)
    start = _shell_of(rings[0], quads[:, ::-1], radius[0] * circle * [1, -1])
    return [end, start]


def _true_lengths(x: FloatArray, y: FloatArray, relief: FloatArray) -> FloatArray:
    """(N, 2) a relief's grid in the flat, its lines as far apart as they are over the middle."""
    row, column = len(y) // 2, x.shape[1] // 2
    wide = np.hypot(np.diff(x[row]), np.diff(relief[row]))
    high = np.hypot(np.diff(y[:, column]), np.diff(relief[:, column]))
    along = np.concatenate([[0.0], np.cumsum(wide)])
    up = np.concatenate([[0.0], np.cumsum(high)])[:, None]
    # Rounded corners keep their share of the straight lines' length.
    u = (along - along[-1] / 2) * np.abs(x[:, -1:] / x[row, -1])
    v = (up - up[-1] / 2) * np.abs(np.ptp(y, axis=0) / np.ptp(y[:, column]))
    return np.stack([u, v], axis=-1).reshape(-1, 2)


def plate(
    *,
    radius: float,
    angles: FloatArray,
    heights: FloatArray,
    relief: FloatArray,
) -> Piece:
    """A plate with rounded corners bent round the y axis, its middle at the front, welded.

    radius   of its back, metres
    angles   (N,) columns from left to right; heights (M,) rows from the bottom up
    relief   (M, N) how far the front stands off the back
    """
    rows, columns = len(heights), len(angles)
    b = np.interp(heights, [heights[0], heights[-1]], [-1, 1])[:, None]
    a = np.interp(angles, [angles[0], angles[-1]], [-1, 1])[None, :]
    angle = angles[-1] * a * np.sqrt(1 - 0.12 * b**2)
    middle, half = (heights[-1] + heights[0]) / 2, (heights[-1] - heights[0]) / 2
    height = middle + half * b * np.sqrt(1 - 0.12 * a**2)
    front = _ring(radius + relief, height, angle).reshape(-1, 3)
    back = _ring(np.full_like(relief, radius), height, angle).reshape(-1, 3)
    flat = _true_lengths(radius * angle, height, relief)
    face = _tray(back, front, flat, (rows, columns))
    behind = _shell_of(back, grid_quads(rows, columns)[:, ::-1], flat * [-1, 1])
    return welded(merged([face, behind]))
