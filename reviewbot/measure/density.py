"""Texel density: how many pixels of the texture a unit of surface gets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.surface import Surface
from reviewbot.measure.unwrap import Unwrap
from reviewbot.mesh import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Density:
    """Pixels per unit of length at the texture's size: size * sqrt(UV area / surface area).

    of_part   nan without UVs
    of_face   (F,) float64; 0 without UV area, nan without UVs or surface
    of_shell  (S,) float64
    middle    of the shell in the middle of the part's mapped surface, shells sorted by density;
              those without UV area or surface are left out; nan without any
    """

    of_part: float
    of_face: FloatArray
    of_shell: FloatArray
    middle: float


def measure_density(surface: Surface, unwrap: Unwrap, *, texture_size: int) -> Density:
    """Density of a part.

    texture_size  pixels along one side of a tile
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.abs(unwrap.face_uv_area) / surface.face_area
        of_shell = texture_size * np.sqrt(unwrap.shell_uv_area / unwrap.shell_area)
    of_face = texture_size * np.sqrt(np.where(surface.face_area > 0, ratio, np.nan))
    total = float(unwrap.shell_area.sum())
    of_part = texture_size * float(np.sqrt(unwrap.uv_area / total)) if total > 0 else np.nan
    return Density(
        of_part=of_part,
        of_face=of_face,
        of_shell=of_shell,
        middle=middle_of(of_shell, unwrap.shell_area),
    )


def middle_of(densities: FloatArray, areas: FloatArray) -> float:
    """The density that half of the area does not exceed; nan and 0 are left out."""
    known = np.flatnonzero(np.isfinite(densities) & (densities > 0) & (areas > 0))
    if not len(known):
        return float("nan")
    order = known[np.argsort(densities[known])]
    reached = np.cumsum(areas[order])
    return float(densities[order[np.searchsorted(reached, reached[-1] / 2)]])
