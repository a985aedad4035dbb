"""Trees of triangles for rays; the one module that knows `embreex`, Embree's binding.

The binding hands triangles over one number at a time and lets no other thread run meanwhile: a
second for a million quads, four times what the tree itself takes. Embree can use arrays where they
lie. So where the binding is laid out as expected, triangles are handed over through Embree's own
interface, and the binding only traces. The two triangles of a quad then go in as one, which halves
the tree, and rays through it take a seventh less time.
"""

from __future__ import annotations

import ctypes
import gc
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.rows import rows_at, rows_where
from reviewbot.mesh import BoolArray, IndexArray

Floats32 = npt.NDArray[np.float32]

# Numbers of Embree 4's interface (rtcore_common.h, rtcore_buffer.h, rtcore_geometry.h).
_TRIANGLES, _QUADS = 0, 1
_INDEX, _VERTEX = 0, 1
_UINTS, _THREE_FLOATS = {3: 0x5003, 4: 0x5004}, 0x9003
_BYTES = 4  # of one of either
_ODD = 0x5A5A  # written to see that it arrives where it should


@dataclass(frozen=True, slots=True)
class Tree:
    """Triangles ready for rays.

    run      traces rays, as `embreex.rtcore_scene.EmbreeScene.run` does, from any thread
    buffers  what the tree refers to, kept for as long as it is
    paired   the triangles that are in it by twos; None where each is alone

    Rays start at (N, 3) float32 and run along (N, 3) or, all alike, (1, 3).
    """

    run: Any
    buffers: tuple[npt.NDArray[Any], ...]
    paired: Pairs | None

    def first_triangles(self, start: Floats32, along: Floats32) -> IndexArray:
        """(N,) int32 the first triangle each ray meets, -1 for none."""
        if self.paired is None:
            return np.asarray(self.run(start, along), dtype=np.int32)
        found = self.run(start, along, output=1)
        row = np.asarray(found["primID"], dtype=np.int32)
        # Of a quad's two halves the first is where u + v <= 1, by Embree's reference.
        is_second = (found["u"] + found["v"] > 1) & self.paired.is_pair[row]
        return np.where(row >= 0, self.paired.first[row] + is_second, np.int32(-1))

    def is_stopped(self, start: Floats32, along: Floats32, reach: Floats32) -> BoolArray:
        """(N,) bool: something lies on the ray nearer than (N,) `reach` lengths of it."""
        return np.asarray(self.run(start, along, dists=reach, query="OCCLUDED") >= 0)


@dataclass(frozen=True, slots=True)
class Pairs:
    """Triangles by twos, where one follows the other and they share a side.

    quads    (Q, 4) int32 points: corners 0, 1, 3 are one triangle, and 2, 3, 1 the next. Of a
             triangle that stays alone the last two are the same, as Embree's reference says
    first    (Q,) int32 the first triangle of each
    is_pair  (Q,) bool
    """

    quads: IndexArray
    first: IndexArray
    is_pair: BoolArray


def pair_up(triangles: IndexArray) -> Pairs:
    """Pairs among (T, 3) triangles as `triangulate` gives them; all alone where none fit."""
    if len(triangles) % 2 == 0 and (paired := _all_quads(triangles)):
        return paired
    a, b, c = triangles.T
    fans = (a[1:] == a[:-1]) & (b[1:] == c[:-1])  # a b c, a c d
    strips = (a[1:] == b[:-1]) & (c[1:] == c[:-1])  # a b d, b c d
    fits = np.append(fans | strips, False)
    # In a run of fitting ones every second begins a pair.
    rows = np.arange(len(triangles), dtype=np.int32)
    breaks = np.where(fits, np.int32(-1), rows)
    run_start = np.concatenate([[0], np.maximum.accumulate(breaks)[:-1] + 1])
    begins = fits & ((rows - run_start) % 2 == 0)
    first = rows_where(~np.append(False, begins[:-1]))
    is_pair, is_fan = begins[first], np.append(fans, False)[first]
    quads = rows_at(triangles, first)[:, [0, 1, 2, 2]]
    turned = rows_where(is_pair & is_fan)
    quads[turned] = quads[turned][:, [1, 2, 0, 0]]
    pairs = rows_where(is_pair)
    quads[pairs, 2] = triangles[first[pairs] + 1, np.where(is_fan[pairs], 2, 1)]
    return Pairs(quads=quads, first=first, is_pair=is_pair)


def embree_available() -> bool:
    """Whether the package is on this machine, and its library loads."""
    return _binding() is not None


def plant_tree(points: Floats32, triangles: IndexArray) -> Tree:
    """A tree of at least one triangle; other threads may run meanwhile.

    points     (V, 3) float32, all finite on triangles
    triangles  (T, 3) int32 into `points`
    Raises AssertionError where `embree_available` says no.
    """
    binding = _binding()
    assert binding is not None, "embree_available() says so"
    scene = binding.make_scene(robust=True)  # fewer leaks at edges, hardly slower
    if binding.embree is not None and _is_laid_out_so(scene):
        paired = _mostly_paired(triangles)
        faces = triangles if paired is None else paired.quads
        buffers = _hand_over(binding.embree, scene, points, faces)
    else:
        binding.make_mesh(scene, points, triangles)
        paired, buffers = None, ()
    # The first query builds a tree that is not there yet, and must be alone.
    scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
    return Tree(run=scene.run, buffers=buffers, paired=paired)


