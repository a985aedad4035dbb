"""How a part lies in the UV plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import signed_areas
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Unwrap:
    """A part's first UV set.

    face_uv_area    (F,) float64 signed area in tiles, above 0 for counter-clockwise; nan for a
                    face with an unmapped corner
    mapped          (F,) bool: every corner has a finite UV
    shell_area      (S,) float64 square units of surface
    shell_uv_area   (S,) float64 tiles, without sign
    shell_mirrored  (S,) bool: the shell lies face down
    seam_length     units
    uv_area         tiles, all shells, overlaps counted as often as they lie
    mapped_share    mapped surface over all surface, 0 to 1
    """

    face_uv_area: FloatArray
    mapped: BoolArray
    shell_area: FloatArray
    shell_uv_area: FloatArray
    shell_mirrored: BoolArray
    seam_length: float
    uv_area: float
    mapped_share: float


def measure_unwrap(part: Part, surface: Surface, shells: Shells) -> Unwrap:
    """The unwrap of a part; without UVs, no shells, and shares and areas of 0."""
    signed = signed_areas(part.uvs, part.corner_uv, part.face_start)
    mapped = shells.face_shell >= 0
    area = np.nan_to_num(surface.face_area, nan=0.0, posinf=0.0)
    of_shell = _sum_per_shell(shells, area)
    turned = _sum_per_shell(shells, signed)
    flat = _sum_per_shell(shells, np.abs(signed))
    total = float(area.sum())
    return Unwrap(
        face_uv_area=signed,
        mapped=mapped,
        shell_area=of_shell,
        shell_uv_area=flat,
        shell_mirrored=turned < 0,
        seam_length=float(np.nansum(shells.lengths[shells.is_seam])),
        uv_area=float(flat.sum()),
        mapped_share=float(area[mapped].sum() / total) if total > 0 else 0.0,
    )


def _sum_per_shell(shells: Shells, values: FloatArray) -> FloatArray:
    mapped = shells.face_shell >= 0
    finite = np.nan_to_num(values[mapped], nan=0.0, posinf=0.0, neginf=0.0)
    sums = np.bincount(shells.face_shell[mapped], weights=finite, minlength=shells.count)
    return np.asarray(sums, dtype=np.float64)
