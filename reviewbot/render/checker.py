"""The checker: a two-tone board in UV space, from which stretch, turn and mirroring are read.

Our own board: plain cells of a known number of texels, and in every fourth a small pennant whose
pole points along V and whose flag flies along U. Turned UVs turn it; mirrored ones fly it
backwards. A parallel view is affine in each triangle, so a pixel's footprint in UV space is exact;
the board is averaged in closed form over a box of its spread, and fades to its mean where cells
get too fine to see.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reviewbot.geometry.rows import rows_at
from reviewbot.mesh import BoolArray, IndexArray
from reviewbot.render.clay import hatch
from reviewbot.render.colours import Rgb, light_of
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer

LIGHT_CELL: Rgb = (236, 233, 226)
DARK_CELL: Rgb = (104, 116, 128)
PENNANT: Rgb = (0, 92, 148)
UNMAPPED: Rgb = (176, 176, 176)
# The pennant within its cell, 0 to 1: a pole, and a flag with its point to the right.
_POLE = ((0.30, 0.18), (0.38, 0.82))
_FLAG = ((0.38, 0.82), (0.38, 0.46), (0.78, 0.64))


def checker_light(view: ViewBuffer, shade: Floats32, *, cells: float) -> Floats32:
    """(S, 3) float32 light: the board on the form, `cells` of them along a tile's side.

    shade  (S,) as of `clay.form_shade`

    Mirrored faces are hatched, unmapped ones grey and hatched crosswise.
    """
    mapped, place, footprint = uv_footprints(view)
    board = _board_light(place * np.float32(cells), footprint * np.float32(cells)).T
    samples = view.samples
    striped = is_mirrored(view, footprint) & mapped & hatch(samples.pixel, samples.width)
    board *= np.where(striped, np.float32(0.35) * shade, shade)
    bare = np.flatnonzero(~mapped)
    board[:, bare] = unmapped_light(samples.pixel[bare], samples.width) * shade[bare]
    return board.T


def unmapped_light(pixel: IndexArray, width: int) -> Floats32:
    """(3, N) light of samples without UVs in pixels of a picture: grey, hatched crosswise."""
    crossed = hatch(pixel, width) ^ hatch(pixel, width, falling=True)
    strength = np.where(crossed, np.float32(1), np.float32(0.6))
    return light_of(UNMAPPED)[:, None] * strength


def uv_footprints(view: ViewBuffer) -> tuple[BoolArray, Floats32, Floats32]:
    """Where samples lie in UV space and how far a pixel reaches there.

    returns  mapped (S,) bool; uv (S, 2) float32, 0 where unmapped; footprint (S, 2, 2) float32,
             [:, 0] the step of one pixel along x, [:, 1] along y
    """
    samples, scene = view.samples, view.scene
    index = rows_at(scene.uv, samples.triangle)
    mapped = index[:, 0] >= 0
    place = np.zeros((2, len(index)), dtype=np.float32)
    footprint = np.zeros((2, 2, len(index)), dtype=np.float32)
    if not len(scene.uvs):
        return mapped, place.T, footprint.transpose(2, 0, 1)
    first, second, third = (rows_at(scene.uvs, index[:, k]) for k in range(3))
    slopes = samples.slopes.take(samples.plane, axis=-1)
    for axis in (0, 1):
        place[axis] = first[:, axis]
        for k, corner in ((0, second), (1, third)):
            side = (corner[:, axis] - first[:, axis]).astype(np.float32)
            place[axis] += samples.bary[:, k + 1] * side
            for step in (0, 1):
                footprint[step, axis] += slopes[k, step] * side
    bare = np.flatnonzero(~mapped)
    place[:, bare], footprint[..., bare] = 0, 0
    return mapped, place.T, footprint.transpose(2, 0, 1)


def is_mirrored(view: ViewBuffer, footprint: Floats32) -> BoolArray:
    """(S,) bool: the UVs run clockwise where the face, seen from outside, runs the other way."""
    turn = footprint[:, 0, 0] * footprint[:, 1, 1] - footprint[:, 0, 1] * footprint[:, 1, 0]
    return np.asarray((turn != 0) & ((turn < 0) == view.samples.is_clockwise))


def cells_for(views: Sequence[ViewBuffer], *, texture_size: int, pixels: float = 11.0) -> int:
    """How many cells a tile's side should have, so that most are seen about `pixels` wide.

    A power of two that divides into at least 8 texels a cell; the same for all views given.
    """
    reaches = []
    for view in views:
        mapped, _, footprint = uv_footprints(view)
        steps = footprint[mapped]
        turn = steps[:, 0, 0] * steps[:, 1, 1] - steps[:, 0, 1] * steps[:, 1, 0]
        reaches.append(np.sqrt(np.abs(turn)))
    reach = np.concatenate([np.empty(0, np.float32), *reaches])
    reach = reach[reach > 0]
    if not len(reach):
        return 16
    wanted = 1.0 / (pixels * float(np.median(reach)))
    finest = max(2, texture_size // 8)
    return int(2 ** np.clip(np.round(np.log2(wanted)), 1, np.log2(finest)))


def _board_light(place: Floats32, footprint: Floats32) -> Floats32:
    """(S, 3) light of the board at a place in cells, averaged over a footprint in cells."""
    width = filter_width(footprint)
    dark, flown = board_darkness(place, width), _pennant_cover(place, width)
    light = np.empty((3, len(dark)), dtype=np.float32)
    tones = (light_of(colour) for colour in (LIGHT_CELL, DARK_CELL, PENNANT))
    for k, (pale, deep, pennant) in enumerate(zip(*tones, strict=True)):
        light[k] = pale + (deep - pale) * dark
        light[k] += flown * (pennant - light[k])
    return light.T


def filter_width(footprint: Floats32) -> Floats32:
    """(S, 2) sides of the box along U and V whose spread is that of a pixel's footprint.

    A pixel covers a parallelogram; along each axis its variance is the sum over its two sides.
    """
    width = np.sqrt(footprint[:, 0] ** 2 + footprint[:, 1] ** 2)
    return np.asarray(np.maximum(width, np.float32(1e-5)), dtype=np.float32)


def board_darkness(place: Floats32, width: Floats32) -> Floats32:
    """(S,) share of dark cells in a box of `width` (S, 2) cells about `place` (S, 2), exactly.

    Cells whose column and row add up to an odd number are dark.
    """
    wave = _mean_square_wave(place[:, 0], width[:, 0]) * _mean_square_wave(place[:, 1], width[:, 1])
    return np.asarray(0.5 - 0.5 * wave, dtype=np.float32)


def _mean_square_wave(at: Floats32, width: Floats32) -> Floats32:
    """Mean over an interval of the wave that is 1 on [0, 1), -1 on [1, 2), and so on."""
    half = width * np.float32(0.5)
    mean = (_wave_integral(at + half) - _wave_integral(at - half)) / width
    return np.asarray(mean, dtype=np.float32)


def _wave_integral(at: Floats32) -> Floats32:
    within = at - 2 * np.floor(at * np.float32(0.5))
    return np.asarray(1 - np.abs(within - 1), dtype=np.float32)


def _pennant_cover(place: Floats32, width: Floats32) -> Floats32:
    """(S,) share covered by a pennant: in every fourth cell, gone where cells are too fine."""
    pair = np.floor(place * np.float32(0.5)) * 2
    within = place - pair
    rows = np.flatnonzero((within[:, 0] < 1) & (within[:, 1] < 1))
    x, y = within.T.take(rows, axis=1)
    across, down = width.T.take(rows, axis=1)
    (left, low), (right, high) = _POLE
    pole = np.maximum(np.maximum(left - x, x - right), np.maximum(low - y, y - high))
    distance = np.minimum(pole, _flag_distance(x, y))
    cover = np.zeros(len(place), dtype=np.float32)
    cover[rows] = np.clip(0.5 - distance / np.sqrt(across * down), 0, 1)
    cover[rows] *= np.clip(1.6 - 4.0 * np.maximum(across, down), 0, 1)
    return cover


def _flag_distance(x: Floats32, y: Floats32) -> Floats32:
    """Signed distance to the flag's three sides' half-planes, below 0 within."""
    distance = np.full_like(x, -np.inf)
    for (ax, ay), (bx, by) in zip(_FLAG, (*_FLAG[1:], _FLAG[0]), strict=True):
        length = float(np.hypot(bx - ax, by - ay))
        outwards = ((ay - by) * (x - ax) + (bx - ax) * (y - ay)) / -length
        distance = np.maximum(distance, outwards.astype(np.float32))
    return distance