def _all_quads(triangles: IndexArray) -> Pairs | None:
    """Where all are halves of quads, as most assets are drawn, one after the other."""
    (a, b, c), (d, e, f) = (np.ascontiguousarray(triangles[k::2].T) for k in range(2))
    is_fan = (d == a) & (e == c)
    if not (is_fan | ((d == b) & (f == c))).all():
        return None
    quads = np.empty((len(a), 4), dtype=np.int32)
    for k, (fan, strip) in enumerate([(b, a), (c, b), (f, e), (a, c)]):
        quads[:, k] = np.where(is_fan, fan, strip)
    first = np.arange(0, len(triangles), 2, dtype=np.int32)
    return Pairs(quads=quads, first=first, is_pair=np.ones(len(first), dtype=bool))


def _mostly_paired(triangles: IndexArray) -> Pairs | None:
    """None where most would stay alone: a quad that is half empty costs more than a triangle."""
    paired = pair_up(triangles)
    return paired if 2 * int(paired.is_pair.sum()) > len(paired.first) else None


@dataclass(frozen=True, slots=True)
class _Binding:
    """embree  Embree's own functions; None where they are not found through the binding"""

    make_scene: Any
    make_mesh: Any
    embree: ctypes.CDLL | None


@cache
def _binding() -> _Binding | None:
    """None where the package or its library is missing."""
    try:
        from embreex import rtcore_scene  # noqa: PLC0415
        from embreex.mesh_construction import TriangleMesh  # noqa: PLC0415
    except (ImportError, OSError):
        return None
    return _Binding(
        make_scene=rtcore_scene.EmbreeScene,
        make_mesh=TriangleMesh,
        embree=_functions(rtcore_scene.__file__),
    )


def _functions(path: str) -> ctypes.CDLL | None:
    """Embree's functions, through the library at `path` that is linked with them."""
    pointer, number, size = ctypes.c_void_p, ctypes.c_uint, ctypes.c_size_t
    takes: dict[str, list[Any]] = {
        "rtcGetSceneDevice": [pointer],
        "rtcNewGeometry": [pointer, number],
        "rtcSetSharedGeometryBuffer": [
            *(pointer, number, number, number, pointer, size, size, size),
        ],
        "rtcCommitGeometry": [pointer],
        "rtcAttachGeometry": [pointer, pointer],
        "rtcReleaseGeometry": [pointer],
        "rtcReleaseDevice": [pointer],
        "rtcCommitScene": [pointer],
    }
    gives = {"rtcGetSceneDevice": pointer, "rtcNewGeometry": pointer, "rtcAttachGeometry": number}
    try:
        library = ctypes.CDLL(path)
        for name, types in takes.items():
            function = getattr(library, name)
            function.argtypes, function.restype = types, gives.get(name)
    except (OSError, AttributeError):  # not every system looks into what a library is linked with
        return None
    return library


class _SceneObject(ctypes.Structure):
    """How the binding lays out its scenes, as its own declarations (`rtcore_scene.pxd`) say."""

    _fields_ = (
        ("head", ctypes.c_byte * object.__basicsize__),
        ("scene", ctypes.c_void_p),
        ("is_committed", ctypes.c_int),
        ("device", ctypes.c_void_p),
    )


def _is_laid_out_so(scene: Any) -> bool:
    """Whether a fresh scene of the binding is what `_SceneObject` says, by what Python knows of it:
    its size, the one object it refers to, and its one attribute.
    """
    if type(scene).__basicsize__ != ctypes.sizeof(_SceneObject):
        return False
    held = _SceneObject.from_address(id(scene))
    scene.is_committed = _ODD
    arrived = held.is_committed == _ODD
    scene.is_committed = 0
    return arrived and bool(held.scene) and held.device in map(id, gc.get_referents(scene))


def _hand_over(
    embree: ctypes.CDLL, scene: Any, points: Floats32, faces: IndexArray
) -> tuple[npt.NDArray[Any], ...]:
    """Put triangles (T, 3) or quads (Q, 4) into a scene and build its tree; returns what must be
    kept meanwhile."""
    inside = _SceneObject.from_address(id(scene)).scene
    device = embree.rtcGetSceneDevice(inside)
    size = faces.shape[1]
    geometry = embree.rtcNewGeometry(device, _QUADS if size == 4 else _TRIANGLES)
    corners, indices = _padded(points, np.float32), _padded(faces, np.uint32)
    for kind, form, buffer, (count, width) in (
        (_VERTEX, _THREE_FLOATS, corners, points.shape),
        (_INDEX, _UINTS[size], indices, faces.shape),
    ):
        embree.rtcSetSharedGeometryBuffer(
            geometry, kind, 0, form, buffer.ctypes.data, 0, width * _BYTES, count
        )
    embree.rtcCommitGeometry(geometry)
    embree.rtcAttachGeometry(inside, geometry)
    embree.rtcReleaseGeometry(geometry)
    embree.rtcReleaseDevice(device)
    embree.rtcCommitScene(inside)
    scene.is_committed = 1
    return corners, indices


def _padded(rows: npt.NDArray[Any], kind: type[np.generic]) -> npt.NDArray[Any]:
    """Rows in one line, and one number more: Embree reads four at a time."""
    line = np.zeros(rows.size + 1, dtype=kind)
    line[:-1].reshape(rows.shape)[:] = rows
    return line
