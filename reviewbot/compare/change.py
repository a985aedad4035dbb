"""What happened between two versions."""

from __future__ import annotations

from dataclasses import dataclass

CODES = (
    "scale",
    "axes",
    "mirror",
    "offset",
    "part-added",
    "part-removed",
    "part-renamed",
    "parts-joined",
    "part-split",
    "part-moved",
    "reshaped",
    "triangulated",
    "subdivided",
    "faces-added",
    "faces-removed",
    "faces-merged",
    "retopologised",
    "winding-flipped",
    "unwelded",
    "welded",
    "normals-changed",
    "smoothing-changed",
    "uv-lost",
    "uv-added",
    "uv-flipped",
    "uv-mirrored",
    "uv-moved",
    "uv-tile-moved",
    "seams-cut",
    "seams-sewn",
    "uv-reshaped",
    "material-changed",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One cause, said once.

    code     as published in report.json; keeps its meaning for ever
    part     the part's name in the version after (before, for a removed one); "" for the asset
    message  one plain sentence with the figure
    value    the figure in `unit`, or None where there is none
    unit     "" for a plain number
    at       (x, y, z) in the asset's space where to look, or None
    """

    code: str
    part: str
    message: str
    value: float | None = None
    unit: str = ""
    at: tuple[float, float, float] | None = None
