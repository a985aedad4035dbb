"""Measures as flat tables of named figures, for reports. The names are kept from then on.

Keys and their units are listed in the documentation of measures. None stands for a figure that
this part cannot have (stretch without UVs, say). Figures keep nine digits, so that the same asset
written in another order keeps its figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import FloatArray

Figure = float | int | str | None


def part_measures(one: PartExamination) -> dict[str, Figure]:
    """The figures of one part that can be told from it alone."""
    return {**_form_figures(one), **(_uv_figures(one) if one.textured else {})}


def asset_measures(examination: Examination) -> dict[str, Figure]:
    """The figures of the whole asset; those of UVs are of its textured parts."""
    parts = examination.parts
    counts = ("faces", "triangles", "quads", "ngons", "points")
    return {
        "parts": len(parts),
        **{count: sum(getattr(one.topology, count) for one in parts) for count in counts},
        "area": _rounded(sum(_area(one) for one in parts)),
        **_box_figures(examination.bounds),
        "border_length": _rounded(
            sum(float(np.nansum(borders.loop_length)) for borders in examination.borders)
        ),
        **_atlas_figures(examination),
    }


def _form_figures(one: PartExamination) -> dict[str, Figure]:
    topology = one.topology
    return {
        "faces": topology.faces,
        "triangles": topology.triangles,
        "quads": topology.quads,
        "ngons": topology.ngons,
        "points": topology.points,
        "edges": topology.edges,
        "area": _rounded(_area(one)),
        **_box_figures(one.surface.box),
        "volume": _rounded(float(np.nansum(one.winding.sheet_volume))),
        "euler": topology.euler,
        "pieces": topology.pieces,
        "open_edges": topology.open_edges,
        "importance": one.importance,
    }


def _uv_figures(one: PartExamination) -> dict[str, Figure]:
    unwrap, stretch, mapped = one.unwrap, one.stretch, one.shells.count > 0
    return {
        "shells": one.shells.count,
        "mirrored_shells": int(np.count_nonzero(unwrap.shell_mirrored)),
        "seam_length": _rounded(unwrap.seam_length) if mapped else None,
        "mapped_share": _rounded(unwrap.mapped_share),
        "uv_area": _rounded(unwrap.uv_area),
        "uv_sets": int(mapped) + len(one.part.further_uvs),
        "stretch_l2": _rounded(stretch.l2),
        "stretch_linf": _rounded(stretch.linf),
        "stretch_dirichlet": _rounded(stretch.dirichlet),
        "stretch_angle": _rounded(stretch.angle),
        "stretch_area": _rounded(stretch.area),
        "stretch_mean": _rounded(stretch.mean),
        "stretch_p95": _rounded(stretch.p95),
        "density": _rounded(one.density.of_part),
        "crumbliness": _rounded(unwrap.crumbliness),
        "solidity": _rounded(unwrap.solidity),
    }


def _atlas_figures(examination: Examination) -> dict[str, Figure]:
    textured = [one for one in examination.parts if one.textured]
    overlaps, tiles, gaps = examination.overlaps, examination.tiles, examination.gaps
    used = [tile.used for tile in tiles.tiles if tile.number in tiles.homes]
    mapped = any(one.shells.count for one in textured)
    return {
        "shells": sum(one.shells.count for one in textured),
        "stacked_shells": int(np.count_nonzero(overlaps.is_copy | overlaps.is_parked)),
        "seam_length": _rounded(sum(one.unwrap.seam_length for one in textured))
        if mapped
        else None,
        "uv_area": _rounded(sum(one.unwrap.uv_area for one in textured)),
        "overlap_area": _rounded(float(overlaps.area.sum())) if mapped else None,
        "density": _rounded(_density(textured)),
        "tiles": len(tiles.homes),
        "tile_numbers": ", ".join(map(str, tiles.homes)),
        "tile_use": _rounded(float(np.mean(used))) if used else None,
        "narrowest_gap": _rounded(float(gaps.pixels.min())) if len(gaps.pixels) else None,
    }


def _density(parts: Sequence[PartExamination]) -> float:
    """Pixels per unit over all parts: the root of the mean square, by mapped surface."""
    areas = np.array([one.unwrap.shell_area.sum() for one in parts])
    densities = np.array([one.density.of_part for one in parts])
    known = (areas > 0) & np.isfinite(densities)
    if not known.any():
        return math.nan
    return float(np.sqrt(np.average(densities[known] ** 2, weights=areas[known])))


def _area(one: PartExamination) -> float:
    return float(np.nansum(one.surface.face_area))


def _box_figures(box: FloatArray) -> dict[str, Figure]:
    width, height, depth = (float(side) for side in box[1] - box[0])
    return {"width": _rounded(width), "height": _rounded(height), "depth": _rounded(depth)}


def _rounded(value: float) -> float | None:
    return float(f"{value:.9g}") if math.isfinite(value) else None
