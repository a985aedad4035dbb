"""What a view sees, as plain arrays: the one thing every picture is drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray

Floats32 = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """The seen points of one view, about one a pixel and four where an edge runs through it.

    Only samples that hit something are kept; pixels share one weight of 1 among their samples,
    hit or not, so a pixel's coverage is the sum of its kept weights. Those of weight 1 come first;
    the others follow pixel by pixel.

    height, width  of the picture, in pixels; row 0 is at the top
    pixel          (S,) int32, row * width + column
    weight         (S,) float32, 1 or 1/4
    triangle       (S,) int32 into the scene's triangles
    bary           (S, 3) float32 barycentric coordinates
    depth          (S,) float32 distance from the camera plane, in scene units, larger is further
    plane          (S,) int32 into the planes of the seen triangles, K of them
    slopes         (2, 2, K) float32, how the second and third barycentric coordinate of each plane
                   change by one pixel along x (to the right) and along y (downwards)
    """

    height: int
    width: int
    pixel: IndexArray
    weight: Floats32
    triangle: IndexArray
    bary: Floats32
    depth: Floats32
    plane: IndexArray
    slopes: Floats32

    @property
    def footprint(self) -> Floats32:
        """(S, 2, 3) how `bary` changes by one pixel along x and along y; made at each call."""
        footprint = np.empty((2, 3, len(self.plane)), dtype=np.float32)
        for axis in (0, 1):
            for k in (0, 1):
                np.take(self.slopes[k, axis], self.plane, out=footprint[axis, k + 1])
        footprint[:, 0] = -footprint[:, 1] - footprint[:, 2]
        return footprint.transpose(2, 0, 1)

    @property
    def is_clockwise(self) -> BoolArray:
        """(S,) bool: the triangle's corners run clockwise in the picture."""
        (bx, by), (cx, cy) = self.slopes
        return np.asarray((bx * cy > cx * by).take(self.plane))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All parts of one model as triangles in the asset's space, ready for a back end.

    Faces with a corner that is nan or infinite are left out. Letters: T triangles, P points.

    points          (P, 3) float64
    seen_points     (N, 3) float64 those that some triangle stands on: stray ones do not count
    triangles       (T, 3) int32 into `points`
    part            (T,) int32 index into the model's parts
    face            (T,) int32 face within its part
    corner          (T, 3) int32 corner within its part
    is_drawn_edge   (T, 3) bool: the side opposite each corner is one of the face, not a diagonal
    hidden_twin     (T,) bool: lies exactly on an earlier triangle and is left out of tracing
    two_sided       (T,) bool: one of its twins faces the other way
    normals         (N, 3) float32 unit vectors for shading; normal (T, 3) int32 into it
    uvs             (U, 2) float64; uv (T, 3) int32 into it, all three -1 where a face is unmapped
    chart           (T,) int32 UV shell, numbered over the whole model; -1 where not known
    part_names      as the model has them
    part_colour     (parts,) int32 each part's number among the colours of parts
    """

    points: FloatArray
    seen_points: FloatArray
    triangles: IndexArray
    part: IndexArray
    face: IndexArray
    corner: IndexArray
    is_drawn_edge: BoolArray
    hidden_twin: BoolArray
    two_sided: BoolArray
    normals: Floats32
    normal: IndexArray
    uvs: FloatArray
    uv: IndexArray
    chart: IndexArray
    part_names: tuple[str, ...]
    part_colour: IndexArray

    @property
    def corners(self) -> FloatArray:
        """(T, 3, 3) float64, each triangle's points; gathered anew at each call."""
        return np.asarray(self.points[self.triangles])

    @property
    def traced(self) -> IndexArray:
        """Numbers of the triangles that a back end traces."""
        return np.flatnonzero(~self.hidden_twin).astype(np.int32)


def coverage(samples: Samples) -> FloatArray:
    """(H, W) share of each pixel that is covered, 0 to 1."""
    flat = np.bincount(
        samples.pixel, weights=samples.weight, minlength=samples.height * samples.width
    )
    return np.asarray(flat.reshape(samples.height, samples.width))
