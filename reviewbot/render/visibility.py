"""From the triangles a back end sees to samples: one a pixel, four where an edge runs through it.

Only the number of the triangle is taken from a back end; barycentric coordinates and depth are
worked out here, alike for both, from the triangle's plane. A parallel view is affine in each
triangle, so both are linear in the picture and their footprints are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from reviewbot.cores import thread_count
from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.backends import Backend
from reviewbot.render.camera import Camera, picture_middle, projected_steps, turned
from reviewbot.render.samples import Floats32, Samples, Scene
from reviewbot.render.unchanged import Unchanged, changed_pixels, find_unchanged

T = TypeVar("T")
S = TypeVar("S", bound=np.generic)

_CREASE_COSINE = 0.97  # shading normals of neighbouring pixels 14 degrees apart: an edge to smooth
_MIDDLE = 4
_LEAST_AREA = np.float32(1e-9)  # of a triangle in the picture, twice, in pixels
_ACROSS, _DOWN = np.array(
    [(0.25, 0.75, 0.25, 0.75, 0.5), (0.25, 0.25, 0.75, 0.75, 0.5)], np.float32
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hits:
    """Which triangles were seen; -1 for none. P is the number of pixels.

    middle   (P,) int32 in the middle of each pixel
    edges    (E,) int32 pixels that an edge runs through, rising
    quarter  (E, 4) int32 in the quarters of those
    """

    middle: IndexArray
    edges: IndexArray
    quarter: IndexArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is seen of a version for certain, from a view of the one before.

    is_known  (size, size) bool
    hits      in its own triangles; holds in the known pixels, and has the known edges alone
    """

    is_known: BoolArray
    hits: Hits


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewBuffer:
    """One view of one scene, as every picture of it is drawn from.

    normals  (S, 3) float32 shading normals in the camera's axes: right, up, towards the viewer;
             turned towards the viewer
    is_back  (S,) bool: the inner side of its triangle is seen
    hits     what was traced for it
    """

    camera: Camera
    scene: Scene
    samples: Samples
    normals: Floats32
    is_back: BoolArray
    hits: Hits


def draw_views(
    scene: Scene,
    cameras: Sequence[Camera],
    backend: Backend,
    size: int,
    draw: Callable[[ViewBuffer], T],
) -> list[T]:
    """What `draw` makes of each view, in the cameras' order; views run side by side.

    A buffer lives only while it is drawn from: 16 views of two versions would fill a gigabyte.
    """

    return _for_each(cameras, lambda camera: draw(render_view(scene, camera, backend, size)))


def draw_view_pairs(
    scenes: tuple[Scene, Scene],
    cameras: Sequence[Camera],
    backends: tuple[Backend, Backend],
    size: int,
    draws: tuple[Callable[[ViewBuffer], T], Callable[[ViewBuffer], T]],
) -> list[tuple[T, T]]:
    """What `draws` make of each view before and after; what did not change is traced once."""
    unchanged = find_unchanged(*scenes)

    def one(camera: Camera) -> tuple[T, T]:
        view = render_view(scenes[0], camera, backends[0], size)
        known = _still_known(view, unchanged, size)
        before = draws[0](view)
        view = render_view(scenes[1], camera, backends[1], size, known)
        return before, draws[1](view)

    return _for_each(cameras, one)


def _for_each(cameras: Sequence[Camera], task: Callable[[Camera], T]) -> list[T]:
    workers = thread_count()
    if workers == 1 or len(cameras) < 2:
        return [task(camera) for camera in cameras]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(task, cameras))


def _still_known(view: ViewBuffer, unchanged: Unchanged, size: int) -> Known:
    is_known = ~changed_pixels(unchanged, view.camera, size)
    number = np.append(unchanged.number, np.int32(-1))  # where none was seen, none is
    kept = is_known.reshape(-1)[view.hits.edges]
    hits = Hits(
        middle=number[view.hits.middle],
        edges=view.hits.edges[kept],
        quarter=number[view.hits.quarter[kept]],
    )
    return Known(is_known=is_known, hits=hits)


