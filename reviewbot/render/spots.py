"""Close-ups of places: where on the asset, and what it looks like there, edges drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from reviewbot.mesh import FloatArray
from reviewbot.render.backends import Backend, open_backend
from reviewbot.render.camera import END_VIEWS, Camera, Frame, close_up, look, projected
from reviewbot.render.canvas import LABEL, beside, framed, label, sheet, text, under
from reviewbot.render.clay import clay_light
from reviewbot.render.colours import (
    BACKDROP,
    VERMILLION,
    Image,
    light_of,
    light_of_image,
    srgb_from_linear,
)
from reviewbot.render.compose import ViewImage, blended, mask
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.lines import LineStyle, draw_lines
from reviewbot.render.panels import crop_box
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Scene
from reviewbot.render.scene import find_twins
from reviewbot.render.silhouettes import ring
from reviewbot.render.visibility import render_view
from reviewbot.render.wires import with_wires

LINES = LineStyle(colour=VERMILLION, width=3.6)
_HEADING = 260  # pixels wide, at least
_PROBE = 3  # pixels a side, all in the ring, that look for a free line of sight
_PROBE_SPAN = 0.05  # of a close-up, that they cover
_NEAR = 0.14  # side of a close-up, as a share of the whole frame's
_NEAR_SIZE = 0.8  # of the overview's pixels: both side by side are about as wide as a comment shows
_ENDS = 0.6  # how much less a view from straight above or below is liked
_FURTHER = ((45.0, 0.9), (-25.0, 0.75))  # elevations, and how much each is liked
_AZIMUTHS = tuple(45.0 * k for k in range(8))


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place worth a look.

    at    (x, y, z) in the space of the scene
    code, part, message  of the finding or change it belongs to
    lines  (K, 2, 3) edges that it is about, in the same space
    """

    at: tuple[float, float, float]
    code: str
    part: str
    message: str
    lines: FloatArray = field(default_factory=lambda: np.empty((0, 2, 3)), compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """A view of the whole asset that was drawn already."""

    camera: Camera
    view: ViewImage


def spot_jobs(
    scene: Scene,
    frame: Frame,
    backend: Backend,
    spots: Sequence[Spot],
    *,
    overviews: Sequence[Overview],
    size: int,
) -> list[Callable[[], Sequence[Picture]]]:
    """For each spot what makes its picture: the whole asset, the place ringed, and it from near.

    overviews  of the same scene and size; the one that sees a place best shows where it is
    """

    def drawn(number: int, spot: Spot) -> Sequence[Picture]:
        sight = _sight_of(scene, frame, backend, spot, overviews)
        return (_spot_picture(scene, backend, spot, sight, number=number, size=size),)

    return [partial(drawn, number, spot) for number, spot in enumerate(spots, start=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sight:
    """From where a spot is looked at, and what is to be said of it.

    alone  the scene with the spot's part alone, where other parts are left out
    """

    camera: Camera
    overview: ViewImage | None
    alone: Scene | None
    remark: str


def _sight_of(
    scene: Scene, frame: Frame, backend: Backend, spot: Spot, overviews: Sequence[Overview]
) -> _Sight:
    known = [(one.camera, _liking(one.camera)) for one in overviews]
    further = [
        (look(frame, "", azimuth_degrees=azimuth, elevation_degrees=elevation), liking)
        for elevation, liking in _FURTHER
        for azimuth in _AZIMUTHS
    ]
    images = {id(one.camera): one.view for one in overviews}
    for cameras in (known, further):
        camera = best_camera(scene, cameras, backend, spot.at)
        if camera is not None:
            return _Sight(camera=camera, overview=images.get(id(camera)), alone=None, remark="")
    if spot.part in scene.part_names and len(scene.part_names) > 1:
        bare = _part_alone(scene, spot.part)
        with closing(open_backend(backend.name, bare)) as opened:
            camera = best_camera(bare, [*known, *further], opened, spot.at)
        if camera is not None:
            view = images.get(id(camera))
            remark = " From near, other parts are left out."
            return _Sight(camera=camera, overview=view, alone=bare, remark=remark)
    remark = " It is hidden from all sides; what lies before it is shown."
    first = overviews[0]
    return _Sight(camera=first.camera, overview=first.view, alone=None, remark=remark)


def _liking(camera: Camera) -> float:
    """Views from the side tell more than those from straight above or below."""
    return _ENDS if camera.name in END_VIEWS else 1.0


def _spot_picture(
    scene: Scene, backend: Backend, spot: Spot, sight: _Sight, *, number: int, size: int
) -> Picture:
    whole = _whole(scene, backend, spot, sight, size)
    if sight.alone is not None:
        with closing(open_backend(backend.name, sight.alone)) as opened:
            near = _near(sight.alone, sight.camera, opened, spot, size)
    else:
        near = _near(scene, sight.camera, backend, spot, size)
    about = spot.part or "the asset"
    panels = [
        under([_heading(words, image), framed(image)], gap=4)
        for words, image in ((f"where on {about}", whole), ("from near", near))
    ]
    both = beside(panels)
    told = text(f"{spot.message}{sight.remark}", size=LABEL, width=both.shape[1])
    return shaded_picture(
        sheet("", "", [told, both]),
        kind="spot",
        name=f"spot-{number:02d}-{spot.code}",
        caption=f"{spot.message}{sight.remark}",
        alt=f"Close-up for {spot.code} on {about}: {spot.message}",
        part=spot.part,
        code=spot.code,
    )


def _heading(words: str, image: Image) -> Image:
    """Over a picture, with room for its words where that is narrow."""
    return label(words, max(image.shape[1], _HEADING), size=LABEL, weight="Medium")


def _part_alone(scene: Scene, name: str) -> Scene:
    """The same scene with only one part's triangles to be seen; twins in it come back."""
    keep = scene.part == scene.part_names.index(name)
    hidden, _ = find_twins(scene.points, scene.triangles[keep])
    left_out = ~keep
    left_out[keep] = hidden
    return replace(scene, hidden_twin=left_out)


def best_camera(
    scene: Scene,
    cameras: Sequence[tuple[Camera, float]],
    backend: Backend,
    at: Sequence[float],
) -> Camera | None:
    """The camera that sees a place most squarely with nothing before it; None where none does.

    cameras  each with how much it is liked: a factor on how squarely it sees
    """
    best, best_score = None, 0.0
    for camera, liking in cameras:
        probe = close_up(camera, at, camera.span * _NEAR * _PROBE_SPAN, "")
        score = liking * _squareness(scene, probe, backend)
        if score > best_score:
            best, best_score = camera, score
    return best


def _squareness(scene: Scene, camera: Camera, backend: Backend) -> float:
    """How squarely the middle of a view is seen, 0 where something stands before it."""
    around = backend.middle_triangles(camera, np.ones((_PROBE, _PROBE), dtype=bool))
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


def _whole(scene: Scene, backend: Backend, spot: Spot, sight: _Sight, size: int) -> Image:
    """The whole asset, cropped, the place ringed and its lines drawn."""
    view = sight.overview
    if view is None or len(spot.lines):
        seen = render_view(scene, sight.camera, backend, size)
        light = blended(seen.samples, clay_light(seen), light_of(BACKDROP))
        image = srgb_from_linear(draw_lines(light, seen, spot.lines, LINES))
        view = ViewImage(name="", clay=image, mask=mask(seen.samples))
    x, y = projected(sight.camera, np.array([spot.at]), size)[0, :2].tolist()
    ringed = np.zeros_like(view.mask)
    reach = size // 20
    ringed[max(int(y) - reach, 0) : int(y) + reach, max(int(x) - reach, 0) : int(x) + reach] = True
    rows, columns = crop_box([view.mask, ringed])
    light, at = light_of_image(view.clay[rows, columns]), (x - columns.start, y - rows.start)
    return srgb_from_linear(ring(light, at, size / 24, VERMILLION))


def _near(scene: Scene, camera: Camera, backend: Backend, spot: Spot, size: int) -> Image:
    near = close_up(camera, spot.at, camera.span * _NEAR, "")
    size = round(_NEAR_SIZE * size)
    view = render_view(scene, near, backend, size)
    light = blended(view.samples, with_wires(view, clay_light(view)), light_of(BACKDROP))
    image = draw_lines(light, view, spot.lines, LINES)
    return srgb_from_linear(ring(image, (size / 2, size / 2), size / 10, VERMILLION))
