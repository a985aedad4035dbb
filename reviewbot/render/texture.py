"""Base colour pictures on the form, averaged over what each pixel covers.

As with the checker, a pixel's footprint in UV space is exact in a parallel view. The picture is
averaged, in linear light, over the box along U and V that has the footprint's spread: exactly, by
a table of sums (Crow 1984, "Summed-area tables for texture mapping"), so that no texel is missed
however small the picture gets. Pictures repeat beyond their tile.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray
from reviewbot.render.canvas import framed
from reviewbot.render.checker import filter_width, uv_footprints
from reviewbot.render.clay import hatch
from reviewbot.render.colours import Image, Rgb, light_of, linear_from_srgb, srgb_from_linear
from reviewbot.render.heat import PALE
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer

NAMES_NONE, NOT_THERE = -1, -2
_LACKING: Rgb = (176, 176, 176)
_SIDE = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class TextureSums:
    """A picture as sums of its light; sums[r, c] is that of the first r rows and c columns.

    sums  (H + 1, W + 1, 3) float64; rows run up, as V does
    """

    sums: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Textured:
    """Which picture lies on which triangle.

    of_triangle  (T,) int32 into pictures; NAMES_NONE where the material names no picture,
                 NOT_THERE where it names one that cannot be shown
    """

    pictures: tuple[TextureSums, ...]
    of_triangle: IndexArray


def texture_sums(pixels: Image) -> TextureSums:
    """From (H, W, 3) uint8 sRGB, the first row at the top."""
    light = linear_from_srgb(np.arange(256))[pixels[::-1]]
    sums = np.zeros((pixels.shape[0] + 1, pixels.shape[1] + 1, 3))
    np.cumsum(light, axis=0, out=sums[1:, 1:])
    np.cumsum(sums[1:, 1:], axis=1, out=sums[1:, 1:])
    return TextureSums(sums=sums)


def texture_light(view: ViewBuffer, shade: Floats32, textured: Textured) -> Floats32:
    """(S, 3) float32 light: pictures on the form.

    shade  (S,) as of `clay.form_shade`

    Pale where a material names no picture; grey and hatched crosswise where its picture cannot be
    shown, or a face that has one lacks UVs.
    """
    mapped, place, footprint = uv_footprints(view)
    width = filter_width(footprint)
    number = textured.of_triangle[view.samples.triangle]
    light = np.empty((len(number), 3), dtype=np.float32)
    light[:] = light_of(PALE)
    for k, picture in enumerate(textured.pictures):
        rows = np.flatnonzero((number == k) & mapped)
        light[rows] = box_means(picture, place[rows], width[rows])
    lacking = np.flatnonzero((number == NOT_THERE) | ((number >= 0) & ~mapped))
    light[lacking] = _crossed(view, lacking)
    return light * shade[:, None]


def lacking_entry() -> tuple[Image, str]:
    """What shows no picture where one is asked for, for a key."""
    height, width = 26, 44
    row, column = np.divmod(np.arange(height * width, dtype=np.int32), width)
    pixel = row * _SIDE + column  # hatched as in a view
    striped = hatch(pixel, _SIDE) ^ hatch(pixel, _SIDE, falling=True)
    return framed(
        srgb_from_linear(_lacking_light(striped)).reshape(height, width, 3)
    ), "its picture is not to be had, or it has no UVs"


def _crossed(view: ViewBuffer, rows: npt.NDArray[np.int64]) -> Floats32:
    pixel, width = view.samples.pixel[rows], view.samples.width
    striped = hatch(pixel, width) ^ hatch(pixel, width, falling=True)
    return _lacking_light(striped)


def _lacking_light(striped: BoolArray) -> Floats32:
    strength = np.where(striped, np.float32(1), np.float32(0.6))
    return np.asarray(light_of(_LACKING) * strength[:, None], dtype=np.float32)


def box_means(picture: TextureSums, place: Floats32, width: Floats32) -> Floats32:
    """(S, 3) mean light of boxes of `width` (S, 2) about `place` (S, 2), both in UVs.

    Texels are squares of one colour; a box takes its exact share of each.
    """
    size = np.array([picture.sums.shape[1] - 1, picture.sums.shape[0] - 1])
    width = np.minimum(width, np.float32(64))  # farther off, a pixel holds the whole picture
    turns = np.floor(place)
    low = (place - turns - width * np.float32(0.5)).astype(np.float64) * size
    high = low + width.astype(np.float64) * size
    (x0, y0), (x1, y1) = low.T, high.T
    total = _up_to(picture.sums, x1, y1) + _up_to(picture.sums, x0, y0)
    total -= _up_to(picture.sums, x0, y1)
    total -= _up_to(picture.sums, x1, y0)
    area = (x1 - x0) * (y1 - y0)
    return np.asarray(np.maximum(total / area[:, None], 0), dtype=np.float32)


def _up_to(sums: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """(S, 3) the picture, repeated for ever, summed from its corner to a place in texels."""
    rows, columns = sums.shape[0] - 1, sums.shape[1] - 1
    over, up = np.floor(x / columns), np.floor(y / rows)
    within_x, within_y = x - over * columns, y - up * rows
    total = _within(sums, within_x, within_y)
    beyond = np.flatnonzero((over != 0) | (up != 0))
    if len(beyond):
        a, b = within_x[beyond], within_y[beyond]
        i, j = over[beyond, None], up[beyond, None]
        edge_x, edge_y = np.full_like(a, columns), np.full_like(b, rows)
        total[beyond] += i * _within(sums, edge_x, b) + j * _within(sums, a, edge_y)
        total[beyond] += i * j * sums[-1, -1]
    return total


def _within(sums: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Sums at places between the texels' corners, linear in both directions, as they are."""
    stride = sums.shape[1]
    column = np.minimum(x.astype(np.int64), stride - 2)
    row = np.minimum(y.astype(np.int64), sums.shape[0] - 2)
    fx, fy = (x - column)[:, None], (y - row)[:, None]
    flat, at = sums.reshape(-1, 3), row * stride + column
    low = _between(flat, at, fx)
    high = _between(flat, at + stride, fx)
    high -= low
    high *= fy
    low += high
    return low


def _between(flat: FloatArray, at: npt.NDArray[np.int64], share: FloatArray) -> FloatArray:
    """Rows, and so much of the way to the next."""
    first, step = np.take(flat, at, axis=0), np.take(flat, at + 1, axis=0)
    step -= first
    step *= share
    first += step
    return first
