"""How a UV map stretches the surface.

A triangle is taken as it is; any other face is cut from the mean of its corners into one triangle
a side, on the surface and in the UV plane alike, so that nothing depends on the corner it starts
at. On each such piece the map from the UV plane to the surface is linear, with singular values
Γ >= γ: a unit of UV becomes between γ and Γ units of surface. A piece of surface area A weighs A.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rows import rows_at
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.measure.unwrap import Unwrap
from reviewbot.mesh import FloatArray, IndexArray, Part

_CHUNK = 1 << 17  # corners at a time: with fewer, threads wait for the interpreter at each step


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Stretch of one part; no figure has a unit, and 1 is none except where said.

    Figures of faces are (F,) float64, scaled so that the face's own shell has as much UV area as
    surface; the part's are scaled so that the part has. nan without UVs or surface, inf without
    UV area; faces that are collapsed in the plane are left out of the part's figures.

    face_l2    root mean square of Γ and γ
    face_worst the larger of Γ and 1/γ: by how much a length is off, either way
    face_angle Γ/γ: by how much a circle is drawn out
    l2, linf   of the part: root mean square, and greatest Γ (Sander, Snyder, Gortler & Hoppe 2001)
    dirichlet  of the part: mean of Γ² + γ² + 1/Γ² + 1/γ², 4 for none (Smith & Schaefer 2015)
    angle      of the part: mean of Γ/γ
    area       of the part: mean of the larger of Γγ and 1/(Γγ)
    mean, p95  of `face_worst` by surface: mean and 95th percentile
    """

    face_l2: FloatArray
    face_worst: FloatArray
    face_angle: FloatArray
    l2: float
    linf: float
    dirichlet: float
    angle: float
    area: float
    mean: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Pieces of faces on which the map is linear, (M,) each.

    face     the face it is of
    area     surface, square units
    uv_area  tiles, without sign
    large    Γ, units of surface per tile; inf without UV area
    small    γ
    """

    face: IndexArray
    area: FloatArray
    uv_area: FloatArray
    large: FloatArray
    small: FloatArray


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def measure_stretch(part: Part, surface: Surface, shells: Shells, unwrap: Unwrap) -> Stretch:
    """Stretch of a part; nan throughout for a part without UVs."""
    some = np.flatnonzero(unwrap.mapped & (surface.face_area > 0)).astype(np.int32)
    shell_scale = np.append(np.sqrt(unwrap.shell_uv_area / unwrap.shell_area), np.nan)
    fine = unwrap.mapped & ~unwrap.collapsed
    weight = np.zeros(part.face_count)
    l2, worst, angle = np.full((3, part.face_count), np.nan)
    found = [np.empty((4, 0))]
    for faces, rows in _some_at_a_time(part, surface.points, some):
        area, _, large, small = rows
        solid = area > 0
        weight[faces] = own_weight = np.where(solid, area, 0.0).sum(axis=0)
        scale = shell_scale[shells.face_shell[faces]]
        large, small = large * scale, small * scale
        for figure, values in (
            (worst, np.maximum(large, 1 / small)),
            (l2, (large**2 + small**2) / 2),
            (angle, large / small),
        ):
            figure[faces] = np.where(solid, area * values, 0.0).sum(axis=0) / own_weight
        counts = solid & fine[faces]
        found.append(rows.reshape(4, -1) if counts.all() else rows[:, counts])
    sound = fine & (weight > 0)
    mean, p95 = _mean_and_percentile(worst[sound], weight[sound], 0.95)
    whole = _figures_of_part(np.concatenate(found, axis=1))
    return Stretch(
        face_l2=np.sqrt(l2),
        face_worst=worst,
        face_angle=angle,
        l2=whole[0],
        linf=whole[1],
        dirichlet=whole[2],
        angle=whole[3],
        area=whole[4],
        mean=mean,
        p95=p95,
    )


def linear_pieces(part: Part, points: FloatArray, faces: IndexArray) -> Pieces:
    """The pieces of the given faces, which must be mapped; those without surface are left out."""
    owners, found = [np.empty(0, np.int32)], [np.empty((4, 0))]
    for some, rows in _some_at_a_time(part, points, faces):
        solid = rows[0] > 0
        owners.append(np.broadcast_to(some, solid.shape)[solid])
        found.append(rows.reshape(4, -1) if solid.all() else rows[:, solid])
    area, uv_area, large, small = np.concatenate(found, axis=1)
    face = np.concatenate(owners)
    return Pieces(face=face, area=area, uv_area=uv_area, large=large, small=small)


def _some_at_a_time(
    part: Part, points: FloatArray, faces: IndexArray
) -> Iterator[tuple[IndexArray, FloatArray]]:
    """Faces of as many corners, and the (4, pieces, N) figures of their pieces."""
    sizes = np.diff(part.face_start)[faces]
    for size in np.unique(sizes).tolist():
        alike = faces[sizes == size]
        step = max(_CHUNK // max(size, 1), 1)
        for at in range(0, len(alike), step):
            some = alike[at : at + step]
            yield some, _pieces_of_size(part, points, some, size)


@np.errstate(invalid="ignore", divide="ignore", over="ignore")
def _pieces_of_size(part: Part, points: FloatArray, faces: IndexArray, size: int) -> FloatArray:
    """(4, pieces, N) area, UV area, Γ and γ of the pieces of faces of so many corners."""
    corner = part.face_start[faces] + np.arange(size, dtype=np.int32)[:, None]
    spot = np.ascontiguousarray(np.moveaxis(rows_at(points, part.corner_point[corner]), -1, 0))
    uv = np.ascontiguousarray(np.moveaxis(rows_at(part.uvs, part.corner_uv[corner]), -1, 0))
    (p, q), (s, t) = _legs(spot), _legs(uv)
    pp, qq, pq, ss, tt, st = _dot(p, p), _dot(q, q), _dot(p, q), _dot(s, s), _dot(t, t), _dot(s, t)
    twice_area = np.sqrt(np.maximum(pp * qq - pq * pq, 0.0))
    twice_uv = np.abs(s[0] * t[1] - s[1] * t[0])
    # The metric tensor's trace and the root of its determinant give the singular values.
    trace = (pp * tt - 2 * pq * st + qq * ss) / twice_uv**2
    root = twice_area / twice_uv
    spread = np.sqrt(np.maximum(trace * trace - 4 * root * root, 0.0))
    large = np.sqrt((trace + spread) / 2)
    flat = twice_uv == 0
    large[flat] = np.inf
    small = np.where(flat, 0.0, root / large)
    return np.stack([twice_area / 2, twice_uv / 2, large, small])


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Dot products of columns, coordinates first: faster than a sum over them."""
    total = a[0] * b[0]
    for axis in range(1, len(a)):
        total += a[axis] * b[axis]
    return np.asarray(total)


