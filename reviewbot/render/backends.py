"""Back ends answer one question: which triangle is seen at a place of the picture."""

from __future__ import annotations

from typing import Literal, Protocol

from reviewbot.errors import RendererUnavailableError
from reviewbot.geometry.rays import rays_available
from reviewbot.mesh import BoolArray, IndexArray
from reviewbot.render.camera import Camera
from reviewbot.render.gl_backend import GlBackend, gl_unavailable_because
from reviewbot.render.ray_backend import RayBackend
from reviewbot.render.samples import Scene

BackendName = Literal["ray", "gl"]
RendererName = Literal["auto", "ray", "gl"]


class Backend(Protocol):
    """One scene, ready to be looked at. Both methods may be called from several threads.

    name  of the back end itself
    """

    @property
    def name(self) -> BackendName: ...

    def middle_triangles(self, camera: Camera, wanted: BoolArray) -> IndexArray:
        """(size * size,) int32 the triangle seen in the middle of each pixel, or -1.

        wanted  (size, size) bool: elsewhere -1 will do
        """

    def quarter_triangles(self, camera: Camera, size: int, pixels: IndexArray) -> IndexArray:
        """(N, 4) int32 the same in the middles of the quarters of some pixels.

        Upper left, upper right, lower left, lower right.
        """

    def close(self) -> None:
        """Free what the machine holds for this scene; the back end cannot be used after."""


def choose_renderer(wanted: RendererName) -> BackendName:
    """The back end to use for every version of a comparison.

    auto takes rays where both are there: measured on two cores with views side by side they are
    faster than software OpenGL at any size once its second of warming up is counted, and need no
    driver (tests/benchmarks/bench_render.py shows both).
    Raises RendererUnavailableError where the wanted one, or any, is missing.
    """
    if wanted == "ray" and not rays_available():
        raise RendererUnavailableError(
            "rays need the package 'embreex', which is not on this machine; "
            "install it or choose --renderer gl"
        )
    if wanted == "ray" or (wanted == "auto" and rays_available()):
        return "ray"
    reason = gl_unavailable_because()
    if reason is not None:
        raise RendererUnavailableError(f"OpenGL cannot be used on this machine: {reason}")
    return "gl"


def open_backend(renderer: BackendName, scene: Scene) -> Backend:
    """A back end on a scene. Raises RendererUnavailableError where it is missing."""
    return RayBackend(scene) if renderer == "ray" else GlBackend(scene)
