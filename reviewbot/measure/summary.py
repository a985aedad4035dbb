"""Measures as flat tables of named figures, for reports. The names are kept from then on.

Keys and their units are listed in the documentation of measures. None stands for a figure that
this part cannot have (stretch without UVs, say).
"""

from __future__ import annotations

import math

import numpy as np

from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import FloatArray

Figure = float | int | str | None


def part_measures(one: PartExamination) -> dict[str, Figure]:
    """The figures of one part."""
    topology, unwrap = one.topology, one.unwrap
    return {
        "faces": topology.faces,
        "triangles": topology.triangles,
        "quads": topology.quads,
        "ngons": topology.ngons,
        "points": topology.points,
        "area": _finite(float(np.nansum(one.surface.face_area))),
        **_box_figures(one.surface.box),
        "euler": topology.euler,
        "open_edges": topology.open_edges,
        "shells": one.shells.count,
        "seam_length": _finite(unwrap.seam_length),
        "stretch_l2": _finite(one.stretch.l2),
        "stretch_linf": _finite(one.stretch.linf),
        "density": _finite(one.density.of_part),
        "uv_area": _finite(unwrap.uv_area),
        "importance": one.importance,
    }


def asset_measures(examination: Examination) -> dict[str, Figure]:
    """The figures of the whole asset."""
    parts = examination.parts
    return {
        "parts": len(parts),
        "faces": sum(one.topology.faces for one in parts),
        "triangles": sum(one.topology.triangles for one in parts),
        "quads": sum(one.topology.quads for one in parts),
        "ngons": sum(one.topology.ngons for one in parts),
        "points": sum(one.topology.points for one in parts),
        "area": _finite(sum(float(np.nansum(one.surface.face_area)) for one in parts)),
        **_box_figures(examination.bounds),
        "shells": sum(one.shells.count for one in parts),
        "seam_length": _finite(sum(one.unwrap.seam_length for one in parts)),
        "uv_area": _finite(sum(one.unwrap.uv_area for one in parts)),
    }


def _box_figures(box: FloatArray) -> dict[str, Figure]:
    width, height, depth = (float(side) for side in box[1] - box[0])
    return {"width": _finite(width), "height": _finite(height), "depth": _finite(depth)}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
