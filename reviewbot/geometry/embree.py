"""Trees of triangles for rays; the one module that knows `embreex`, Embree's binding.

The binding hands triangles over one number at a time and lets no other thread run meanwhile: a
second for a million quads, four times what the tree itself takes. Embree can use arrays where they
lie. So where the binding is laid out as expected, triangles are handed over through Embree's own
interface, and the binding only traces.
"""

from __future__ import annotations

import ctypes
import gc
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import IndexArray

Floats32 = npt.NDArray[np.float32]

# Numbers of Embree 4's interface (rtcore_common.h, rtcore_buffer.h, rtcore_geometry.h).
_TRIANGLES = 0
_INDEX, _VERTEX = 0, 1
_THREE_UINTS, _THREE_FLOATS = 0x5003, 0x9003
_BYTES = 12  # of three of either
_ODD = 0x5A5A  # written to see that it arrives where it should


@dataclass(frozen=True, slots=True)
class Tree:
    """Triangles ready for rays.

    run      traces rays, as `embreex.rtcore_scene.EmbreeScene.run` does, from any thread
    buffers  what the tree refers to, kept for as long as it is
    """

    run: Any
    buffers: tuple[npt.NDArray[Any], ...]


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
        buffers = _hand_over(binding.embree, scene, points, triangles)
    else:
        binding.make_mesh(scene, points, triangles)
        buffers = ()
    # The first query builds a tree that is not there yet, and must be alone.
    scene.run(np.zeros((1, 3), np.float32), np.ones((1, 3), np.float32))
    return Tree(run=scene.run, buffers=buffers)


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
    embree: ctypes.CDLL, scene: Any, points: Floats32, triangles: IndexArray
) -> tuple[npt.NDArray[Any], ...]:
    """Put triangles into a scene and build its tree; returns what must be kept meanwhile."""
    inside = _SceneObject.from_address(id(scene)).scene
    device = embree.rtcGetSceneDevice(inside)
    geometry = embree.rtcNewGeometry(device, _TRIANGLES)
    corners, indices = _padded(points, np.float32), _padded(triangles, np.uint32)
    for kind, form, buffer, count in (
        (_VERTEX, _THREE_FLOATS, corners, len(points)),
        (_INDEX, _THREE_UINTS, indices, len(triangles)),
    ):
        embree.rtcSetSharedGeometryBuffer(
            geometry, kind, 0, form, buffer.ctypes.data, 0, _BYTES, count
        )
    embree.rtcCommitGeometry(geometry)
    embree.rtcAttachGeometry(inside, geometry)
    embree.rtcReleaseGeometry(geometry)
    embree.rtcReleaseDevice(device)
    embree.rtcCommitScene(inside)
    scene.is_committed = 1
    return corners, indices


def _padded(rows: npt.NDArray[Any], kind: type[np.generic]) -> npt.NDArray[Any]:
    """Rows of three in one line, and one number more: Embree reads four at a time."""
    line = np.zeros(rows.size + 1, dtype=kind)
    line[:-1].reshape(rows.shape)[:] = rows
    return line
