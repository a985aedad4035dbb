"""How a UV map stretches the surface.

Every face is cut from the mean of its corners into one triangle a side, on the surface and in
the UV plane alike, so that nothing depends on the corner a face starts at. On each triangle the
map from the UV plane to the surface is linear, with singular values Γ >= γ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import corner_faces, next_corners, sum_per_face
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import FloatArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Stretch of one part, no unit, every shell (or the part) first scaled to its own size.

    face_l2    (F,) float64 root mean square of Γ and γ, 1 where the map only scales as its shell
               does; inf without UV area, nan without UVs
    l2, linf   of the part (Sander et al., SIGGRAPH 2001); nan without UVs
    """

    face_l2: FloatArray
    l2: float
    linf: float


def measure_stretch(part: Part, surface: Surface, shells: Shells) -> Stretch:
    """Stretch of a part; nan throughout for a part without UVs."""
    faces = part.face_count
    if not shells.count:
        nothing = np.full(faces, np.nan)
        return Stretch(face_l2=nothing, l2=np.nan, linf=np.nan)
    large, small, area, uv_area = corner_singular_values(part, surface.points)
    owner = corner_faces(part.face_start)
    solid = (area > 0) & (shells.face_shell[owner] >= 0)
    weight = np.where(solid, area, 0.0)
    mean_square = np.where(solid, (large**2 + small**2) / 2, 0.0)
    scale = _scales(weight, np.where(solid, uv_area, 0.0), shells.face_shell[owner], shells.count)
    face_weight = sum_per_face(weight, part.face_start)
    with np.errstate(invalid="ignore", divide="ignore"):
        face_square = sum_per_face(weight * mean_square, part.face_start) / face_weight
        whole = np.sqrt(uv_area[solid].sum() / weight.sum())
        l2 = np.sqrt((weight * mean_square).sum() / weight.sum()) * whole
    shell_scale = np.append(scale, np.nan)[shells.face_shell]
    return Stretch(
        face_l2=np.sqrt(face_square) * shell_scale,
        l2=float(l2),
        linf=float(large[solid].max(initial=0.0) * whole),
    )


def corner_singular_values(
    part: Part, points: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Γ, γ, surface area and UV area (C,) of the triangle over each side; nan without UVs."""
    follow = next_corners(part.face_start)
    uv = np.where((part.corner_uv >= 0)[:, None], part.uvs[part.corner_uv], np.nan)
    p, q = _from_middle(points[part.corner_point], part.face_start, follow)
    s, t = _from_middle(uv, part.face_start, follow)
    twice = s[:, 0] * t[:, 1] - s[:, 1] * t[:, 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        along_u = (p * t[:, 1:] - q * s[:, 1:]) / twice[:, None]
        along_v = (q * s[:, :1] - p * t[:, :1]) / twice[:, None]
        a = np.einsum("ij,ij->i", along_u, along_u)
        b = np.einsum("ij,ij->i", along_u, along_v)
        c = np.einsum("ij,ij->i", along_v, along_v)
        middle, half = (a + c) / 2, np.hypot((a - c) / 2, b)
        large, small = np.sqrt(middle + half), np.sqrt(np.maximum(middle - half, 0))
    flat = twice == 0
    large[flat], small[flat] = np.inf, 0.0
    area = 0.5 * np.linalg.norm(np.cross(p, q), axis=1)
    return large, small, area, 0.5 * np.abs(twice)


def _from_middle(
    values: FloatArray, face_start: np.ndarray, follow: np.ndarray
) -> tuple[FloatArray, FloatArray]:
    """Each corner and the next one, as seen from the mean of their face's corners."""
    sizes = np.maximum(np.diff(face_start), 1)
    mean = sum_per_face(values, face_start) / sizes[:, None]
    seen = values - np.repeat(mean, np.diff(face_start), axis=0)
    return seen, seen[follow]


def _scales(area: FloatArray, uv_area: FloatArray, group: np.ndarray, count: int) -> FloatArray:
    """(S,) tiles per unit of length of each shell; nan for one without area."""
    known = group >= 0
    surface = np.bincount(group[known], weights=area[known], minlength=count)
    flat = np.bincount(group[known], weights=uv_area[known], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.sqrt(flat / surface))
