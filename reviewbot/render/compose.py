"""From shaded samples to a picture, blended in linear light over a backdrop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, IndexArray
from reviewbot.render.colours import BACKDROP, Image, Rgb, light_of, srgb_from_linear
from reviewbot.render.samples import Floats32, Samples

S = TypeVar("S", bound=np.generic)


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewImage:
    """One view of one version: the clay picture (H, W, 3) and what of it is covered (H, W)."""

    name: str
    clay: Image
    mask: BoolArray


def blended(samples: Samples, light: Floats32, background: Floats32) -> Floats32:
    """(H, W, 3) float32 light of a picture.

    light       (S, 3) of each sample
    background  (3,) or (H, W, 3) light where nothing is seen
    """
    canvas = (
        background.reshape(-1, 3).copy() if background.ndim > 1 else _plain(samples, background)
    )
    pixel, lit = _lit(samples, light, canvas)
    _put(canvas, pixel, lit)
    return canvas.reshape(samples.height, samples.width, 3)


def _plain(samples: Samples, colour: npt.NDArray[S]) -> npt.NDArray[S]:
    """(P, 3) one colour (3,) in all pixels."""
    row = np.tile(colour, samples.width)  # long runs are filled far quicker than runs of three
    return np.tile(row, samples.height).reshape(-1, 3)


def _put(picture: npt.NDArray[S], pixel: npt.NDArray[np.intp], colours: npt.NDArray[S]) -> None:
    """Colours (3, N) into some pixels of a picture (P, 3)."""
    for k in range(3):  # a channel at a time is far quicker than runs of three
        picture[:, k][pixel] = colours[k]


def _lit(
    samples: Samples, light: Floats32, background: Floats32
) -> tuple[npt.NDArray[np.intp], Floats32]:
    """Pixels in which something is seen, (N,), and their light (3, N) over a background (P, 3)."""
    whole = int(np.count_nonzero(samples.weight == 1))  # they come first
    weight = samples.weight[whole:]
    shared, slot = _slots(samples.pixel[whole:])
    missing = np.float32(1) - np.bincount(slot, weights=weight).astype(np.float32)
    lit = np.empty((3, whole + len(shared)), dtype=np.float32)
    for k in range(3):
        lit[k, :whole] = light[:whole, k]
        covered = np.bincount(slot, weights=light[whole:, k] * weight)
        lit[k, whole:] = missing * background[shared, k] + covered
    return np.concatenate([samples.pixel[:whole], shared]).astype(np.intp), lit


def _slots(pixel: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Pixels that come in a run, once each, and which of them each entry belongs to."""
    new = np.ones(len(pixel), dtype=bool)
    new[1:] = pixel[1:] != pixel[:-1]
    return pixel[new], np.asarray(np.cumsum(new) - 1, dtype=np.int32)


def picture(samples: Samples, light: Floats32, background: Rgb = BACKDROP) -> Image:
    """(H, W, 3) uint8 sRGB."""
    image = _plain(samples, np.array(background, dtype=np.uint8))
    # Often less than half of a picture is covered: the rest need not be encoded.
    plain = np.broadcast_to(light_of(background), image.shape)
    pixel, lit = _lit(samples, light, plain)
    _put(image, pixel, srgb_from_linear(lit))
    return image.reshape(samples.height, samples.width, 3)


def mask(samples: Samples) -> BoolArray:
    """(H, W) bool: pixels of which at least half is covered."""
    pixels = samples.height * samples.width
    share = np.bincount(samples.pixel, weights=samples.weight, minlength=pixels)
    return np.asarray(share >= 0.5).reshape(samples.height, samples.width)
