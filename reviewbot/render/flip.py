"""FLIP: how different two pictures look when flipped to and fro.

Andersson, Nilsson, Akenine-Möller, Oskarsson, Åström & Fairchild 2020, "FLIP: A Difference
Evaluator for Alternating Images", whose figures and steps these are: colours are blurred as the
eye blurs them and compared, and counted for more where an edge or a point differs. All its filters
are sums of products of one along each axis, and are worked out so.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from reviewbot.mesh import FloatArray
from reviewbot.render.colours import Image, light_of_image
from reviewbot.render.samples import Floats32

_PIXELS_PER_DEGREE = 0.7 * (3840 / 0.7) * np.pi / 180  # a screen 0.7 m wide, from 0.7 m away
# Light of sRGB's primaries to XYZ under D65.
_XYZ = np.array(
    [
        (10135552 / 24577794, 8788810 / 24577794, 4435075 / 24577794),
        (2613072 / 12288897, 8788810 / 12288897, 887015 / 12288897),
        (1425312 / 73733382, 8788810 / 73733382, 70074185 / 73733382),
    ]
)
_OF_WHITE = _XYZ / _XYZ.sum(axis=1, keepdims=True)  # light to shares of white's X, Y and Z
# The eye's sensitivity to contrast: of each channel (lightness, red to green, blue to yellow) the
# Gaussians by their strength and their spread in square degrees.
_SENSITIVITY = (((1.0, 0.0047),), ((1.0, 0.0053),), ((34.1, 0.04), (13.5, 0.025)))
_WIDEST = 0.04
_FEATURE_WIDTH = 0.082  # degrees, of the edges and points that the eye looks for
_COLOUR_POWER, _FEATURE_POWER = 0.7, 0.5
# Differences of colour up to this share of the largest take up this share of the scale.
_SMALL, _SMALL_SHARE = 0.4, 0.95


def flip_map(before: Image, after: Image) -> Floats32:
    """(H, W) float32, 0 where alike, 1 at most.

    before, after  (H, W, 3) uint8 sRGB, seen at 67 pixels a degree: a desktop screen at 0.7 m
    """
    pair = np.stack([before, after]).transpose(3, 0, 1, 2)
    light = light_of_image(np.ascontiguousarray(pair))
    x, y, z = _mixed(_OF_WHITE, light)
    colour = _colour_difference(x - y, y, y - z)
    return np.asarray(colour ** (1 - _feature_difference(y)), dtype=np.float32)


def _mixed(matrix: FloatArray, channels: Sequence[Floats32] | Floats32) -> list[Floats32]:
    """Sums of three channels, a row of the matrix each."""
    return [
        np.float32(row[0]) * channels[0]
        + np.float32(row[1]) * channels[1]
        + np.float32(row[2]) * channels[2]
        for row in matrix
    ]


def _colour_difference(red: Floats32, lightness: Floats32, blue: Floats32) -> Floats32:
    """(H, W) of the two pictures (2, H, W), 0 to 1: what the eye's blur leaves of it."""
    lightness, red, blue = (
        _blurred(channel, gaussians)
        for channel, gaussians in zip((lightness, red, blue), _SENSITIVITY, strict=True)
    )
    seen = [red + lightness, lightness, lightness - blue]
    shown = [np.clip(c, 0, 1) for c in _mixed(np.linalg.inv(_OF_WHITE), seen)]
    apart = _apart(_even_steps(shown))
    # The two colours that lie furthest apart.
    green_and_blue = np.array([(0, 0), (1, 0), (0, 1)], dtype=np.float32)
    largest = _apart(_even_steps(green_and_blue)).item()
    steps = (0.0, _SMALL * largest, largest)
    return np.interp(apart, steps, (0.0, _SMALL_SHARE, 1.0)).astype(np.float32)


def _blurred(channel: Floats32, gaussians: Sequence[tuple[float, float]]) -> Floats32:
    """A channel (2, H, W) as the eye's sensitivity to contrast leaves it."""
    furthest = np.ceil(3 * _deviation(_WIDEST))
    weighted = []
    for strength, spread in gaussians:
        deviation = _deviation(spread)
        bell = _bell(deviation, min(furthest, np.ceil(6 * deviation)))
        weighted.append((strength * np.sqrt(np.pi / spread) * bell.sum() ** 2, bell / bell.sum()))
    whole = sum(weight for weight, _ in weighted)
    blurred = np.zeros_like(channel)
    for weight, bell in weighted:
        blurred += np.float32(weight / whole) * _filtered(_filtered(channel, bell, 1), bell, 2)
    return blurred


def _bell(deviation: float, reach: float) -> FloatArray:
    """(2 reach + 1,) a Gaussian of height 1 at whole pixels, `reach` of them to either side."""
    at = np.arange(-reach, reach + 1)
    return np.asarray(np.exp(-(at**2) / (2 * deviation**2)))


def _deviation(spread: float) -> float:
    """Standard deviation in pixels of a Gaussian given by its spread in square degrees."""
    return float(np.sqrt(spread / (2 * np.pi**2)) * _PIXELS_PER_DEGREE)


def _filtered(pictures: Floats32, weights: FloatArray, axis: int) -> Floats32:
    return np.asarray(ndimage.correlate1d(pictures, weights, axis=axis, mode="nearest"))


def _even_steps(light: Sequence[Floats32] | Floats32) -> tuple[Floats32, Floats32, Floats32]:
    """Lightness and two hues by CIE L*a*b*, the hues the weaker the darker (Hunt's effect)."""
    linear = np.float32((29 / 6) ** 2 / 3)
    x, y, z = (
        np.where(share > (6 / 29) ** 3, np.cbrt(share), share * linear + np.float32(4 / 29))
        for share in _mixed(_OF_WHITE, light)
    )
    lightness = 116 * y - 16
    return lightness, 5 * lightness * (x - y), 2 * lightness * (y - z)


def _apart(steps: tuple[Floats32, Floats32, Floats32]) -> Floats32:
    """How far the first picture's colours lie from the second's, large distances drawn in."""
    lightness, first, second = (step[0] - step[1] for step in steps)
    distance = np.abs(lightness) + np.hypot(first, second)
    return np.asarray(distance ** np.float32(_COLOUR_POWER))


def _feature_difference(lightness: Floats32) -> Floats32:
    """(H, W) of the two pictures (2, H, W), 0 to 1: edges or points that only one of them has."""
    deviation = 0.5 * _FEATURE_WIDTH * _PIXELS_PER_DEGREE
    reach = np.ceil(3 * deviation)
    bell, at = _bell(deviation, reach), np.arange(-reach, reach + 1)
    along_rows, along_columns = (_filtered(lightness, bell / bell.sum(), axis) for axis in (2, 1))
    differences = []
    for shape in (-at * bell, ((at / deviation) ** 2 - 1) * bell):  # an edge, a point
        weights = shape / np.where(shape < 0, -shape[shape < 0].sum(), shape[shape > 0].sum())
        across, down = _filtered(along_columns, weights, 2), _filtered(along_rows, weights, 1)
        strength = np.hypot(across, down)
        differences.append(np.abs(strength[0] - strength[1]))
    furthest = np.maximum(*differences) * np.float32(np.sqrt(0.5))
    return np.asarray(furthest**_FEATURE_POWER)
