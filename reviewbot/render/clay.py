"""Clay: form seen by soft studio light, parts told apart by a breath of colour."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from reviewbot.mesh import FloatArray
from reviewbot.render.albedo import part_albedo
from reviewbot.render.samples import Floats32, Samples
from reviewbot.render.visibility import ViewBuffer

_WHITE_CLAY = np.float32(2.5)  # what its light is to be multiplied by to be white
_FORM = np.float32(0.62)  # how much of the light on the form is kept under colours
_TABLE = 512  # steps of a normal's right and up components in the table of light
_BACK = np.float32(0.45)  # inner sides are this dark, and hatched
# Direction to each light in the camera's axes (right, up, towards the viewer), its light, and how
# far it wraps round the form: a warm key over the left shoulder, a cool fill, a rim from behind.
_LIGHTS = (
    ((-0.55, 0.65, 0.62), (1.18, 1.12, 1.02), 0.25),
    ((0.85, 0.10, 0.45), (0.26, 0.31, 0.38), 0.45),
    ((0.25, 0.55, -0.75), (0.65, 0.68, 0.72), 0.10),
)
# Radius of the blur and depth of full shade, both as shares of the picture; strength.
_HOLLOWS = ((0.035, 0.08, 0.30), (0.010, 0.02, 0.22))
_SKY, _GROUND = np.array([0.30, 0.32, 0.35]), np.array([0.13, 0.12, 0.115])
_GLOSS, _GLOSS_POWER = 0.27, 22.0


def clay_light(view: ViewBuffer) -> Floats32:
    """(S, 3) float32 light of each sample.

    The light stands with the camera: the model turns in it, as on a turntable. Inner sides of
    faces are dark and hatched, so that a face turned over catches the eye.
    """
    half = np.float32((_TABLE - 1) / 2)
    column = (view.normals[:, 0] * half + (half + np.float32(0.5))).astype(np.int32)
    row = (view.normals[:, 1] * half + (half + np.float32(0.5))).astype(np.int32)
    row *= _TABLE
    row += column
    place = row.astype(np.intp)
    part = view.scene.part.take(view.samples.triangle).astype(np.intp)
    albedo = part_albedo(view.scene.part_colour)
    shade = hollow_shade(view)
    if view.is_back.any():
        striped = hatch(view.samples.pixel, view.samples.width)
        back = np.where(striped, np.float32(0.12), _BACK)
        shade = np.where(view.is_back, shade * back, shade)
    light = np.empty((3, len(part)), dtype=np.float32)
    for k in range(3):
        light[k] = _light_table()[k].take(place)
        light[k] *= albedo[:, k].take(part)
        light[k] *= shade
    return light.T


def form_shade(clay: Floats32) -> Floats32:
    """(S,) float32 a softened grey shading, about 1 where the key light falls.

    clay  (S, 3) as of `clay_light`; for colours with a meaning, which the form must not drown
    """
    light = np.minimum(clay.mean(axis=1) * _WHITE_CLAY, np.float32(1.08))
    return np.asarray((1 - _FORM) + _FORM * light, dtype=np.float32)


@cache
def _light_table() -> Floats32:
    """(3, _TABLE * _TABLE) light that falls on white clay by its normal."""
    steps = np.linspace(-1, 1, _TABLE)
    up, right = np.meshgrid(steps, steps, indexing="ij")
    towards = np.sqrt(np.maximum(0.0, 1.0 - right**2 - up**2))
    normals = np.stack([right, up, towards], axis=-1).reshape(-1, 3)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    lifted = 0.5 + 0.5 * normals[:, 1:2]
    light = lifted * _SKY + (1 - lifted) * _GROUND
    for direction, colour, wrap in _LIGHTS:
        light += _wrapped(normals, np.array(direction), wrap) * np.array(colour)
    gloss = _gloss(normals, np.array(_LIGHTS[0][0]))
    return np.ascontiguousarray((light + gloss).T, dtype=np.float32)


def _wrapped(normals: FloatArray, direction: FloatArray, wrap: float) -> FloatArray:
    facing = normals @ (direction / np.linalg.norm(direction))
    return np.asarray(np.maximum(0.0, (facing + wrap) / (1 + wrap))[:, None] ** 1.2)


def _gloss(normals: FloatArray, direction: FloatArray) -> FloatArray:
    """A broad highlight (Blinn's halfway vector) of the key light."""
    halfway = direction / np.linalg.norm(direction) + np.array([0.0, 0.0, 1.0])
    halfway /= np.linalg.norm(halfway)
    return np.asarray(_GLOSS * np.maximum(0.0, normals @ halfway)[:, None] ** _GLOSS_POWER)


def hollow_shade(view: ViewBuffer) -> Floats32:
    """(S,) float32, 1 in the open, less in hollows and behind what stands before.

    The difference between the depth and its blur (Luft, Colditz & Deussen 2006, "Image
    enhancement by unsharp masking the depth buffer"), at a wide and a narrow radius.
    """
    samples = view.samples
    shade = np.ones_like(samples.depth)
    if not len(samples.pixel):
        return shade
    depth, seen, place = _depth_picture(samples)
    for radius, reach, strength in _HOLLOWS:
        around = _doubled(_blurred(depth, seen, radius * samples.width)).reshape(-1).take(place)
        sunk = (samples.depth - around) / np.float32(reach * view.camera.span)
        shade -= np.float32(strength) * np.clip(sunk, 0, 1)
    return shade


def _doubled(picture: Floats32) -> Floats32:
    """(2H, 2W) from (H, W), linear in between."""
    for _ in (0, 1):
        near, far = np.float32(0.75) * picture, np.float32(0.25) * picture
        pair = np.empty((len(picture), 2, picture.shape[1]), dtype=np.float32)
        np.add(near[1:], far[:-1], out=pair[1:, 0])
        np.add(near[:-1], far[1:], out=pair[:-1, 1])
        pair[0, 0], pair[-1, 1] = picture[0], picture[-1]
        picture = pair.reshape(-1, picture.shape[1]).T
    return picture


def _depth_picture(samples: Samples) -> tuple[Floats32, Floats32, npt.NDArray[np.intp]]:
    """A depth in each block of four pixels, 0 where nothing is seen, and 1 where anything is.

    Only the blocks that hold something and one more all round; and where each sample lies in the
    same picture doubled.
    """
    row, column = np.divmod(samples.pixel, np.int32(samples.width))
    top, left = (max(int(line.min()) // 2 - 1, 0) for line in (row, column))
    height, width = int(row.max()) // 2 + 2 - top, int(column.max()) // 2 + 2 - left
    row -= 2 * top
    column -= 2 * left
    block = ((row // 2) * width + column // 2).astype(np.intp)
    depth = np.zeros(height * width, dtype=np.float32)
    seen = np.zeros(height * width, dtype=np.float32)
    depth[block], seen[block] = samples.depth, 1.0
    place = (row * (2 * width) + column).astype(np.intp)
    return depth.reshape(height, width), seen.reshape(height, width), place


def _blurred(depth: Floats32, seen: Floats32, radius: float) -> Floats32:
    """Mean depth within a radius, in pixels of the full picture, of what is seen there."""
    sigma = max(radius / 2, 0.5)

    def blurred(picture: Floats32) -> Floats32:
        found = ndimage.gaussian_filter(picture, sigma, truncate=2.5, mode="constant")
        return np.asarray(found, dtype=np.float32)

    total, weight = blurred(depth), blurred(seen)
    np.maximum(weight, np.float32(1e-6), out=weight)
    return np.divide(total, weight, out=total)


def hatch(
    pixel: npt.NDArray[np.int32], width: int, *, falling: bool = False
) -> npt.NDArray[np.bool_]:
    """(S,) bool: on the dark stripes of a hatching over the picture, at 45 degrees."""
    period = max(4, width // 64)
    row, column = np.divmod(pixel, np.int32(width))
    along = column - row if falling else column + row
    return np.asarray(along % period < period // 2)
