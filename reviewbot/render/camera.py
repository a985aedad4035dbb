"""Orthographic cameras: one frame for all versions, so that a difference is never a reframing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.rows import lowest_and_highest
from reviewbot.mesh import FloatArray
from reviewbot.render.samples import Scene

ELEVATION_DEGREES = 15.0  # looked at slightly from above, as a prop on a table is
MARGIN = 1.06
END_VIEWS = ("top", "bottom")
UpAxis = Literal["y", "z"]
F = TypeVar("F", np.float32, np.float64)
# Pixels by which the grid is shifted: rays aimed exactly at vertices and edges may slip through,
# and modelled shapes have many of those on their own planes of symmetry.
GRID_SHIFT = (0.137, 0.211)
_SIDES = {0: "front", 90: "right", 180: "back", 270: "left"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """An orthographic view into a square.

    name    shown under pictures and in the report; the same for both versions
    axes    (3, 3) float64, rows: to the right, upwards, towards the viewer; unit vectors
    centre  (3,) float64, the point in the middle of the picture
    span    side of the seen square, in units of the asset's space
    """

    name: str
    axes: FloatArray
    centre: FloatArray
    span: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What all views of a comparison look at.

    centre  (3,) the middle
    span    side of the square that holds every view of the turntable, top and bottom
    up      which axis points upwards
    """

    centre: FloatArray
    span: float
    up: UpAxis


def framing(*scenes: Scene, up: UpAxis = "y") -> Frame:
    """The smallest frame that holds all scenes in every turntable view, from above and below.

    A span of 1 where there is nothing, or only a point, to be seen.
    """
    box = seen_box(*scenes)
    if box is None:
        return Frame(centre=np.zeros(3), span=1.0, up=up)
    centre = 0.5 * box[0] + 0.5 * box[1]
    half = max(_half_span(scene.seen_points - centre, up) for scene in scenes)
    return Frame(centre=centre, span=2 * half * MARGIN if half > 0 else 1.0, up=up)


def _half_span(offsets: FloatArray, up: UpAxis) -> float:
    """Half the side of the square round the middle that holds points (N, 3) in every view."""
    sides = list(offsets.T)
    height = np.abs(sides.pop(1 if up == "y" else 2))
    reach = np.sqrt(sides[0] ** 2 + sides[1] ** 2)
    tilt = np.radians(ELEVATION_DEGREES)
    seen = height * np.cos(tilt) + reach * np.sin(tilt)
    return max(float(reach.max(initial=0.0)), float(seen.max(initial=0.0)))


def seen_box(*scenes: Scene) -> FloatArray | None:
    """(2, 3) the lowest and the highest corner of all that is seen; None where nothing is."""
    boxes = [lowest_and_highest(one.seen_points) for one in scenes if len(one.seen_points)]
    if not boxes:
        return None
    return np.stack([np.min(boxes, axis=0)[0], np.max(boxes, axis=0)[1]])


def turntable(
    frame: Frame, views: int, *, elevation_degrees: float = ELEVATION_DEGREES
) -> tuple[Camera, ...]:
    """Cameras all the way round, from the front to the right and on, slightly from above.

    The front is seen from +z where y points upwards, from -y where z does (common practice).
    """
    names = _turn_names(views)
    return tuple(
        look(frame, name, azimuth_degrees=360.0 * k / views, elevation_degrees=elevation_degrees)
        for k, name in enumerate(names)
    )


def top_view(frame: Frame) -> Camera:
    """Straight down, the front at the lower side of the picture."""
    return look(frame, END_VIEWS[0], azimuth_degrees=0.0, elevation_degrees=90.0)


def bottom_view(frame: Frame) -> Camera:
    """Straight up, the front at the upper side of the picture."""
    return look(frame, END_VIEWS[1], azimuth_degrees=0.0, elevation_degrees=-90.0)


def look(frame: Frame, name: str, *, azimuth_degrees: float, elevation_degrees: float) -> Camera:
    """A camera at an azimuth (0 front, 90 right) and an elevation above the horizon."""
    azimuth, elevation = np.radians(azimuth_degrees), np.radians(elevation_degrees)
    right = np.array([np.cos(azimuth), 0.0, -np.sin(azimuth)])
    towards = np.array(
        [
            np.sin(azimuth) * np.cos(elevation),
            np.sin(elevation),
            np.cos(azimuth) * np.cos(elevation),
        ]
    )
    axes = np.stack([right, np.cross(towards, right), towards])
    if frame.up == "z":
        axes = axes @ np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])
    return Camera(name=name, axes=axes, centre=frame.centre, span=frame.span)


def close_up(camera: Camera, at: Sequence[float], span: float, name: str) -> Camera:
    """The same direction, nearer, with `at` in the middle."""
    return Camera(name=name, axes=camera.axes, centre=np.asarray(at, dtype=np.float64), span=span)


def _turn_names(views: int) -> list[str]:
    digits = max(2, len(str(views)))
    sides = {360.0 * k / views: k for k in range(views)}
    names = []
    for degrees, k in sides.items():
        side = _SIDES.get(int(degrees)) if degrees == int(degrees) else None
        names.append(f"view {k + 1:0{digits}d}" + (f" ({side})" if side else ""))
    return names


def projected(camera: Camera, points: FloatArray, size: int) -> FloatArray:
    """(N, 3) picture x (rightwards) and y (downwards) in pixels, and depth in units, away from us.

    Pixel (row r, column c) has its middle at x = c + 0.5, y = r + 0.5, less the grid's shift.
    """
    from_centre = np.empty((3, len(points)))
    for axis in range(3):  # each in a run of its own: far quicker than rows of three
        np.subtract(points[:, axis], camera.centre[axis], out=from_centre[axis])
    place = projected_steps(camera, from_centre.T, size)
    for axis, middle in enumerate(picture_middle(size)):
        place[axis] += middle
    return place.T


def projected_steps(camera: Camera, steps: npt.NDArray[F], size: int) -> npt.NDArray[F]:
    """(3, N) how far steps (N, 3) in space reach in the picture, as of `projected`."""
    scale = size / camera.span
    return turned(steps, camera.axes * np.array([[scale], [-scale], [-1.0]]))


def picture_middle(size: int) -> tuple[float, float]:
    """Where the camera's centre is seen, in pixels."""
    return size / 2 - GRID_SHIFT[0], size / 2 - GRID_SHIFT[1]


def turned(vectors: npt.NDArray[F], axes: FloatArray) -> npt.NDArray[F]:
    """(3, N) vectors (N, 3) along each of the axes.

    Written out: handing so slim a product to a linear algebra library wakes all its threads.
    """
    x, y, z = np.ascontiguousarray(vectors.T)
    along = np.empty((3, len(x)), dtype=vectors.dtype)
    for k, row in enumerate(axes.astype(vectors.dtype)):
        np.multiply(row[0], x, out=along[k])
        along[k] += row[1] * y
        along[k] += row[2] * z
    return along


def picture_plane(camera: Camera, size: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The picture's upper left corner in space, and a pixel's step to the right and downwards.

    `projected` turned round: corner + x right + y down is seen at (x, y).
    """
    right = camera.axes[0] * (camera.span / size)
    down = -camera.axes[1] * (camera.span / size)
    across, below = GRID_SHIFT[0] - size / 2, GRID_SHIFT[1] - size / 2
    return camera.centre + across * right + below * down, right, down
