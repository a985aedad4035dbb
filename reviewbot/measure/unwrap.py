"""How a part lies in the UV plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.polygons import corner_faces, longest_sides, next_corners, signed_areas
from reviewbot.geometry.rows import lowest_and_highest, rows_at
from reviewbot.measure.shells import UV_TOLERANCE, Shells, shells_on
from reviewbot.measure.surface import Surface, mirrors
from reviewbot.measure.winding import Winding
from reviewbot.mesh import BoolArray, FloatArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherSet:
    """A UV set after the first.

    mapped_share  surface with such UVs over all surface, 0 to 1
    uv_area       tiles, overlaps counted as often as they lie
    shells        number
    """

    name: str
    mapped_share: float
    uv_area: float
    shells: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Unwrap:
    """A part's first UV set. Areas and lengths in the UV plane are in tiles.

    face_uv_area    (F,) float64 signed, above 0 for corners that run counter-clockwise; nan for a
                    face with an unmapped corner
    mapped          (F,) bool: every corner has a finite UV
    collapsed       (F,) bool: mapped and with surface, but thinner than UV_TOLERANCE in the plane
    face_down       (F,) bool: seen from outside, the face's UVs run clockwise
    shell_area      (S,) float64 square units of surface
    shell_uv_area   (S,) float64 without sign
    shell_mirrored  (S,) bool: most of the shell, by UV area, lies face down
    folded          (F,) bool: neither collapsed nor lying the way most of its shell lies
    seam_length     units
    uv_area         all shells, overlaps counted as often as they lie
    perimeter       length of all outlines of shells
    mapped_share    mapped surface over all surface, 0 to 1; 0 for no surface
    crumbliness     perimeter over that of one disc of the same area, at least 1 (Maggiordomo,
                    Ponchio, Cignoni & Tarini 2020, from memory); nan without UV area or outline
    further         UV sets after the first
    """

    face_uv_area: FloatArray
    mapped: BoolArray
    collapsed: BoolArray
    face_down: BoolArray
    shell_area: FloatArray
    shell_uv_area: FloatArray
    shell_mirrored: BoolArray
    folded: BoolArray
    seam_length: float
    uv_area: float
    perimeter: float
    mapped_share: float
    crumbliness: float
    further: tuple[FurtherSet, ...]

    @property
    def solidity(self) -> float:
        """Of the atlas: the inverse of its crumbliness, 1 for a single disc, 0 for dust."""
        return 1 / self.crumbliness


def measure_unwrap(part: Part, surface: Surface, shells: Shells, winding: Winding) -> Unwrap:
    """The unwrap of a part; without UVs, no shells, and shares and areas of 0."""
    signed = signed_areas(part.uvs, part.corner_uv, part.face_start)
    mapped = shells.face_shell >= 0
    outward = np.where(_looks_inwards(part, winding), -signed, signed)
    shell_uv_area = _sum_per_shell(shells, np.abs(signed))
    mirrored = _sum_per_shell(shells, outward) < 0
    collapsed = _collapsed(part, surface, shells, signed)
    face_down = mapped & (outward < 0)
    side_length = _outline_lengths(part, shells)
    uv_area = float(shell_uv_area.sum())
    perimeter = float(side_length.sum())
    one_disc = 2 * np.sqrt(np.pi * uv_area)
    return Unwrap(
        face_uv_area=signed,
        mapped=mapped,
        collapsed=collapsed,
        face_down=face_down,
        shell_area=_sum_per_shell(shells, surface.face_area),
        shell_uv_area=shell_uv_area,
        shell_mirrored=mirrored,
        folded=mapped & ~collapsed & (face_down != np.append(mirrored, False)[shells.face_shell]),
        seam_length=float(np.nansum(shells.lengths[shells.is_seam])),
        uv_area=uv_area,
        perimeter=perimeter,
        mapped_share=_share_of_surface(surface, mapped),
        crumbliness=float(perimeter / one_disc) if perimeter and one_disc else float("nan"),
        further=tuple(_further_set(part, surface, row) for row in range(len(part.further_uvs))),
    )


def _looks_inwards(part: Part, winding: Winding) -> BoolArray:
    """(F,) bool: the drawing order runs clockwise as seen from outside.

    So that a part turned inside out, or a face turned over, is not said to have mirrored UVs too.
    """
    inwards = winding.turned.copy()
    if winding.sheet_inverted.any():
        inwards |= winding.sheet_inverted[winding.face_sheet]
    return ~inwards if mirrors(part.transform) else inwards


def _collapsed(part: Part, surface: Surface, shells: Shells, signed: FloatArray) -> BoolArray:
    """Twice the UV area over the longest UV side is about the width of the strip it fits in."""
    longest_tile = float(np.ptp(lowest_and_highest(part.uvs), axis=0).max()) if len(part.uvs) else 0
    suspect = (shells.face_shell >= 0) & (surface.face_area > 0)
    suspect &= ~(2 * np.abs(signed) > UV_TOLERANCE * 1.5 * longest_tile)
    faces = np.flatnonzero(suspect).astype(np.int32)
    longest = np.zeros(part.face_count)
    longest[faces] = longest_sides(part.uvs, part.corner_uv, part.face_start, faces)
    return suspect & (2 * np.abs(signed) <= UV_TOLERANCE * longest)


def _outline_lengths(part: Part, shells: Shells) -> FloatArray:
    """(N,) UV lengths of the sides over which no shell goes on."""
    outline = (shells.face_shell >= 0)[corner_faces(part.face_start)]
    outline[shells.joins.reshape(-1)] = False
    side = np.flatnonzero(outline)
    follow = next_corners(part.face_start)[side]
    along = rows_at(part.uvs, part.corner_uv[follow]) - rows_at(part.uvs, part.corner_uv[side])
    return np.asarray(np.hypot(along[:, 0], along[:, 1]))


def _sum_per_shell(shells: Shells, values: FloatArray) -> FloatArray:
    """(S,) sums over each shell's faces; nan and infinity count nothing."""
    mapped = shells.face_shell >= 0
    finite = np.nan_to_num(values[mapped], nan=0.0, posinf=0.0, neginf=0.0)
    sums = np.bincount(shells.face_shell[mapped], weights=finite, minlength=shells.count)
    return np.asarray(sums, dtype=np.float64)


def _share_of_surface(surface: Surface, faces: BoolArray) -> float:
    area = np.nan_to_num(surface.face_area, nan=0.0, posinf=0.0)
    total = float(area.sum())
    return float(area[faces].sum()) / total if total > 0 else 0.0


def _further_set(part: Part, surface: Surface, row: int) -> FurtherSet:
    further = part.further_uvs[row]
    shells = shells_on(surface, part.face_start, further.uvs, further.corner_uv)
    signed = signed_areas(further.uvs, further.corner_uv, part.face_start)
    return FurtherSet(
        name=further.name,
        mapped_share=_share_of_surface(surface, shells.face_shell >= 0),
        uv_area=float(_sum_per_shell(shells, np.abs(signed)).sum()),
        shells=shells.count,
    )
