"""What a view sees, as plain arrays: the one thing every picture is drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """The seen points of one view, about one a pixel and four where an edge runs through it.

    Only samples that hit something are kept; pixels share one weight of 1 among their samples,
    hit or not, so a pixel's coverage is the sum of its kept weights.

    height, width  of the picture, in pixels; row 0 is at the top
    pixel          (S,) int32, row * width + column
    weight         (S,) float32, 1 or 1/4
    triangle       (S,) int32 into the scene's triangles
    bary           (S, 3) float32 barycentric coordinates
    depth          (S,) float32 distance from the camera plane, in scene units
    footprint      (S, 2, 3) float32, how `bary` changes by one pixel along x and along y
    """

    height: int
    width: int
    pixel: IndexArray
    weight: npt.NDArray[np.float32]
    triangle: IndexArray
    bary: npt.NDArray[np.float32]
    depth: npt.NDArray[np.float32]
    footprint: npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All parts of one model as triangles in the asset's space (float64), ready for a back end.

    corners         (T, 3, 3) float64
    part            (T,) int32 index into the model's parts
    face            (T,) int32 face within its part
    corner          (T, 3) int32 corner within its part
    hidden_twin     (T,) bool: lies exactly on an earlier triangle and is left out of tracing
    """

    corners: FloatArray
    part: IndexArray
    face: IndexArray
    corner: IndexArray
    hidden_twin: BoolArray


def coverage(samples: Samples) -> FloatArray:
    """(H, W) share of each pixel that is covered, 0 to 1."""
    flat = np.bincount(
        samples.pixel, weights=samples.weight, minlength=samples.height * samples.width
    )
    return np.asarray(flat.reshape(samples.height, samples.width))