def _legs(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two sides of each piece of faces with corners (K, size, N): (K, pieces, N) each."""
    if corners.shape[1] == 3:
        return corners[:, 1:2] - corners[:, :1], corners[:, 2:] - corners[:, :1]
    from_middle = corners - corners.mean(axis=1, keepdims=True)
    return from_middle, np.roll(from_middle, -1, axis=1)


def _figures_of_part(pieces: FloatArray) -> tuple[float, float, float, float, float]:
    """L2, Linf, Dirichlet, angle and area of (4, M) pieces, scaled to equal areas."""
    area, uv_area, large, small = pieces
    if not len(area):
        return (float("nan"),) * 5
    total = area.sum()
    scale = np.sqrt(uv_area.sum() / total)
    values = np.empty((4, len(area)))
    for at in range(0, len(area), _CHUNK):
        some = slice(at, at + _CHUNK)
        own, most, least = area[some], large[some] * scale, small[some] * scale
        square, product = most**2 + least**2, most * least
        values[0, some] = own * square
        values[1, some] = own * square * (1 + 1 / product**2)
        values[2, some] = own * most / least
        values[3, some] = own * np.maximum(product, 1 / product)
    l2, dirichlet, angle, spared = (one.sum() for one in values)
    return (
        float(np.sqrt(l2 / (2 * total))),
        float(large.max() * scale),
        float(dirichlet / total),
        float(angle / total),
        float(spared / total),
    )


def _mean_and_percentile(
    values: FloatArray, weights: FloatArray, share: float
) -> tuple[float, float]:
    """Weighted mean, and the least value that at least a share of the weight does not exceed."""
    if not len(values):
        return float("nan"), float("nan")
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    at = min(int(np.searchsorted(reached, share * reached[-1])), len(values) - 1)
    return float((values * weights).sum() / reached[-1]), float(values[order[at]])