def render_view(
    scene: Scene, camera: Camera, backend: Backend, size: int, known: Known | None = None
) -> ViewBuffer:
    """One view of a scene into a picture of size x size pixels.

    known  is taken over, not traced
    """
    middle = _middle_hits(camera, backend, size, known)
    hit = np.flatnonzero(middle >= 0).astype(np.int32)
    middles = np.full_like(hit, _MIDDLE)
    once = _sampled(scene, camera, size, triangle=middle[hit], pixel=hit, place=middles)
    normals, is_back = _shading(scene, camera, once)
    edges = _edge_pixels(scene, camera, size, once, normals)
    quarter = _quarter_hits(camera, backend, size, edges, known)
    seen = quarter.reshape(-1)
    struck = np.flatnonzero(seen >= 0).astype(np.int32)
    four = _sampled(
        scene, camera, size, triangle=seen[struck], pixel=edges[struck // 4], place=struck % 4
    )
    four_normals, four_back = _shading(scene, camera, four)
    keep = np.ones(size * size, dtype=bool)
    keep[edges] = False
    kept = np.flatnonzero(keep.take(hit))
    return ViewBuffer(
        camera=camera,
        scene=scene,
        samples=_merged(once, kept, four),
        normals=_chained(normals.T, kept, four_normals.T).T,
        is_back=_chained(is_back, kept, four_back),
        hits=Hits(middle=middle, edges=edges, quarter=quarter),
    )


def _middle_hits(camera: Camera, backend: Backend, size: int, known: Known | None) -> IndexArray:
    if known is None:
        return backend.middle_triangles(camera, np.ones((size, size), dtype=bool))
    traced = backend.middle_triangles(camera, ~known.is_known)
    return np.where(known.is_known.reshape(-1), known.hits.middle, traced)


def _quarter_hits(
    camera: Camera, backend: Backend, size: int, edges: IndexArray, known: Known | None
) -> IndexArray:
    if known is None:
        return backend.quarter_triangles(camera, size, edges)
    _, here, there = np.intersect1d(
        edges, known.hits.edges, assume_unique=True, return_indices=True
    )
    quarter = np.empty((len(edges), 4), dtype=np.int32)
    quarter[here] = known.hits.quarter[there]
    traced = np.ones(len(edges), dtype=bool)
    traced[here] = False
    quarter[traced] = backend.quarter_triangles(camera, size, edges[traced])
    return quarter


@dataclass(frozen=True, slots=True, kw_only=True)
class _Planes:
    """The triangles of samples as planes over the picture, K of them.

    row     (S,) int32 the plane of each sample
    origin  (2, K) float32 the first corner, in pixels
    slopes  (2, 2, K) float32 how the second and third barycentric coordinates rise along x, y
    depths  (3, K) float32 depth at the first corner, and by how much the others lie deeper
    """

    row: IndexArray
    origin: Floats32
    slopes: Floats32
    depths: Floats32


def _planes(scene: Scene, camera: Camera, size: int, seen: IndexArray) -> _Planes:
    # A large triangle is seen in runs of samples: one plane a run is quicker than one a triangle.
    new = np.ones(len(seen), dtype=bool)
    np.not_equal(seen[1:], seen[:-1], out=new[1:])
    rings = rows_at(scene.triangles, seen[new])
    a, b, c = (rows_at(scene.points, rings[:, k]) for k in range(3))
    # What lies between the corners is exact enough in single precision once it is subtracted.
    origin = projected_steps(camera, _less(a, camera.centre), size)
    ab, ac = (projected_steps(camera, _less(corner, a), size) for corner in (b, c))
    area = ab[0] * ac[1] - ab[1] * ac[0]
    # Seen edge-on a triangle has no area; a sliver of one keeps every figure finite.
    area[np.abs(area) < _LEAST_AREA] = _LEAST_AREA
    slopes = np.empty((2, 2, len(area)), dtype=np.float32)
    for k, axis, side in ((0, 0, ac[1]), (0, 1, -ac[0]), (1, 0, -ab[1]), (1, 1, ab[0])):
        np.divide(side, area, out=slopes[k, axis])
    middle = np.array(picture_middle(size), dtype=np.float32)
    return _Planes(
        row=np.cumsum(new, dtype=np.int32) - np.int32(1),
        origin=origin[:2] + middle[:, None],
        slopes=slopes,
        depths=np.stack([origin[2], ab[2], ac[2]]),
    )


def _less(places: FloatArray, other: FloatArray) -> Floats32:
    """(K, 3) the difference, taken in double precision."""
    less = np.empty((3, len(places)), dtype=np.float32)
    for axis in range(3):  # each in a run of its own: far quicker than rows of three
        np.subtract(places[:, axis], other[..., axis], out=less[axis])
    return less.T


def _sampled(
    scene: Scene,
    camera: Camera,
    size: int,
    *,
    triangle: IndexArray,
    pixel: IndexArray,
    place: IndexArray,
) -> Samples:
    """Samples in pixels: in quarter 0 to 3, or at place 4, the middle."""
    planes = _planes(scene, camera, size, triangle)
    row = planes.row.astype(np.intp)
    y = pixel // size
    x = pixel - y * size
    x = x + (_ACROSS.take(place) - planes.origin[0].take(row))
    y = y + (_DOWN.take(place) - planes.origin[1].take(row))
    # One run of memory a component: sums over components then read and write in order.
    bary = np.empty((3, len(row)), dtype=np.float32)
    for k in (0, 1):
        np.multiply(planes.slopes[k, 0].take(row), x, out=bary[k + 1])
        bary[k + 1] += planes.slopes[k, 1].take(row) * y
    # Rounding, and a neighbour's edge, may put a sample a little outside its triangle.
    np.clip(bary[1], 0.0, 1.0, out=bary[1])
    np.clip(bary[2], 0.0, 1.0 - bary[1], out=bary[2])
    bary[0] = 1.0 - bary[1] - bary[2]
    first, second, third = (depth.take(row) for depth in planes.depths)
    return Samples(
        height=size,
        width=size,
        pixel=pixel,
        weight=np.where(place == _MIDDLE, np.float32(1), np.float32(0.25)),
        triangle=triangle,
        bary=bary.T,
        depth=first + bary[1] * second + bary[2] * third,
        plane=planes.row,
        slopes=planes.slopes,
    )


def _merged(once: Samples, kept: npt.NDArray[np.intp], four: Samples) -> Samples:
    planes = np.int32(once.slopes.shape[-1])
    return Samples(
        height=once.height,
        width=once.width,
        pixel=_chained(once.pixel, kept, four.pixel),
        weight=_chained(once.weight, kept, four.weight),
        triangle=_chained(once.triangle, kept, four.triangle),
        bary=_chained(once.bary.T, kept, four.bary.T).T,
        depth=_chained(once.depth, kept, four.depth),
        plane=_chained(once.plane, kept, four.plane + planes),
        slopes=np.concatenate([once.slopes, four.slopes], axis=-1),
    )


def _chained(
    first: npt.NDArray[S], kept: npt.NDArray[np.intp], second: npt.NDArray[S]
) -> npt.NDArray[S]:
    """Some of the first, then all of the second, along the last axis."""
    return np.concatenate([first.take(kept, axis=-1), second], axis=-1)


def interpolated(samples: Samples, values: Floats32, index: IndexArray) -> Floats32:
    """(S, K) float32 of values (N, K) at the corners (T, 3) of the scene's triangles."""
    result = np.zeros((values.shape[1], len(samples.triangle)), dtype=np.float32)
    rings = rows_at(index, samples.triangle)
    for k in range(3):
        corner = rows_at(values, rings[:, k])
        for at in range(values.shape[1]):
            result[at] += samples.bary[:, k] * corner[:, at]
    return result.T


def _shading(scene: Scene, camera: Camera, samples: Samples) -> tuple[Floats32, BoolArray]:
    """Unit normals in the camera's axes, turned towards it, and which samples see an inner side."""
    x, y, z = turned(interpolated(samples, scene.normals, scene.normal), camera.axes)
    # Screen y runs downwards: a triangle wound outwards turns clockwise where seen from outside.
    is_back = samples.is_clockwise
    side = np.where(is_back, np.float32(-1), np.float32(1))
    # Where a smoothed normal points away from us, it is bent to just edge-on.
    z = np.maximum(z * side, np.float32(0.02))
    scale = 1 / np.sqrt(x * x + y * y + z * z)
    normals = np.stack([x * side * scale, y * side * scale, z * scale])
    back = np.flatnonzero(is_back)
    is_back[back] = ~scene.two_sided.take(samples.triangle[back])
    return normals.T, is_back


def _edge_pixels(
    scene: Scene, camera: Camera, size: int, once: Samples, normals: Floats32
) -> IndexArray:
    """Pixels beside a silhouette, a step in depth, another part or UV shell, or a crease."""
    if not len(once.pixel):
        return np.empty(0, dtype=np.int32)
    # Only the box that holds something, and one pixel more all round.
    row, column = np.divmod(once.pixel, np.int32(size))
    top, left = (max(int(line.min()) - 1, 0) for line in (row, column))
    bottom, right = (min(int(line.max()) + 2, size) for line in (row, column))
    shape = (bottom - top, right - left)
    place = ((row - top) * np.int32(shape[1]) + (column - left)).astype(np.intp)
    both = _spread(np.ones(len(place), dtype=bool), place, shape)
    triangle = _spread(once.triangle, place, shape)
    region = _spread(_regions(scene, once.triangle), place, shape)
    depth = _spread(once.depth, place, shape)
    x, y, z = (_spread(normals[:, k], place, shape) for k in range(3))
    pixel = np.float32(camera.span / size)
    steep = np.maximum(z, np.float32(0.02))
    edge = np.zeros(shape, dtype=bool)
    for axis, normal in ((0, y), (1, x)):
        here = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        there = (slice(1, None), slice(None)) if axis == 0 else (slice(None), slice(1, None))
        split = x[here] * x[there] + y[here] * y[there] + z[here] * z[there] < _CREASE_COSINE
        slope = np.abs(normal) / steep * pixel
        step = np.abs(depth[here] - depth[there])
        split |= step > 1.5 * np.maximum(slope[here], slope[there]) + pixel
        split |= region[here] != region[there]
        split &= triangle[here] != triangle[there]
        split &= both[here] & both[there]
        split |= both[here] != both[there]
        edge[here] |= split
        edge[there] |= split
    row, column = np.divmod(np.flatnonzero(edge).astype(np.int32), np.int32(shape[1]))
    return np.asarray((row + np.int32(top)) * np.int32(size) + (column + np.int32(left)))


def _spread(
    values: npt.NDArray[S], place: npt.NDArray[np.intp], shape: tuple[int, int]
) -> npt.NDArray[S]:
    """Values in their places of a picture, 0 elsewhere."""
    spread = np.zeros(shape, dtype=values.dtype)
    spread.reshape(-1)[place] = values
    return spread


def _regions(scene: Scene, triangle: IndexArray) -> IndexArray:
    """(N,) a number for each pair of part and UV shell: they end where it changes."""
    region = scene.chart.take(triangle)
    unmapped = np.flatnonzero(region < 0)  # a shell lies within one part
    region[unmapped] = -1 - scene.part.take(triangle[unmapped])
    return region
