"""Rays against triangles, through Embree.

Embree works in single precision. Each scene is therefore brought to a unit box in double
precision first, each ray starts just before that box, and distances are worked out again in
double precision from the triangle that was hit: a far-off origin or a huge scale costs nothing.
"""

from __future__ import annotations

import copy
import hashlib
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Lock
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.cores import thread_count
from reviewbot.errors import RendererUnavailableError
from reviewbot.geometry.embree import Floats32, Tree, embree_available, plant_tree
from reviewbot.geometry.rows import lowest_and_highest, rows_finite
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

_ENDLESS = np.float32(1e30)  # a length beyond all that is in the box
CHUNK = 32768  # rays a task: Embree lets other threads run meanwhile, and caches stay warm
_AHEAD = (
    2.0  # units of the box: a ray starts at most this far before its nearest point to the middle
)


def rays_available() -> bool:
    """Whether rays can be traced on this machine."""
    return embree_available()


class RayScene:
    """Triangles that rays can be shot at, from any number of threads.

    Triangles with a coordinate that is nan or infinite are never hit. Coincident triangles are
    told apart by chance: leave doubles out beforehand. A ray aimed exactly at a vertex may slip
    through (about one in a hundred does).
    Raises RendererUnavailableError where `embreex` is missing.
    """

    def __init__(self, corners: FloatArray, *, workers: int | None = None) -> None:
        """corners  (T, 3, 3) float64, three points a triangle, in the caller's units."""
        flat = np.asarray(corners, dtype=np.float64).reshape(-1, 3)
        self._start(flat, np.arange(len(flat), dtype=np.int32).reshape(-1, 3), workers)

    @classmethod
    def of_points(
        cls, points: FloatArray, triangles: IndexArray, *, workers: int | None = None
    ) -> RayScene:
        """The same from shared points (V, 3) and triangles (T, 3): built in half the time."""
        scene = cls.__new__(cls)
        scene._start(np.asarray(points, dtype=np.float64), triangles, workers)
        return scene

    def with_workers(self, workers: int | None) -> RayScene:
        """The same triangles, traced by another number of threads."""
        other = copy.copy(self)
        other._workers = workers or thread_count()
        return other

    def _start(self, points: FloatArray, triangles: IndexArray, workers: int | None) -> None:
        if not rays_available():
            raise RendererUnavailableError(
                "rays need the package 'embreex', which is not on this machine; "
                "install it or choose --renderer gl"
            )
        self._workers = workers or thread_count()
        finite, self._kept, self._triangles, used = rows_finite(points), None, triangles, points
        if not finite.all():
            self._kept = np.flatnonzero(finite[triangles].all(axis=1)).astype(np.int32)
            self._triangles = triangles[self._kept]
            # Where no triangle was left out, points that none stands on count still.
            is_whole = len(self._kept) == len(triangles)
            used = points[finite] if is_whole else points[self._triangles.reshape(-1)]
            self._kept = None if is_whole else self._kept
        low, high = lowest_and_highest(used) if len(used) else np.zeros((2, 3))
        self._middle = 0.5 * low + 0.5 * high
        self._scale = float(np.linalg.norm(0.5 * high - 0.5 * low)) or 1.0
        self._unit = (points - self._middle) / self._scale
        self._tree: Tree | None = None
        if len(self._triangles):
            self._tree = plant_tree(self._unit.astype(np.float32), self._triangles)

    @property
    def _planted(self) -> Tree:
        assert self._tree is not None, "nothing to be met is asked for earlier"
        return self._tree

    def parallel_triangles(
        self, corner: FloatArray, steps: FloatArray, across: Floats32, down: Floats32
    ) -> IndexArray:
        """(N,) int32 the first triangle on each of many parallel lines, from end to end, or -1.

        corner  (3,) a point; steps (2, 3) two vectors at right angles
        across, down  (N,) float32: line k runs through corner + across[k] steps[0] + down[k]
                steps[1], along the vector product of the steps
        """
        if not len(self._triangles):
            return np.full(len(across), -1, dtype=np.int32)
        direction = np.cross(steps[0], steps[1])
        direction /= np.linalg.norm(direction)
        start = (corner - self._middle) / self._scale
        start -= (start @ direction + _AHEAD) * direction
        unit_steps = (steps / self._scale).astype(np.float32)
        first, toward = start.astype(np.float32), direction[None].astype(np.float32)

        def trace(columns: Floats32, rows: Floats32) -> IndexArray:
            places = np.empty((len(columns), 3), dtype=np.float32)
            for k in range(3):  # flat columns: a run of three at a time takes twice as long
                line = columns * unit_steps[0, k]
                line += rows * unit_steps[1, k]
                line += first[k]
                places[:, k] = line
            return self._planted.first_triangles(places, toward)

        return self._named(self._chunked(trace, across, down))

    def first_hits(
        self, origins: FloatArray, directions: FloatArray
    ) -> tuple[IndexArray, FloatArray]:
        """The first triangle each ray meets, from either side, and how far off.

        origins, directions  (N, 3) each; directions of any length
        returns  triangle (N,) int32, -1 for a miss; distance (N,) float64 in the caller's units,
                 inf for a miss
        """
        distance = np.full(len(origins), np.inf)
        if not len(self._triangles):
            return np.full(len(origins), -1, dtype=np.int32), distance
        start, along, ahead = self._rays(origins, directions)
        hit = self._chunked(self._trace, start, along)
        rows = np.flatnonzero(hit >= 0)
        distance[rows] = self._plane_distances(hit[rows], start[rows], along[rows]) + ahead[rows]
        return self._named(hit), distance * self._scale

    def is_blocked(
        self, origins: FloatArray, directions: FloatArray, distance: float | FloatArray = np.inf
    ) -> BoolArray:
        """(N,) bool: something lies on the ray nearer than `distance` (caller's units)."""
        if not len(self._triangles):
            return np.zeros(len(origins), dtype=bool)
        start, along, ahead = self._rays(origins, directions)
        reach = np.broadcast_to(np.asarray(distance) / self._scale, ahead.shape) - ahead
        reach = np.clip(reach, 0.0, _ENDLESS).astype(np.float32)
        rays = start.astype(np.float32), along.astype(np.float32), reach
        return np.asarray(self._chunked(self._planted.is_stopped, *rays), dtype=bool)

    def unit_places(self, points: FloatArray) -> Floats32:
        """(N, 3) float32: points on the scene, in the caller's units, for `is_blocked_along`."""
        return np.asarray((points - self._middle) / self._scale, dtype=np.float32)

    def is_blocked_along(self, places: Floats32, direction: FloatArray) -> BoolArray:
        """(N,) bool: something lies on the rays from `unit_places` that all run along (3,)."""
        if not len(self._triangles):
            return np.zeros(len(places), dtype=bool)
        along = (direction / np.linalg.norm(direction))[None].astype(np.float32)

        def blocked(some: Floats32) -> BoolArray:
            return self._planted.is_stopped(some, along, np.full(len(some), _ENDLESS))

        return np.asarray(self._chunked(blocked, places), dtype=bool)

    def _rays(
        self, origins: FloatArray, directions: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rays in the unit box: start, unit direction, and by how much the start was advanced."""
        if origins.shape != directions.shape or origins.ndim != 2 or origins.shape[1] != 3:
            raise ValueError("origins and directions must both be (N, 3)")
        along = directions / np.linalg.norm(directions, axis=1, keepdims=True)
        start = (origins - self._middle) / self._scale
        ahead = np.maximum(-np.einsum("ij,ij->i", start, along) - _AHEAD, 0.0)
        return start + ahead[:, None] * along, along, ahead

    def _chunked(
        self, task: Callable[..., npt.NDArray[Any]], *arrays: npt.NDArray[Any]
    ) -> npt.NDArray[Any]:
        """Run a task over chunks of rows on several threads and join what it gives."""
        starts = range(0, len(arrays[0]), CHUNK)
        chunks = [[array[at : at + CHUNK] for array in arrays] for at in starts]
        if len(chunks) <= 1 or self._workers == 1:
            pieces = [task(*chunk) for chunk in chunks]
        else:
            with ThreadPoolExecutor(self._workers) as pool:
                pieces = list(pool.map(lambda chunk: task(*chunk), chunks))
        return np.concatenate(pieces) if pieces else np.empty(0, dtype=np.int32)

    def _trace(self, start: FloatArray, along: FloatArray) -> IndexArray:
        return self._planted.first_triangles(start.astype(np.float32), along.astype(np.float32))

    def _plane_distances(
        self, triangle: IndexArray, start: FloatArray, along: FloatArray
    ) -> FloatArray:
        """Distance along each ray to the plane of its triangle; of its corner where edge-on."""
        a, b, c = (self._unit[self._triangles[triangle, k]] for k in range(3))
        normal = np.cross(b - a, c - a)
        facing = np.einsum("ij,ij->i", normal, along)
        above = np.einsum("ij,ij->i", normal, a - start)
        to_corner = np.einsum("ij,ij->i", along, a - start)
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = above / facing
        sane = np.abs(distance - to_corner) <= 2.0 * _AHEAD
        return np.asarray(np.maximum(np.where(sane, distance, to_corner), 0.0))

    def _named(self, hit: IndexArray) -> IndexArray:
        """Back to the caller's numbering of triangles."""
        if self._kept is None:
            return hit
        return np.where(hit >= 0, self._kept[hit], np.int32(-1))


_MOST_SHARED = 2  # scenes kept: the version before and the one after
_shared: OrderedDict[bytes, RayScene] = OrderedDict()
_sharing = Lock()


def shared_rays(
    points: FloatArray, triangles: IndexArray, *, workers: int | None = None
) -> RayScene:
    """`RayScene.of_points`, and the same one again for the same arrays: it is slow to build.

    The last two are kept, so that what a version was measured with serves its pictures too.
    """
    mark = hashlib.sha256(np.ascontiguousarray(points).data)
    mark.update(np.ascontiguousarray(triangles).data)
    key = mark.digest()
    with _sharing:
        known = _shared.get(key)
    if known is None:
        known = RayScene.of_points(points, triangles, workers=workers)
        with _sharing:
            _shared[key] = known
            while len(_shared) > _MOST_SHARED:
                _shared.popitem(last=False)
    return known.with_workers(workers)
