"""Close-ups of places: where on the asset, and what it looks like there, edges drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reviewbot.render.backends import Backend, open_backend
from reviewbot.render.camera import Camera, Frame, close_up, look, projected
from reviewbot.render.canvas import LABEL, beside, framed, label, sheet, text, under
from reviewbot.render.clay import clay_light
from reviewbot.render.colours import BACKDROP, VERMILLION, Image, light_of, srgb_from_linear
from reviewbot.render.compose import blended
from reviewbot.render.picture import Picture, shaded_picture
from reviewbot.render.samples import Scene
from reviewbot.render.scene import find_twins
from reviewbot.render.silhouettes import ring
from reviewbot.render.visibility import render_view
from reviewbot.render.wires import with_wires

_PROBE = 3  # pixels a side, all in the ring, that look for a free line of sight
_PROBE_SPAN = 0.05  # of a close-up, that they cover
_NEAR = 0.16  # side of a close-up, as a share of the whole frame's
_ELEVATIONS = (15.0, 45.0, -25.0, 80.0, -70.0)
_AZIMUTHS = tuple(45.0 * k for k in range(8))


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place worth a look.

    at    (x, y, z) in the space of the scene
    code, part, message  of the finding or change it belongs to
    """

    at: tuple[float, float, float]
    code: str
    part: str
    message: str


def spot_pictures(
    scene: Scene, frame: Frame, backend: Backend, spots: Sequence[Spot], *, size: int = 512
) -> list[Picture]:
    """A picture of each spot: the whole asset with the place ringed, and the place from near."""
    return [
        _spot_picture(scene, frame, backend, spot, number=number, size=size)
        for number, spot in enumerate(spots, start=1)
    ]


def _spot_picture(
    scene: Scene, frame: Frame, backend: Backend, spot: Spot, *, number: int, size: int
) -> Picture:
    camera, sight = best_camera(scene, frame, backend, spot.at), ""
    bare, opened = scene, backend
    if camera is None and spot.part in scene.part_names and len(scene.part_names) > 1:
        bare = _part_alone(scene, spot.part)
        opened = open_backend(backend.name, bare)
        camera, sight = best_camera(bare, frame, opened, spot.at), " Other parts are left out."
    if camera is None:
        camera = look(frame, "", azimuth_degrees=0.0, elevation_degrees=_ELEVATIONS[0])
        sight = " It is hidden from all sides; what lies before it is shown."
    whole = _overview(scene, camera, backend, spot.at, size)
    near = _near(bare, camera, opened, spot.at, size)
    if opened is not backend:
        opened.close()
    about = spot.part or "the asset"
    panels = [
        under([label(words, size, size=LABEL, weight="Medium"), framed(image)], gap=4)
        for words, image in ((f"where on {about}", whole), ("from near", near))
    ]
    told = text(f"{spot.message}{sight}", size=LABEL, width=2 * size)
    return shaded_picture(
        sheet("", "", [told, beside(panels)]),
        kind="spot",
        name=f"spot-{number:02d}-{spot.code}",
        caption=f"{spot.message}{sight}",
        alt=f"Close-up for {spot.code} on {about}: {spot.message}",
        part=spot.part,
        code=spot.code,
    )


def _part_alone(scene: Scene, name: str) -> Scene:
    """The same scene with only one part's triangles to be seen; twins in it come back."""
    keep = scene.part == scene.part_names.index(name)
    hidden, _ = find_twins(scene.points, scene.triangles[keep])
    left_out = ~keep
    left_out[keep] = hidden
    return replace(scene, hidden_twin=left_out)


def best_camera(scene: Scene, frame: Frame, backend: Backend, at: Sequence[float]) -> Camera | None:
    """The camera that sees a place most squarely with nothing before it; None where none does."""
    best, best_score = None, 0.0
    for elevation in _ELEVATIONS:
        for azimuth in _AZIMUTHS:
            camera = look(frame, "", azimuth_degrees=azimuth, elevation_degrees=elevation)
            span = frame.span * _NEAR * _PROBE_SPAN
            score = _sight(scene, close_up(camera, at, span, ""), backend)
            if score > best_score:
                best, best_score = camera, score
    return best


def _sight(scene: Scene, camera: Camera, backend: Backend) -> float:
    """How squarely the middle of a view is seen, 0 where something stands before it."""
    around = backend.middle_triangles(camera, _PROBE)
    corners = scene.points[scene.triangles[around[around >= 0]]]
    if not len(corners):
        return 0.0
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    facing = normal @ camera.axes[2] / np.where(length > 0, length, 1.0)
    towards = np.einsum("ij,ij->i", camera.centre - corners[:, 0], normal)
    off = np.abs(towards) / np.where(length > 0, length, 1.0)
    on_plane = off < 0.5 * camera.span
    # Some of the pixels may lie on a neighbour across an edge.
    free = int(on_plane.sum()) > len(around) // 3
    return float(np.abs(facing[on_plane]).sum() / len(around)) if free else 0.0


def _overview(
    scene: Scene, camera: Camera, backend: Backend, at: Sequence[float], size: int
) -> Image:
    view = render_view(scene, camera, backend, size)
    light = blended(view.samples, clay_light(view), light_of(BACKDROP))
    place = projected(camera, np.array([at]), size)[0]
    return srgb_from_linear(ring(light, (float(place[0]), float(place[1])), size / 24, VERMILLION))


def _near(scene: Scene, camera: Camera, backend: Backend, at: Sequence[float], size: int) -> Image:
    view = render_view(scene, close_up(camera, at, camera.span * _NEAR, ""), backend, size)
    light = with_wires(view, clay_light(view))
    picture = blended(view.samples, light, light_of(BACKDROP))
    return srgb_from_linear(ring(picture, (size / 2, size / 2), size / 10, VERMILLION))
